"""Orders on the way: bring forward, put off, cancel or leave, by what each leaves to be bought."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from wearplan.demand.decide.supply import OnWay, Supply

STEADY = 8.0
"""Standard errors, taken from five parts of the draws, that a saving must stand above nothing to be called sure."""
ROUGH_LOOKS = 6
"""Looks in the comparison of ways to change an order; the decision itself looks every review period."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """One thing to ask of a supplier about an order on the way."""

    index: int
    """Number of the order among those of its type."""
    what: str
    """``expedite``, ``defer`` or ``cancel``."""
    quantity: int
    day: int
    """The new day of delivery; for a cancelled one the day it is due."""
    saves: float
    sure: bool


@dataclass(frozen=True, slots=True)
class _Way:
    what: str
    order: OnWay
    quantity: int
    day: int


def change_orders(supply: Supply) -> tuple[Supply, tuple[Changed, ...], bool]:
    """Ask for what saves most, order by order, latest due first; what saves less than an order costs is left alone.

    Returns
    -------
    supply : Supply
        With the orders on the way as asked for.
    changed : tuple of Changed
    firm : bool
        Whether other draws would choose the same; if not, all else that is asked for of the type hangs on them too.
    """
    changed: list[Changed] = []
    looks = rough_looks(supply)
    firm = True
    for index in sorted(range(len(supply.on_way)), key=lambda n: -supply.on_way[n].due_day):
        kept = _Way("keep", supply.on_way[index], 0, 0)
        least = max(supply.terms.order_cost, 0.05 * supply.terms.price)
        found = [(supply.with_order(index, way.order), way) for way in (kept, *_ways(supply, index))]
        if len(found) == 1:
            continue
        costs = [option.rough(looks) + (least if way.what != "keep" else 0.0) for option, way in found]
        best = int(np.argmin(costs))
        option, way = found[best]
        others = [n for n, (_, other) in enumerate(found) if other.what != way.what]
        sure = True
        if others:
            next_best = min(others, key=lambda n: costs[n])
            sure = sure_saving(found[next_best][0], option, looks, costs[next_best] - costs[best])
        firm = firm and sure
        if way.what == "keep":
            continue
        saves = costs[0] - costs[best] + least
        changed.append(Changed(index=index, what=way.what, quantity=way.quantity, day=way.day, saves=saves, sure=sure))
        supply = option
    return supply, tuple(changed), firm


def rough_looks(supply: Supply) -> list[int]:
    """A few looks from the next one to the end."""
    last = int(np.median(supply.stops.end))
    first = max(1, supply.terms.look_days)
    return [int(day) for day in np.unique(np.linspace(first, max(last, first), ROUGH_LOOKS).astype(int))]


def sure_saving(before: Supply, after: Supply, looks: list[int], saves: float) -> bool:
    """Whether each fifth of the draws alone says so too, and their spread does not reach nothing."""
    draws = np.arange(len(before.use))
    if len(draws) < 50:
        return False
    gains = [before.only(part).rough(looks) - after.only(part).rough(looks) for part in (draws[k::5] for k in range(5))]
    doubt = float(np.std(gains, ddof=1)) / len(gains) ** 0.5
    return bool(min(gains) > 0 and saves > STEADY * doubt)


def _ways(supply: Supply, index: int) -> Iterable[_Way]:
    """What could be asked of an order on the way."""
    order, terms, days = supply.on_way[index], supply.terms, supply.days
    without = replace(supply, on_way=tuple(o for n, o in enumerate(supply.on_way) if n != index))
    level = without.level
    end = np.minimum(supply.stops.end, days - 1)
    missing = np.maximum.accumulate(np.maximum(-level, 0), axis=1)
    need = np.take_along_axis(missing, end[:, None], axis=1)[:, 0]
    expected = int(np.median(order.day))
    if terms.expedite_days < expected and (missing[:, min(expected, days) - 1] > 0).mean() > 0.01:
        soon = np.minimum(order.day, terms.expedite_days)
        fee = order.fee + terms.expedite_cost * order.quantity
        yield _Way("expedite", replace(order, day=soon, fee=fee), order.quantity, terms.expedite_days)
    share = terms.cancel_share if order.cancel_share is None else order.cancel_share
    if share < 1.0 and (need < order.quantity).mean() > 0.05:
        kept = np.unique(np.quantile(np.minimum(need, order.quantity), (0.75, 0.85, 0.95, 1.0)).astype(int))
        for keep in (int(n) for n in kept if n < order.quantity):
            gone = order.quantity - keep
            fee = order.fee + gone * share * terms.price
            yield _Way("cancel", replace(order, quantity=keep, fee=fee, paid=keep), gone, order.due_day)
    first = np.where(missing.any(axis=1), np.argmax(missing > 0, axis=1), end)
    for chance in (0.02, 0.1, 0.3):
        day = int(np.quantile(first, chance)) - terms.look_days
        if day >= expected + max(terms.look_days, 7):
            moved = order.day - expected + day
            yield _Way("defer", replace(order, day=np.maximum(moved, order.day)), order.quantity, day)


__all__ = ["Changed", "change_orders", "rough_looks"]
