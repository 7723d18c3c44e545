"""How many to order, and by when, so that the shelf holds with the wanted chance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class Wanted:
    """One order in days from today: last day to order, day needed, quantity."""

    order_day: int
    needed_day: int
    quantity: int


def needed_by_day(missing: np.ndarray, service: float) -> np.ndarray:
    """(H,) tools that must have come in by each day so that no day up to it was short with the wanted chance.

    Parameters
    ----------
    missing : (D, H)
        The most tools missing on any day so far, per draw, if nothing is ordered.
    service : float
        Wanted chance of never having been short.
    """
    return np.quantile(missing, service, axis=0, method="inverted_cdf").astype(int)


def order_plan(
    missing: np.ndarray, *, service: float, lead_time_days: float, review_days: float, most_orders: int = 12
) -> list[Wanted]:
    """Orders that keep the service level with the least stock held.

    Each day on which the needed number rises wants those tools in the store by then, ordered a lead time and a review
    period before. Needs that fall within one review period after the first go into its order, since nobody looks
    again in between. Ordering later than this spends the service level, ordering earlier only holds steel.
    """
    need = needed_by_day(missing, service)
    steps = np.flatnonzero(np.diff(np.concatenate([[0], need])) > 0)
    wanted: list[Wanted] = []
    have, index = 0, 0
    while index < len(steps) and len(wanted) < most_orders:
        first = int(steps[index])
        until = first + max(review_days, 1.0)
        while index < len(steps) and steps[index] < until:
            index += 1
        upto = int(steps[index - 1])
        wanted.append(
            Wanted(
                order_day=int(np.floor(first - lead_time_days - review_days)),
                needed_day=first,
                quantity=int(need[upto] - have),
            )
        )
        have = int(need[upto])
    if index < len(steps):
        last = wanted[-1]
        wanted[-1] = Wanted(last.order_day, last.needed_day, last.quantity + int(need[-1] - have))
    return wanted


def hurry_share(*, price: float, holding_per_year: float, hurry_factor: float, days_held: float) -> float:
    """Chance of being needed above which it is cheaper to order a tool now than to buy it in a hurry.

    Holding one tool for so many days costs ``price * holding_per_year * days / 365``; a hurried purchase costs
    ``price * (hurry_factor - 1)`` more. The critical chance is their newsvendor ratio.
    """
    hold = price * holding_per_year * days_held / 365.0
    hurry = price * max(hurry_factor - 1.0, 0.0)
    return hold / (hold + hurry) if hold + hurry > 0 else 1.0
