"""Orders in dates and words, and what a week more of lead time would do to them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from wearplan.demand.dates import day
from wearplan.demand.orders import Wanted, lead_days, needs, order_plan
from wearplan.demand.records import LeadTime, Order
from wearplan.demand.stock import Shelf
from wearplan.demand.weighing import Weighed
from wearplan.site.records import Stores, ToolType


def orders_of(
    kind: ToolType, wanted: Sequence[Wanted], shelf: Shelf, stores: Stores, need: np.ndarray, start: date
) -> list[Order]:
    """The orders of one type; only the first can be one of today.

    Parameters
    ----------
    need : (H,)
        Tools that must have come in by each day.
    """
    before = _before(kind, shelf)
    hurried = int(need[before]) if before >= 0 else 0
    short = float((shelf.missing[:, before] > 0).mean()) if before >= 0 else 0.0
    gone = float(shelf.missing[:, before].mean()) if before >= 0 else 0.0
    hurry_cost = gone * kind.price * max(stores.hurry_factor - 1.0, 0.0)
    out = []
    for number, entry in enumerate(wanted):
        now = entry.order_day == 0
        late = now and hurried > 0
        first = number == 0
        out.append(
            Order(
                tool_type=kind.code,
                quantity=entry.quantity,
                order_by=day(start, entry.order_day),
                now=now,
                comes=day(start, entry.order_day + lead_days(kind.lead_time_days)),
                needed_by=day(start, entry.needed_day),
                late=late,
                hurried=hurried if late else 0,
                missing_before=gone if first else 0.0,
                short_before=short if first else 0.0,
                hurry_cost=hurry_cost if first else 0.0,
                cost=entry.quantity * kind.price,
                why=_why(kind, entry, shelf, start),
            )
        )
    return out


def _before(kind: ToolType, shelf: Shelf) -> int:
    """The last day before an order of today comes in; -1 where it comes in today."""
    return min(lead_days(kind.lead_time_days), int(shelf.level.shape[1])) - 1


def _why(kind: ToolType, entry: Wanted, shelf: Shelf, start: date) -> str:
    first, last = ((shelf.missing[:, at] > 0).mean() for at in (entry.needed_day, entry.covers_day))
    chance = f"{100 * first:.0f} % by {day(start, entry.needed_day)}"
    if entry.covers_day > entry.needed_day:
        chance += f", {100 * last:.0f} % by {day(start, entry.covers_day)}"
    return f"chance of having run short without any order: {chance}; lead time {kind.lead_time_days:g} days"


def week_more(
    kind: ToolType, wanted: Sequence[Wanted], shelf: Shelf, stores: Stores, weighed: Weighed, start: date
) -> LeadTime | None:
    """A week more of lead time; None where nothing is to be ordered.

    Notes
    -----
    On hand and on order must cover what may be needed until an order of the next look comes in: a lead time and a
    review period. The tools that adds are ``extra_quantity``; those of them above the expected use are reserve, which
    is held as long as the lead time stays so.
    """
    if not wanted:
        return None
    lead = kind.lead_time_days
    need, longer = (
        needs(shelf.missing, of_site=weighed.of_site, of_money=weighed.of_money, lead_time_days=days).both
        for days in (lead, lead + 7)
    )
    then = order_plan(longer, lead_time_days=lead + 7, review_days=stores.review_days)
    mean = shelf.missing.mean(axis=0)
    last = len(need) - 1
    was = min(lead_days(lead) + int(np.ceil(stores.review_days)), last)
    now = min(was + 7, last)
    extra = max(0, int(longer[now] - need[was]))
    reserve = max(0.0, (longer[now] - mean[now]) - (need[was] - mean[was]))
    holding = reserve * kind.price * stores.holding_per_year
    before = _before(kind, shelf)
    gone = float(mean[min(before + 7, last)] - (mean[before] if before >= 0 else 0.0))
    hurry = gone * kind.price * max(stores.hurry_factor - 1.0, 0.0)
    first = then[0].order_day if then else wanted[0].order_day
    by = day(start, first)
    moved = first - wanted[0].order_day
    when = f"the first order is {-moved} days earlier, by {by}" if moved else f"the first order stays at {by}"
    return LeadTime(
        tool_type=kind.code,
        order_by=by,
        extra_quantity=extra,
        extra_holding=float(holding),
        extra_hurry=float(hurry),
        sentence=f"with a week more of lead time {when}; {extra} more to have on the shelf or on order",
    )
