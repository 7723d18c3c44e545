"""From a planning model to stops and visits: the exact core, then whole entries and neighbours at the stops chosen."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from wearplan.plan.model.exact import Bools, Model
from wearplan.plan.model.rows import Rows
from wearplan.plan.optimise import Clash as SolverClash
from wearplan.plan.optimise import Problem, Progress, Solved, solve
from wearplan.plan.settings import SETTINGS

from .costing import costed, used
from .filled import decided, fewest_entries, filled_visits, too_few
from .neighbours import keep_step
from .shift import Polisher, coarse
from .whole import fill_entries

Try = tuple[tuple[int, ...], Bools, tuple[str, ...], Problem]
"""Stops, visits, what was repaired, and the problem whose prices a repair goes by."""
ShouldStop = Callable[[], bool]
OnProgress = Callable[[Progress], None]


@dataclass(frozen=True, kw_only=True)
class Found:
    """Stops (in order) of a plan and visits (P, K+2) by its own nodes: now, the stops, the end."""

    stops: tuple[int, ...]
    visits: Bools
    model_cost: float
    lower_bound: float
    gap: float
    finished: bool
    """Whether the search ended by reaching its gap."""
    repaired: tuple[str, ...] = ()
    clash: SolverClash | None = None
    without_rows: bool = False
    """No plan keeps the rows: this one may break them."""
    seconds: float = 0.0

    @property
    def possible(self) -> bool:
        return math.isfinite(self.model_cost)


_RINGS = 8
"""Rings of a forced window that are tried."""


def settled(model: Model, windows: Iterable[str], should_stop: ShouldStop | None = None) -> Model:
    """The task with a stop in each of these windows, at the ring that costs least: where the plan stops by itself, else
    the best of up to `_RINGS` rings spread over the window, one window after the other.
    """
    for name in windows:
        inside = model.cands.named(name)
        if not inside or set(inside) & set(model.forced):
            continue
        effort = SETTINGS.beside
        quick = partial(search, gap=effort.gap, most_nodes=effort.nodes, should_stop=should_stop, whole=False)
        free = quick(model)
        mine = [n for n in free.stops if n in inside]
        if not mine:
            picks = sorted({inside[round(k)] for k in np.linspace(0, len(inside) - 1, min(_RINGS, len(inside)))})
            found = [(quick(replace(model, forced=tuple(sorted({*model.forced, n})))).model_cost, n) for n in picks]
            mine = [min(found)[1]]
        model = replace(model, forced=tuple(sorted({*model.forced, mine[0]})))
    return model


def search(
    model: Model,
    *,
    gap: float,
    time_limit_s: float = math.inf,
    most_nodes: int = SETTINGS.exact.nodes,
    should_stop: ShouldStop | None = None,
    on_progress: OnProgress | None = None,
    forbidden: Iterable[int] = (),
    forced: Iterable[int] | None = None,
    entry_price: float = 0.0,
    keep_caps: bool = True,
    whole: bool = True,
    polish: bool = False,
    rows_or_not: bool = False,
    solved: Solved | None = None,
) -> Found:
    """Solve the exact model, and put whole entries and neighbours right at the stops chosen.

    ``most_nodes`` counts the effort; ``time_limit_s`` and ``should_stop`` are stop buttons. ``rows_or_not``: where it
    is shown that no plan keeps the rows, give one that breaks them rather than none. ``solved`` is a plan of the exact
    model known already, which is put right without another search. What puts right the plan found is short and
    counted, so that only a person stops it.
    """
    by_person: ShouldStop | None = getattr(should_stop, "by_person", should_stop)
    barred = tuple(forbidden)
    build = partial(model.path_problem, forbidden=barred, forced=forced, keep_caps=keep_caps)
    run = partial(
        solve,
        gap=gap,
        time_limit_s=time_limit_s,
        most_nodes=most_nodes,
        should_stop=should_stop,
        on_progress=on_progress,
    )
    problem = build(entry_price=entry_price)
    solved = solved or run(problem)
    without_rows = rows_or_not and solved.status == "impossible" and bool(problem.rows)
    if without_rows:
        problem = build(entry_price=entry_price, keep_rows=False)
        solved = run(problem)
    if solved.visits is None:
        return _nothing(model, solved)
    stops = solved.stops
    visits = solved.visits[:-1, model.nodes_at(stops)]
    must = model.forced if forced is None else tuple(forced)
    stops, visits = used(stops, visits, must)
    repaired: tuple[str, ...] = ()
    tries: list[Try] = [(stops, visits, repaired, problem)]
    plain = problem if entry_price == 0.0 or not (polish or whole) else build(keep_rows=bool(problem.rows))
    if polish and stops:
        tries += _shifted(model, stops, plain, problem, barred, by_person)
    if whole and stops:
        stops, visits, repaired = _filled(model, _cheapest(model, tries), plain, by_person)
        if model.max_entries is not None and not math.isfinite(costed(model, stops, visits).cost):
            # within the cap entry by entry in parts, not in whole ones: plans that are sparing of them may be
            effort = SETTINGS.sparing
            for price in (factor * model.entry_worth for factor in effort.prices):
                sparing = search(
                    model, gap=max(gap, effort.gap), time_limit_s=time_limit_s, most_nodes=effort.nodes,
                    should_stop=by_person, forbidden=barred, forced=forced, entry_price=price, keep_caps=keep_caps,
                    whole=False,
                )  # fmt: skip
                if sparing.possible:
                    dearer = build(entry_price=price, keep_rows=not without_rows)
                    tries.append((sparing.stops, sparing.visits, ("fewer entries under pressure",), dearer))
            kept = _capped(model, _filled(model, _cheapest(model, tries), plain, by_person), plain, tries, by_person)
            if isinstance(kept, SolverClash):
                return replace(_nothing(model, solved), finished=True, clash=kept, model_cost=math.inf)
            stops, visits, repaired = kept
    return Found(
        stops=stops,
        visits=visits,
        model_cost=solved.cost,
        lower_bound=solved.lower_bound,
        gap=solved.gap,
        finished=solved.status == "least cost",
        repaired=repaired,
        without_rows=without_rows,
        seconds=solved.seconds,
    )


Plan = tuple[tuple[int, ...], Bools, tuple[str, ...]]


def _shifted(
    model: Model, stops: tuple[int, ...], priced: Problem, problem: Problem, barred: tuple[int, ...],
    should_stop: ShouldStop | None,
) -> list[Try]:  # fmt: skip
    """Plans near these stops that whole entries favour."""
    polisher = Polisher(model, priced, forbidden=barred)
    polisher.better(stops, picks=coarse(model, a_window=2, keep=stops), should_stop=should_stop)
    near = polisher.cheapest(SETTINGS.shift.mended)
    return [(p.stops, p.visits, ("stops shifted for whole entries",), problem) for p in near if p.stops != stops]


def _filled(model: Model, plan: Plan, problem: Problem, should_stop: ShouldStop | None) -> Plan:
    """A plan with its entries solved whole at its stops, where that is cheaper."""
    stops, visits, said = plan
    cost = costed(model, stops, visits).cost
    better = filled_visits(model, stops, problem, below=cost, should_stop=should_stop)
    if better is None or not costed(model, stops, better).cost < cost:
        return plan
    return stops, better, tuple(dict.fromkeys((*said, "whole entries")))


def _capped(
    model: Model, plan: Plan, problem: Problem, tries: list[Try], should_stop: ShouldStop | None
) -> Plan | SolverClash:
    """The plan where it keeps the cap on entries, else another one that does, or the proof that none can; as it is
    where neither is found.
    """
    stops, visits, _ = plan
    if math.isfinite(costed(model, stops, visits).cost):
        return plan
    kept = _within_the_cap(model, problem, [stops, *(each[0] for each in tries)], should_stop)
    if kept is None or isinstance(kept, SolverClash):
        return kept or plan
    return (*kept, ("fewer entries under pressure",))


def _within_the_cap(
    model: Model, problem: Problem, sets: Iterable[tuple[int, ...]], should_stop: ShouldStop | None
) -> tuple[tuple[int, ...], Bools] | SolverClash | None:
    """Stops and visits within the cap on whole entries, the proof that there are none, or None: neither was found."""
    fewest = fewest_entries(model, problem, should_stop=should_stop)
    if model.max_entries is not None and fewest.at_least > model.max_entries:
        return too_few(model, fewest.at_least)
    made = []
    for stops in dict.fromkeys([fewest.stops, *sets]):
        visits = filled_visits(model, stops, problem, should_stop=should_stop) if stops else None
        if visits is not None:
            made.append((costed(model, stops, visits).cost, stops, visits))
    made = [each for each in made if math.isfinite(each[0])]
    if made:
        _, stops, visits = min(made, key=lambda each: each[0])
        return stops, visits
    solved = decided(model, problem, should_stop=should_stop)
    if solved is None:
        return None
    if solved.visits is None:
        return too_few(model, None)
    visits = solved.visits[:-1, model.nodes_at(solved.stops)]
    return (solved.stops, visits) if math.isfinite(costed(model, solved.stops, visits).cost) else None


def _cheapest(model: Model, tries: list[Try]) -> tuple[tuple[int, ...], Bools, tuple[str, ...]]:
    """The cheapest of some plans once neighbours and whole entries are right; with what was repaired. Where all take
    more entries than allowed, the one that takes the fewest.
    """
    made = []
    for stops, visits, said, problem in tries:
        mended, more = whole_visits(model, stops, visits, problem)
        whole = costed(model, stops, mended)
        made.append((whole.cost, 0 if math.isfinite(whole.cost) else whole.entries, (stops, mended, said + more)))
    return min(made, key=lambda each: each[:2])[2]


def whole_visits(
    model: Model, stops: tuple[int, ...], visits: Bools, problem: Problem
) -> tuple[Bools, tuple[str, ...]]:
    """Visits at the stops chosen that keep the neighbour step and waste no entry, and which of the two changed them.

    ``problem`` is the path problem whose caps and rows hold.
    """
    part = model.only(stops)
    nodes = model.nodes_at(stops)
    arcs = problem.interval_cost[:, nodes[:-1]][:, :, nodes]
    rows = Rows.at(problem.rows, nodes)
    kept = keep_step(part, arcs, visits)
    if not rows.kept(kept):
        kept = keep_step(part, rows.held(arcs, visits), visits)
    names = ["neighbour step"] if (kept != visits).any() else []
    filled = fill_entries(part, arcs, kept, rows).visits
    if (filled != kept).any():
        names.append("whole entries")
    return filled, tuple(names)


def _nothing(model: Model, solved: Solved) -> Found:
    return Found(
        stops=(),
        visits=np.zeros((model.places, 2), dtype=bool),
        model_cost=math.inf,
        lower_bound=solved.lower_bound,
        gap=math.inf,
        finished=solved.status == "impossible",
        clash=solved.clash,
        seconds=solved.seconds,
    )
