"""The invented drive that ships as `sample_wheel/`: made here from a known truth and a fixed seed.

``python -m tests.simulate.sample`` writes the folder again; it must come out the same byte by byte.
"""

from .build import SEED, Sample, build, texts

__all__ = ["SEED", "Sample", "build", "texts"]
