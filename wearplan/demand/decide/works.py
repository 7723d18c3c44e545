"""Worn tools sent to the works: how long that still pays before the end of the drive."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearplan.demand.decide.on_way import rough_looks, sure_saving
from wearplan.demand.decide.supply import Supply

NEVER_CUT = 1_000_000
MOST_CUTS = 5
"""Stops tried as the one from which worn tools are not sent any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LastSent:
    """From this day on worn tools are not sent to the works any more."""

    day: int
    saves: float
    spared: float
    """Expected number of rebuilds not paid."""
    sure: bool


def last_sent(supply: Supply) -> tuple[Supply, LastSent | None]:
    """From which stop on a worn tool is better not sent, since it comes back too late to be of use."""
    if not supply.sent.any():
        return supply, None
    looks = rough_looks(supply)
    found = _cuts(supply.half(), looks)
    day = min(found, key=lambda cut: (round(found[cut], 6), -cut))
    if day == NEVER_CUT:
        return supply, None
    best = replace(supply, send_until=day)
    saves = supply.rough(looks) - best.rough(looks)
    if saves <= max(supply.terms.order_cost, 0.05 * supply.terms.price):
        return supply, None
    spared = float((supply.rebuilt.sum(axis=1) - best.rebuilt.sum(axis=1)).mean())
    sure = sure_saving(supply, best, looks, saves)
    # whether it is to be done before the next look must not hang on the draws either
    others = [cut for cut in found if (cut < supply.terms.look_days) != (day < supply.terms.look_days)]
    if others and min(others, key=lambda cut: found[cut]) != NEVER_CUT:
        other = replace(supply, send_until=min(others, key=lambda cut: found[cut]))
        sure = sure and other.rough(looks) - best.rough(looks) > 0.2 * saves
    return best, LastSent(day=day, saves=saves, spared=spared, sure=sure)


def _cuts(supply: Supply, looks: list[int]) -> dict[int, float]:
    """Expected cost by the day from which nothing is sent: a few of the stops, and never."""
    stops = np.unique(np.median(supply.stops.day, axis=0).astype(int))
    some = stops[np.unique(np.linspace(0, len(stops) - 1, min(len(stops), MOST_CUTS)).astype(int))]
    days = [max(int(stop) - 1, 0) for stop in some]
    return {NEVER_CUT: supply.rough(looks), **{d: replace(supply, send_until=d).rough(looks) for d in days}}
