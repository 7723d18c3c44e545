"""Published tables the tests compare with."""

import os
from pathlib import Path

import numpy as np
import pytest

_CYCLES = np.array([2, 5, 10, 20, 50, 100, 200, 500], float)
_SCAR_MICRONS = np.array(
    [
        [3.168, 4.063, 4.453, 4.744, 5.838, 6.786, 7.737, 9.593],
        [2.727, 3.449, 3.79, 3.87, 5.359, 5.67, 6.315, 8.417],
        [2.078, 2.655, 3.136, 3.289, 3.958, 4.572, 5.69, 6.644],
        [2.633, 3.498, 4.013, 4.012, 5.192, 6.123, 6.705, 8.512],
        [7.538, 7.806, 8.159, 10.637, 12.621, 13.323, 12.869, 14.842],
        [7.497, 8.08, 9.779, 10.928, 14.797, 16.116, 17.334, 20.179],
        [6.978, 8.896, 9.39, 11.148, 12.447, 13.538, 16.674, 17.319],
        [7.805, 8.889, 9.996, 11.524, 13.697, 16.176, 16.233, 21.041],
        [12.53, 15.38, 17.21, 20.48, 24.1, 26.97, 29.44, 37.87],
        [10.96, 13.87, 16.07, 18.56, 22.22, 27.82, 31.04, 36.63],
        [13.05, 15.12, 18.58, 20.18, 23.9, 29.71, 31.47, 39.65],
        [11.66, 13.68, 16.71, 17.52, 22.3, 25.28, 31.99, 38.16],
    ]
)  # fmt: skip
SLIDING_METAL_WEAR = np.array(
    [[_SCAR_MICRONS[unit, k], 101 + unit, _CYCLES[k], (10, 50, 100)[unit // 4]] for unit in range(12) for k in range(8)]
)
"""Scar width (microns), specimen, cycles (hundreds), load (g): Meeker & Escobar 1998, *Statistical Methods for
Reliability Data*, sliding metal wear."""

MILLING_RATES = (0.006490, 0.012149, 0.007292, 0.013795, 0.031429, 0.033846, 0.049231, 0.053333)


def _data(name: str) -> Path:
    path = Path(os.environ.get("WEARPLAN_TEST_DATA", "")) / name
    if "WEARPLAN_TEST_DATA" not in os.environ or not path.exists():
        pytest.skip(f"{name} is not at hand")
    return path


def gaas_laser() -> np.ndarray:
    """Hours, then 15 units' per cent increase of operating current."""
    return np.loadtxt(_data("gaas_laser") / "gaaslasers_data.txt", delimiter=",")


def milling_increments() -> np.ndarray:
    """Columns case, material, feed, depth, minutes, growth of flank wear in mm."""
    return np.loadtxt(_data("nasa_milling_vb") / "vb_increments.csv", delimiter=",", skiprows=1)
