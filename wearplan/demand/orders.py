"""How many to order, and by when, so that the shelf holds with the chance the site wishes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Wanted:
    """One order in days from today: last day to order, first day needed, last day whose need it covers, quantity."""

    order_day: int
    needed_day: int
    covers_day: int
    quantity: int


def held(missing: np.ndarray, *, service: float, lead_time_days: float) -> np.ndarray:
    """(H,) tools that must have come in by each day for the wanted chance of never running short.

    Parameters
    ----------
    missing : (D, H)
        The most tools missing on any day so far, per draw, if nothing is ordered.
    service : float
        The chance of never running short once an order of today can be in.
    lead_time_days : float

    Notes
    -----
    The wish is for the whole drive. A quantile taken day by day does not hold it, since one draw passes the line
    on one day and another on another; so the quantile is raised until few enough draws pass it on any day. Before an
    order of today can be in there is nothing to hold, and the plain quantile says what may be missing.
    """
    draws, days = missing.shape
    ranked = np.sort(missing, axis=0)
    plain = _rank(service, draws)
    first = min(lead_days(lead_time_days), days - 1)
    low, high = plain, draws - 1
    while low < high:
        middle = (low + high) // 2
        short = (missing[:, first:] > ranked[middle, first:]).any(axis=1).mean()
        if short <= 1.0 - service + 1e-9:
            high = middle
        else:
            low = middle + 1
    return np.concatenate([ranked[plain, :first], ranked[high, first:]]).astype(int)


def _rank(share: float, draws: int) -> int:
    """Index of the smallest ranked draw that at least this share of draws does not pass."""
    return min(max(math.ceil(share * draws - 1e-9), 1), draws) - 1


def order_plan(need: np.ndarray, *, lead_time_days: float, review_days: float, most_orders: int = 12) -> list[Wanted]:
    """Orders that keep what is needed with the least stock held.

    Parameters
    ----------
    need : (H,) int
        Tools that must have come in by each day, never falling.

    Notes
    -----
    Each day on which the needed number rises wants those tools in the store by then, ordered a lead time and a review
    period before. Needs that fall within one review period after the first go into its order, since nobody looks
    again in between. Ordering later than this spends the wanted chance, ordering earlier only holds steel.

    Nobody can order in the past: whatever should have been ordered by today is one order of today, day 0. What of it
    is needed before a lead time has passed, no ordinary order can bring any more.
    """
    cover = lead_days(lead_time_days) + max(math.ceil(review_days), 1)
    steps = np.flatnonzero(np.diff(np.concatenate([[0], need])) > 0)
    wanted: list[Wanted] = []
    have, index = 0, 0
    while index < len(steps):
        first = int(steps[index])
        order_day = max(first - cover, 0)
        # Today's order covers what the next look could no longer cover; a later one what falls within one period.
        until = cover if order_day == 0 else first + max(math.ceil(review_days), 1) - 1
        if len(wanted) == most_orders - 1:
            until = len(need)
        while index < len(steps) and steps[index] <= until:
            index += 1
        last = int(steps[index - 1])
        upto = int(need[last])
        wanted.append(Wanted(order_day=order_day, needed_day=first, covers_day=last, quantity=upto - have))
        have = upto
    return wanted


def lead_days(lead_time_days: float) -> int:
    """Whole days until an order comes in."""
    return max(math.ceil(lead_time_days), 0)
