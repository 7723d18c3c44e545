"""Damage apart from lateness: what of it is minor, what it costs, and what of it no plan can change.

The outlook's hazard counts all trouble on record. Its share that is minor (chipped and the like: the tool goes on
working) comes from the site's own lives by tool kind, (minor + 1) / (all + 2), which is one half where nothing is on
record: our own choice, no published source. Major damage (cracked, seized, lost ...) costs the site's price once, so
much a metre until it is found at the next stop, and the tool before its time. Minor damage costs its price, nothing by
default, and the tool stays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearplan.site.records import Costs, Site

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Damage:
    """Prices, and the share of damage that is minor by tool kind."""

    major: float
    major_per_m: float
    minor: float
    minor_share: Mapping[str, float]

    def share(self, kind: str) -> float:
        return self.minor_share.get(kind, 0.5)


def damage_of(site: Site) -> Damage:
    """From the site's ``[costs]`` and the troubles of its lives."""
    costs = site.stops.costs if site.stops else Costs(standstill_per_hour=0.0, late_tool=0.0)
    return Damage(
        major=costs.late_tool if costs.major_damage is None else costs.major_damage,
        major_per_m=costs.late_tool_per_m if costs.major_damage_per_m is None else costs.major_damage_per_m,
        minor=costs.minor_damage,
        minor_share=_shares(site, costs.minor_conditions),
    )


def _shares(site: Site, minor: tuple[str, ...]) -> dict[str, float]:
    from wearplan.history import lives

    seen: dict[str, list[bool]] = {t.kind: [] for t in site.wheel.tool_types}
    for life in lives(site) if site.inspections else ():
        if life.trouble_condition is not None:
            seen.setdefault(life.kind, []).append(life.trouble_condition in minor)
    return {kind: (sum(found) + 1.0) / (len(found) + 2.0) for kind, found in seen.items()}


def is_major(site: Site, condition: str | None) -> bool:
    """Whether trouble of that word ends a tool's work; trouble without a word counts as major."""
    minor = site.stops.costs.minor_conditions if site.stops else ()
    return condition not in minor
