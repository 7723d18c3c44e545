"""Sturdier plans beside the cheapest, which sits on its caps: what more they cost, what harder ground leaves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from wearplan.plan.ahead.tools import OutlookLike
from wearplan.plan.carry_out.choose import search, settled
from wearplan.plan.carry_out.costing import arcs_of, cost_parts, total, works
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Bools, Model
from wearplan.plan.records import MARGINS, Wishes
from wearplan.plan.settings import SETTINGS

from .worse import arc_over

if TYPE_CHECKING:
    from wearplan.site.records import Site

NAMES = {"": "least cost", "half": "caps halved", "1.1": "caps kept in ground 1.1 times as hard",
         "1.2": "caps kept in ground 1.2 times as hard"}  # fmt: skip
HARDER = (1.1, 1.2)


@dataclass(frozen=True, kw_only=True)
class Sturdy:
    """One plan with something in hand."""

    margin: str
    name: str
    expected_cost: float
    extra_cost: float
    """Against the plan of least cost."""
    stops_chainage_m: tuple[float, ...]
    entries_under_pressure: int
    past_as_expected: int
    """Places past a cap somewhere before they are next changed, in the ground expected."""
    past_in_harder: tuple[int, ...]
    """The same where all rates ahead are 1.1 and 1.2 times those expected, the plan kept as it stands."""


def sturdy(
    site: Site, outlook: OutlookLike, wishes: Wishes, *, should_stop: Callable[[], bool] | None = None
) -> tuple[Sturdy, ...]:
    """The plan of least cost and those with a margin, whole entries counted; without those that keep no rule."""
    plain, _ = task(site, outlook, replace(wishes, margin=""))
    found: list[Sturdy] = []
    for margin in MARGINS:
        model = plain if not margin else task(site, outlook, replace(wishes, margin=margin))[0]
        model = settled(model, wishes.forced_windows, should_stop)
        effort = SETTINGS.beside
        best = search(
            model, gap=max(wishes.gap, effort.wish_gap), most_nodes=effort.wish_nodes, should_stop=should_stop,
            rows_or_not=True,
        )  # fmt: skip
        if not best.possible:
            continue
        done = works(model, best.stops, best.visits)
        cost = total(cost_parts(model, best.stops, best.visits, done))
        least = found[0].expected_cost if found else cost
        found.append(
            Sturdy(
                margin=margin, name=NAMES[margin], expected_cost=cost, extra_cost=cost - least,
                stops_chainage_m=tuple(plain.ahead.chainage_m(float(plain.cands.driven_m[n])) for n in best.stops),
                entries_under_pressure=sum(w.entries_under_pressure for w in done),
                past_as_expected=_past(plain, best.stops, best.visits, 1.0),
                past_in_harder=tuple(_past(plain, best.stops, best.visits, f) for f in HARDER),
            )
        )  # fmt: skip
    return tuple(found)


def _past(model: Model, stops: tuple[int, ...], visits: Bools, factor: float) -> int:
    """Places that break their cap on some stretch of the plan when all rates ahead are ``factor`` times as high."""
    past = set()
    for p, s, t in zip(*arcs_of(model.nodes_at(stops), visits), strict=True):
        if np.isfinite(model.cap[p]) and not model.free_rows[p] and int(p) not in past:
            over = arc_over(model, int(p), int(s), int(t), np.array([factor]))[0]
            if over > model.cap[p] + 1e-9:
                past.add(int(p))
    return len(past)
