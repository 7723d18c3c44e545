"""Worn tools sent to the works: how long that still pays before the end of the drive."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearplan.demand.decide.on_way import rough_looks, sure_saving
from wearplan.demand.decide.supply import Supply

MOST_CUTS = 8
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
    day = _cheapest_cut(supply.half(), looks)
    if day is None:
        return supply, None
    best = replace(supply, send_until=day)
    saves = supply.rough(looks) - best.rough(looks)
    if saves <= max(supply.terms.order_cost, 0.05 * supply.terms.price):
        return supply, None
    spared = float((supply.rebuilt.sum(axis=1) - best.rebuilt.sum(axis=1)).mean())
    return best, LastSent(day=day, saves=saves, spared=spared, sure=sure_saving(supply, best, looks, saves))


def _cheapest_cut(supply: Supply, looks: list[int]) -> int | None:
    """The day of least cost among the stops, a few of them where there are many; None: send all."""
    stops = np.unique(np.median(supply.stops.day, axis=0).astype(int))
    some = stops[np.unique(np.linspace(0, len(stops) - 1, min(len(stops), MOST_CUTS)).astype(int))]
    cost, day = supply.rough(looks), None
    for cut in (max(int(stop) - 1, 0) for stop in some[::-1]):
        found = replace(supply, send_until=cut).rough(looks)
        if found < cost - 1e-6:
            cost, day = found, cut
    return day
