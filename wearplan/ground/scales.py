"""From one abrasivity scale to another.

The bands were typed in **from memory** of the paper named and have not been read again in it. They start an estimate;
no result of the program counts them as measured.
"""

from __future__ import annotations

import numpy as np

LAC_EDGES = (0.0, 50.0, 100.0, 250.0, 500.0, 1250.0, 2000.0)
CAI_EDGES = (0.0, 0.3, 0.5, 1.0, 2.0, 4.0, 6.0)
"""Edges of the bands held equivalent in Käsling & Thuro 2010. From memory; that a single line CAI = k LAC exists is
disputed, and memory holds values of k that differ by a factor of two."""


def cai_from_lac(lac_g_per_t: float) -> float:
    """An estimate of the Cerchar index by interpolation between the equivalent band edges (from memory).

    Beyond the last edge it goes on with the slope of the last band.
    """
    last = (CAI_EDGES[-1] - CAI_EDGES[-2]) / (LAC_EDGES[-1] - LAC_EDGES[-2])
    beyond = max(lac_g_per_t - LAC_EDGES[-1], 0.0) * last
    return float(np.interp(lac_g_per_t, LAC_EDGES, CAI_EDGES)) + beyond
