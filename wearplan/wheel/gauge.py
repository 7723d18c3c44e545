"""The overcut that worn gauge tools leave around the shield."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearplan.site.records import Wheel
from wearplan.wheel.layout import Layout


def reach_lost_mm(*, wear_mm: ArrayLike, tilt_deg: ArrayLike) -> NDArray[np.float64]:
    """How much less far from the axis a tilted tool cuts after radial wear.

    Plain geometry: the tool points ``tilt`` degrees outward from straight ahead, so wear along that direction takes
    ``sin(tilt)`` of itself from the radius. A gauge tool without a tilt on record is taken to lose all of it.
    """
    tilt = np.radians(np.asarray(tilt_deg, float))
    share = np.where(np.asarray(tilt_deg, float) == 0.0, 1.0, np.sin(np.abs(tilt)))
    return np.asarray(np.asarray(wear_mm, float) * share)


def overcut_left_mm(wheel: Wheel, layout: Layout, *, wear_mm: ArrayLike) -> NDArray[np.float64] | None:
    """Radial overcut left beyond the shield.

    The bore is cut by whichever gauge tool still reaches furthest; copy tools, which move, are left out. New tools on
    the outermost track are taken to cut the bore on record.

    Parameters
    ----------
    wheel, layout
        Where the tools stand.
    wear_mm
        ``(..., P)``, radial wear over the layout's positions.

    Returns
    -------
    Array ``(...)`` in mm, negative where the bore is narrower than the shield; None if the site gives no shield
    diameter or has no gauge tool.
    """
    if wheel.shield_diameter_m is None:
        return None
    wear = np.asarray(wear_mm, float)
    gauge = np.array(
        [zone == "gauge" and kind != "copy tool" for zone, kind in zip(layout.zones, layout.kinds, strict=True)]
    )
    if not gauge.any():
        return None
    radius = layout.track_radius_mm[gauge]
    tilt = np.array([position.tilt_deg for position in layout.positions])[gauge]
    reach_new = radius + (500.0 * wheel.bore_diameter_m - radius.max())
    reach = reach_new - reach_lost_mm(wear_mm=wear[..., gauge], tilt_deg=tilt)
    return np.asarray(reach.max(axis=-1) - 500.0 * wheel.shield_diameter_m)
