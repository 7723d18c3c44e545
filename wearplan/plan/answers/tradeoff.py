"""Money against hours under pressure: the few distinct plans worth talking about."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from wearplan.plan.carry_out.choose import search
from wearplan.plan.carry_out.costing import Costed, works
from wearplan.plan.carry_out.shift import Polisher
from wearplan.plan.model.exact import Model
from wearplan.plan.records import Alternative
from wearplan.plan.settings import SETTINGS


@dataclass(frozen=True, kw_only=True)
class Option:
    plan: Costed
    person_hours: float
    gap: float | None


def options(
    model: Model, start: Costed, *, should_stop: Callable[[], bool] | None = None
) -> tuple[Option, ...]:
    """Plans none of which is beaten in both cost and entries under pressure by another, least cost first.

    Found by putting a rising price on every entry under pressure, and by forbidding all stops under pressure; each is
    then costed as it would be carried out, without that price.
    """
    found = [_option(model, start, None)]
    pressed = np.flatnonzero(model.counted).tolist()
    tasks: list[tuple[float, tuple[int, ...]]] = []
    if pressed and start.entries > 0:
        tasks = [(0.0, tuple(pressed)), *[(f * model.entry_worth, ()) for f in (0.5, 2.0, 8.0, 1.0)]]
    for price, forbidden in tasks:
        if should_stop is not None and should_stop():
            break
        if set(forbidden) & set(model.forced):
            continue
        effort = SETTINGS.beside
        done = search(
            model, gap=effort.gap, most_nodes=effort.nodes, should_stop=should_stop, forbidden=forbidden,
            entry_price=price, whole=False,
        )  # fmt: skip
        if not done.possible:
            continue
        polisher = Polisher(model, model.path_problem(), forbidden=forbidden)
        whole = polisher.plan(done.stops)
        if whole is not None:
            found.append(_option(model, whole, done.gap if price == 0.0 else None))
    return _front(found)


def _option(model: Model, plan: Costed, gap: float | None) -> Option:
    done = works(model, plan.stops, plan.visits)
    hours = sum(w.person_hours for w in done if w.entries_under_pressure)
    return Option(plan=plan, person_hours=hours, gap=gap)


def _front(found: list[Option]) -> tuple[Option, ...]:
    """Unbeaten options by cost; at most five, the first, the last and those with the largest steps in entries."""
    ordered = sorted(found, key=lambda o: (o.plan.cost, o.plan.entries))
    kept: list[Option] = []
    for option in ordered:
        if not kept or option.plan.entries < kept[-1].plan.entries:
            kept.append(option)
    while len(kept) > SETTINGS.beside.alternatives:
        drop = min(range(1, len(kept) - 1), key=lambda i: kept[i - 1].plan.entries - kept[i + 1].plan.entries)
        kept.pop(drop)
    return tuple(kept)


def alternatives(model: Model, front: tuple[Option, ...]) -> tuple[Alternative, ...]:
    """The options as records."""
    least = front[0].plan.cost if front else 0.0
    out = []
    for i, option in enumerate(front):
        plan = option.plan
        if i == 0:
            name = "least cost" if plan.entries else "least cost, no hours under pressure"
        elif plan.entries == 0:
            name = "no hours under pressure"
        elif i == len(front) - 1:
            name = "fewest entries found"
        else:
            name = f"{plan.entries} entries"
        where = [float(model.cands.driven_m[n]) for n in plan.stops]
        out.append(
            Alternative(
                name=name,
                stops_m=tuple(where),
                stops_chainage_m=tuple(model.ahead.chainage_m(x) for x in where),
                windows=tuple(model.cands.term(n).window.name for n in plan.stops),
                expected_cost=plan.cost,
                extra_cost=plan.cost - least,
                entries_under_pressure=plan.entries,
                person_hours_under_pressure=option.person_hours,
                changes=int(plan.visits.sum()),
                gap=option.gap,
            )
        )
    return tuple(out)
