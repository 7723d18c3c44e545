"""Path, turns and speed of a tool on a turning, advancing wheel.

All of it is plain geometry of the helix: a tool on track radius ``r`` travels ``hypot(2 pi r, p)`` in one turn of
the wheel at penetration ``p``. Several tools on one track share the penetration, not the path: each travels it whole.
Every function takes numbers or arrays and broadcasts as numpy does; nothing is checked, so ``nan`` stays ``nan``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def turns(*, advance_m: ArrayLike, penetration_mm: ArrayLike) -> Array:
    """Turns of the wheel needed for an advance at a penetration per turn."""
    return np.asarray(1000.0 * np.asarray(advance_m, float) / np.asarray(penetration_mm, float))


def penetration_mm(*, advance_m: ArrayLike, turns: ArrayLike) -> Array:
    """Penetration per turn; 0 where the wheel did not turn."""
    advance, count = np.broadcast_arrays(np.asarray(advance_m, float), np.asarray(turns, float))
    return np.asarray(np.divide(1000.0 * advance, count, out=np.zeros(count.shape), where=count > 0))


def path_m(*, turns: ArrayLike, track_radius_mm: ArrayLike, penetration_mm: ArrayLike = 0.0) -> Array:
    """Path of a tool on its helix in metres; with penetration 0 the path of idle turns."""
    circle = 2.0 * np.pi * np.asarray(track_radius_mm, float)
    return np.asarray(np.asarray(turns, float) * np.hypot(circle, np.asarray(penetration_mm, float)) / 1000.0)


def face_area_m2(*, bore_diameter_m: ArrayLike) -> Array:
    """Area of the bored face."""
    return np.asarray(np.pi / 4.0 * np.asarray(bore_diameter_m, float) ** 2)


def cutting_share(ccw_share: ArrayLike, cuts: str) -> Array:
    """Share of the boring turns in which a tool cuts.

    Parameters
    ----------
    ccw_share
        Share of the boring turns made counter-clockwise, seen from the machine.
    cuts
        ``both``, ``cw`` or ``ccw``.
    """
    share = np.asarray(ccw_share, float)
    if cuts == "ccw":
        return share
    if cuts == "cw":
        return np.asarray(1.0 - share)
    if cuts == "both":
        return np.ones_like(share)
    raise ValueError(f"cuts must be both, cw or ccw, not {cuts!r}")
