"""The site's wish beside the decision: what keeps the wanted chance of never running short, whatever it costs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearplan.demand.decide.looks import Later
from wearplan.demand.decide.terms import Mode, Terms
from wearplan.demand.decide.today import later_extra
from wearplan.demand.decide.units import Need, short_if, unit_cost
from wearplan.demand.orders import Wanted, held, order_plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the wish alone would ask for."""

    hurry: int
    """Today, in a hurry: wanted at stops that an ordinary order of today cannot reach."""
    order: int
    """Today, the ordinary way, as the supplier sells it."""
    later: tuple[Wanted, ...]
    """Orders foreseen after today, in days from today."""
    cost: np.ndarray
    """(D,) of all tools still bought or missing, comparable with the decision's."""
    short: np.ndarray
    """(D,) bool: a tool is missing at its stop some time."""


def wish_of(need: Need, terms: Terms, service: float, wait: Later) -> Wish:
    """Orders for the wanted chance, by the quantiles of what is missing at the stops.

    Parameters
    ----------
    wait : Later
        What becomes of the tools that the wish does not ask for: they are bought as money says, when it comes to it.
    """
    modes = terms.modes
    fast = min(modes, key=lambda mode: mode.days)
    soon = _missing_by_day(need, fast.days)
    slow = _missing_by_day(need, terms.lead_days)
    first = min(terms.lead_days, need.never) - 1
    hurry = 0
    if first >= 0 and fast.days < terms.lead_days:
        upto = min(fast.days + terms.look_days, first + 1, need.never)
        ranked = np.sort(soon[:, max(upto - 1, 0)])
        hurry = int(ranked[min(int(np.ceil(service * len(ranked) - 1e-9)), len(ranked)) - 1])
    bare = np.maximum(slow - hurry, 0)
    wanted = order_plan(
        held(bare, service=service, lead_time_days=float(terms.lead_days)),
        lead_time_days=float(terms.lead_days), review_days=float(terms.look_days),
    )  # fmt: skip
    now = next((entry.quantity for entry in wanted if entry.order_day == 0), 0)
    later = tuple(entry for entry in wanted if entry.order_day > 0)
    cost, short = wait.cost.copy(), wait.short.copy()
    placed = [
        (fast, 0, hurry),
        (modes[0], 0, terms.rounded(now)),
        *((modes[0], e.order_day, e.quantity) for e in later),
    ]
    at, orders = 0, 0
    for mode, day, quantity in placed:
        tools = np.arange(at, min(at + quantity, need.tools))
        if len(tools):
            cost[:, tools] = _asked(need, terms, mode, day)[:, tools]
            short[:, tools] = short_if(need, day + mode.days)[:, tools]
            orders += 1
        at += len(tools)
    whole = cost.sum(axis=1) + orders * terms.order_cost
    whole = whole + later_extra(need, terms, wait, np.arange(at, need.tools))
    return Wish(hurry=hurry, order=terms.rounded(now), later=later, cost=whole, short=np.asarray(short.any(axis=1)))


def _asked(need: Need, terms: Terms, mode: Mode, day: int) -> np.ndarray:
    return unit_cost(need, terms, comes=day + mode.days, price=mode.price)


def _missing_by_day(need: Need, since: int) -> np.ndarray:
    """(D, H) the most tools missing at any stop from a day on, up to each day."""
    days = need.stops.day
    count = np.where(days >= since, need.missing.sum(axis=2), 0)
    out = np.zeros((len(days), need.never), dtype=np.int64)
    np.maximum.at(out, (np.repeat(np.arange(len(days)), days.shape[1]), days.ravel()), count.ravel())
    return np.asarray(np.maximum.accumulate(out, axis=1))
