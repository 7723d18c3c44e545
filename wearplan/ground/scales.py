"""Abrasivity scales: class bands and a conversion between them.

Every band here was typed in **from memory** of the papers named and has not been read again in them. They serve to
put a word to a number and to start an estimate; no result of the program counts them as measured.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

STANDING = "from memory"


@dataclass(frozen=True, slots=True)
class Band:
    """Values from ``low`` up to, but not including, ``high``."""

    low: float
    high: float
    name: str


CAI_BANDS = (
    Band(0.1, 0.5, "extremely low"),
    Band(0.5, 1.0, "very low"),
    Band(1.0, 2.0, "low"),
    Band(2.0, 3.0, "medium"),
    Band(3.0, 4.0, "high"),
    Band(4.0, 5.0, "very high"),
    Band(5.0, float("inf"), "extremely high"),
)
"""Cerchar index, names of ISRM (Alber et al. 2014, doi 10.1007/s00603-013-0518-0); other standards name the same
number otherwise. From memory."""

LAC_BANDS = (
    Band(0.0, 50.0, "not abrasive"),
    Band(50.0, 100.0, "not very abrasive"),
    Band(100.0, 250.0, "slightly abrasive"),
    Band(250.0, 500.0, "medium abrasive"),
    Band(500.0, 1250.0, "very abrasive"),
    Band(1250.0, float("inf"), "extremely abrasive"),
)
"""LCPC coefficient in g/t (Thuro et al. 2007, ARMA-07-103; Käsling & Thuro 2010). From memory."""

LAC_EDGES = (0.0, 50.0, 100.0, 250.0, 500.0, 1250.0, 2000.0)
CAI_EDGES = (0.0, 0.3, 0.5, 1.0, 2.0, 4.0, 6.0)
"""Edges of the bands held equivalent in Käsling & Thuro 2010. From memory; that a single line CAI = k LAC exists is
disputed, and memory holds values of k that differ by a factor of two."""


def _class_of(bands: tuple[Band, ...], value: float) -> str:
    if not value >= 0:
        raise ValueError(f"an abrasivity cannot be {value}")
    for band in bands:
        if value < band.high:
            return band.name
    return bands[-1].name


def cai_class(cai: float) -> str:
    """Name of the band a Cerchar index falls in (from memory); `ValueError` below 0."""
    return _class_of(CAI_BANDS, cai)


def lac_class(lac_g_per_t: float) -> str:
    """Name of the band an LCPC coefficient falls in (from memory); `ValueError` below 0."""
    return _class_of(LAC_BANDS, lac_g_per_t)


def cai_from_lac(lac_g_per_t: float) -> float:
    """An estimate of the Cerchar index by interpolation between the equivalent band edges (from memory).

    Beyond the last edge it goes on with the slope of the last band.
    """
    last = (CAI_EDGES[-1] - CAI_EDGES[-2]) / (LAC_EDGES[-1] - LAC_EDGES[-2])
    beyond = max(lac_g_per_t - LAC_EDGES[-1], 0.0) * last
    return float(np.interp(lac_g_per_t, LAC_EDGES, CAI_EDGES)) + beyond


def lac_from_cai(cai: float) -> float:
    """The inverse of `cai_from_lac` (from memory)."""
    last = (LAC_EDGES[-1] - LAC_EDGES[-2]) / (CAI_EDGES[-1] - CAI_EDGES[-2])
    beyond = max(cai - CAI_EDGES[-1], 0.0) * last
    return float(np.interp(cai, CAI_EDGES, LAC_EDGES)) + beyond


def cai_rough_from_sawn(cai_sawn: float) -> float:
    """Cerchar index of a rough surface from that of a sawn one.

    0.99 CAI + 0.48, Käsling & Thuro 2010 (EUROCK, pp. 425-428); from memory, and not meant below about 0.5.
    """
    return 0.99 * cai_sawn + 0.48
