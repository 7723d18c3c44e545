"""Which share of its path a tool spends in each unit, and which share of the volume each unit makes up.

Plain geometry. In a layered face a tool on radius ``r`` is above a level ``h`` for ``arccos(h / r) / pi`` of its
circle, so that an outer tool meets a hard invert which the centre never touches; volumes come from the areas of
circular segments of the whole face.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearplan.site.records import Section

Array = NDArray[np.float64]


def circle_above(level_m: ArrayLike, radius_m: ArrayLike) -> Array:
    """Share of a circle's line of ``radius_m`` that lies above ``level_m`` over its centre."""
    level, radius = np.broadcast_arrays(np.asarray(level_m, float), np.asarray(radius_m, float))
    # a tool on the axis itself is a point: above, below, or split in halves
    ratio = np.divide(level, radius, out=np.array(np.sign(level)), where=radius > 0)
    return np.asarray(np.arccos(np.clip(ratio, -1.0, 1.0)) / np.pi)


def disc_above(level_m: ArrayLike, radius_m: ArrayLike) -> Array:
    """Share of a disc's area of ``radius_m`` that lies above ``level_m`` over its centre."""
    level = np.asarray(level_m, float)
    ratio = np.clip(level / np.asarray(radius_m, float), -1.0, 1.0)
    return np.asarray((np.arccos(ratio) - ratio * np.sqrt(1.0 - ratio**2)) / np.pi)


def _column(units: Sequence[str], code: str) -> int:
    try:
        return list(units).index(code)
    except ValueError:
        raise ValueError(f"unit {code} is not among {', '.join(units)}") from None


def _mix(section: Section, units: Sequence[str]) -> Array:
    shares = np.zeros(len(units))
    for code, share in section.mix.items():
        shares[_column(units, code)] += share
    total = shares.sum()
    return shares / total if total > 0 else shares


def _layers(section: Section, units: Sequence[str], above: Sequence[Array], shape: tuple[int, ...]) -> Array:
    """Shares ``shape + (U,)`` from the share above each layer's top (the first being 0, at the crown)."""
    tops = [*above, np.ones(shape)]
    shares = np.zeros((*shape, len(units)))
    for index, stratum in enumerate(section.strata):
        upper, lower = tops[index], np.maximum(tops[index + 1], tops[index])
        shares[..., _column(units, stratum.unit)] += lower - upper
        tops[index + 1] = lower
    return shares


def path_shares(section: Section, *, track_radius_mm: ArrayLike, units: Sequence[str]) -> Array:
    """Share of the path in each unit for tools on the given radii.

    Parameters
    ----------
    section
        With a mix or with strata, from the crown down.
    track_radius_mm
        ``(R,)``.
    units
        Codes of the U axis.

    Returns
    -------
    ``(R, U)``; rows sum to 1, or to 0 where the section is not cut.

    Raises
    ------
    ValueError
        If the section names a unit that is not among ``units``.
    """
    radius = np.atleast_1d(np.asarray(track_radius_mm, float)) / 1000.0
    if not section.cut:
        return np.zeros((radius.size, len(units)))
    if section.mix:
        return np.tile(_mix(section, units), (radius.size, 1))
    above = [
        np.zeros(radius.size) if index == 0 or stratum.top_m is None else circle_above(stratum.top_m, radius)
        for index, stratum in enumerate(section.strata)
    ]
    return _layers(section, units, above, (radius.size,))


def volume_shares(section: Section, *, bore_radius_m: float, units: Sequence[str]) -> Array:
    """Share of the excavated volume in each unit, ``(U,)``; sums to 1, or to 0 where the section is not cut."""
    if not section.cut:
        return np.zeros(len(units))
    if section.mix:
        return _mix(section, units)
    above = [
        np.zeros(()) if index == 0 or stratum.top_m is None else disc_above(stratum.top_m, bore_radius_m)
        for index, stratum in enumerate(section.strata)
    ]
    return _layers(section, units, above, ())
