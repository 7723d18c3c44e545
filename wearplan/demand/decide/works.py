"""Worn tools sent to the works: how long that still pays before the end of the drive."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from wearplan.demand.decide.on_way import rough_looks, sure_saving
from wearplan.demand.decide.supply import Supply


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
    base = cost = supply.rough(looks)
    best, day = supply, None
    stops = np.unique(np.median(supply.stops.day, axis=0).astype(int))[::-1]
    worse = 0
    for stop in stops:
        cut = max(int(stop) - 1, 0)
        option = replace(supply, send_until=cut)
        found = option.rough(looks)
        if found < cost - 1e-6:
            best, cost, day, worse = option, found, cut, 0
        else:
            worse += 1
        if worse == 2:
            break
    if day is None or base - cost <= max(supply.terms.order_cost, 0.05 * supply.terms.price):
        return supply, None
    spared = float((supply.rebuilt.sum(axis=1) - best.rebuilt.sum(axis=1)).mean())
    return best, LastSent(day=day, saves=base - cost, spared=spared, sure=sure_saving(supply, best, looks, base - cost))
