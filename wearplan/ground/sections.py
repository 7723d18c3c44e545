"""Units and sections along the drive."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearplan.site.records import Ground, Section, Site, Unit


def units_in(section: Section) -> tuple[str, ...]:
    """Codes of the units a section names."""
    return tuple(section.mix) if section.mix else tuple(stratum.unit for stratum in section.strata)


def unit_codes(site: Site) -> tuple[str, ...]:
    """All units of the newest ground in its order, then those only older grounds know: the U axis everywhere.

    Older grounds count because a backtest looks at the drive as it was known then.
    """
    codes: dict[str, None] = {}
    for ground in reversed(site.grounds):
        codes.update(dict.fromkeys(unit.code for unit in ground.units))
        for section in ground.sections:
            codes.update(dict.fromkeys(units_in(section)))
    return tuple(codes)


def unit_of(site: Site, code: str) -> Unit:
    """What is newest known of a unit; a bare one where it is only named in a section. `KeyError` if never named."""
    for ground in reversed(site.grounds):
        for unit in ground.units:
            if unit.code == code:
                return unit
    if code in unit_codes(site):
        return Unit(code=code, name=code)
    raise KeyError(code)


def section_starts(ground: Ground) -> NDArray[np.float64]:
    """Where each section begins, ``(S,)`` in driven metres."""
    return np.array([section.from_m for section in ground.sections], dtype=float)


def section_index(ground: Ground, driven_m: ArrayLike) -> NDArray[np.intp]:
    """Which section holds each point; before the first and beyond the last, those themselves."""
    found = np.searchsorted(section_starts(ground), np.asarray(driven_m, float), side="right") - 1
    return np.asarray(np.clip(found, 0, len(ground.sections) - 1))


def section_at(ground: Ground, driven_m: float) -> Section:
    """The section that begins at or before ``driven_m``."""
    return ground.sections[int(section_index(ground, driven_m))]
