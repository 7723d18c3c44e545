"""Writes `sample_wheel/` anew."""

from pathlib import Path

from tests.simulate.sample.build import write

if __name__ == "__main__":
    write(Path(__file__).resolve().parents[3] / "sample_wheel")
