"""From a planning model to stops and visits: the exact core, then rows, then whole entries and neighbours at the stops chosen."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from .model import Bools, Floats, Model, served_before
from .optimise import Clash as SolverClash
from .optimise import Problem, Progress, Solved, solve
from .optimise.result import relative_gap

_SMALL = 4000

ShouldStop = Callable[[], bool]
OnProgress = Callable[[Progress], None]


@dataclass(frozen=True, kw_only=True)
class Found:
    """Stops (candidates, 0-based, in order) and visits (P, K) of a plan."""

    stops: tuple[int, ...]
    visits: Bools
    model_cost: float
    lower_bound: float
    gap: float
    finished: bool
    """Whether the search ended by reaching its gap."""
    relaxed: tuple[str, ...] = ()
    repaired: tuple[str, ...] = ()
    clash: SolverClash | None = None
    seconds: float = 0.0

    @property
    def possible(self) -> bool:
        return math.isfinite(self.model_cost)


def solve_path(problem: Problem, **run: Any) -> Solved:
    """Solve a path problem: by prices, which are much faster on all but the smallest."""
    small = problem.places * problem.stops**2 < _SMALL
    return solve(problem, method="auto" if small else "prices", **run)


def worst_over(model: Model, stops: Iterable[int], visits: Bools) -> Floats:
    """(P,) largest chance of being past the limit over the intervals each place has in a plan."""
    nodes = np.array([0, *[n + 1 for n in stops], model.stops + 1])
    last = served_before(visits)
    who = np.arange(model.places)
    worst = model.inter.over[who, nodes[last[:, -1]], nodes[-1]].astype(float)
    p, k = np.nonzero(visits)
    np.maximum.at(worst, p, model.inter.over[p, nodes[last[p, k + 1]], nodes[k + 1]])
    return worst


def _rows_to_bind(model: Model, stops: tuple[int, ...], visits: Bools) -> Bools | None:
    """(P,) places that stay freed once the rows bind; None where the plan keeps every row as it is."""
    worst = worst_over(model, stops, visits)
    freed = model.free_rows.copy()
    bound = False
    for code, members in model.ahead.rows.items():
        most = model.allowed_over(code)
        if most <= 0 or most >= len(members):
            continue
        over = [p for p in members if worst[p] > model.cap[p] + 1e-9]
        if len(over) > most:
            bound = True
            order = sorted(members, key=lambda p: -worst[p])
            freed[order[most:]] = False
    return freed if bound else None


def search(
    model: Model,
    *,
    gap: float,
    time_limit_s: float,
    should_stop: ShouldStop | None = None,
    on_progress: OnProgress | None = None,
    forbidden: Iterable[int] = (),
    forced: Iterable[int] | None = None,
    entry_price: float = 0.0,
    keep_caps: bool = True,
    whole: bool = True,
    polish: bool = False,
) -> Found:
    """Solve the exact model, bind rows where needed, and put whole entries and neighbours right at the stops chosen."""
    build = {"forbidden": tuple(forbidden), "forced": forced, "entry_price": entry_price, "keep_caps": keep_caps}
    run = {"gap": gap, "should_stop": should_stop, "on_progress": on_progress}
    first = model.path_problem(freed=model.free_rows, **build)
    solved = solve_path(first, time_limit_s=time_limit_s, **run)
    if solved.visits is None:
        return _nothing(model, solved)
    stops = tuple(n - 1 for n in solved.stops)
    visits, cost, bound = solved.visits[:-1, list(stops)], solved.cost, solved.lower_bound
    relaxed: list[str] = []
    freed = _rows_to_bind(model, stops, visits) if keep_caps else None
    finished = solved.status == "least cost"
    if freed is not None:
        second = model.path_problem(freed=freed, **build)
        again = solve_path(second, time_limit_s=max(1.0, time_limit_s - solved.seconds), **run)
        relaxed.append("rows")
        if again.visits is not None:
            stops = tuple(n - 1 for n in again.stops)
            visits, cost = again.visits[:-1, list(stops)], again.cost
            finished = finished and again.status == "least cost"
    must = model.forced if forced is None else tuple(forced)
    stops, visits = used(stops, visits, must)
    repaired: tuple[str, ...] = ()
    if polish and stops:
        from .polish import Polisher, coarse

        last = model.path_problem(freed=model.free_rows if freed is None else freed, **{**build, "entry_price": 0.0})
        polisher = Polisher(model, last, forbidden=forbidden)
        picks = coarse(model, a_window=3, keep=stops)
        until = time.perf_counter() + min(2.0, 0.1 * time_limit_s)
        better = polisher.better(stops, picks=picks, until=until, should_stop=should_stop)
        if better is not None and better.stops != stops:
            stops, visits, repaired = better.stops, better.visits, ("stops shifted for whole entries",)
    if whole and stops:
        mended = whole_visits(model.only(stops), visits, keep_caps=keep_caps, time_limit_s=min(4.0, time_limit_s))
        if mended is not None:
            visits, repaired = mended[0], repaired + mended[1]
    return Found(
        stops=stops,
        visits=visits,
        model_cost=cost,
        lower_bound=bound,
        gap=relative_gap(cost, bound),
        finished=finished,
        relaxed=tuple(relaxed),
        repaired=repaired,
        seconds=solved.seconds,
    )


def used(stops: tuple[int, ...], visits: Bools, forced: tuple[int, ...]) -> tuple[tuple[int, ...], Bools]:
    """Without stops at which nothing is done, unless the user forces them."""
    keep = [i for i, n in enumerate(stops) if visits[:, i].any() or n in forced]
    return tuple(stops[i] for i in keep), visits[:, keep]


def _nothing(model: Model, solved: Solved) -> Found:
    return Found(
        stops=(),
        visits=np.zeros((model.places, 0), dtype=bool),
        model_cost=math.inf,
        lower_bound=solved.lower_bound,
        gap=math.inf,
        finished=solved.status == "impossible",
        clash=solved.clash,
        seconds=solved.seconds,
    )


def whole_visits(
    part: Model, visits: Bools, *, keep_caps: bool = True, time_limit_s: float = 4.0
) -> tuple[Bools, tuple[str, ...]] | None:
    """Visits of the full model at the stops of ``part`` (all open), and which conditions changed them; None if none were found.

    The visits of the exact model stand where they already keep rows and neighbours and no entry could be saved.
    """
    problem = part.whole_problem()
    if not keep_caps:
        problem = replace(problem, interval_cost=part.arcs(work=part.work_beside, keep_caps=False), rows=())
    from .optimise import broken

    opened = np.ones(part.stops, dtype=bool)
    broke = broken(problem, opened, with_look(visits))
    names = []
    if any(word.startswith("row") for word in broke):
        names.append("rows")
    if any(word.startswith("places") for word in broke):
        names.append("neighbour step")
    if any("entries" in word for word in broke):
        names.append("cap on entries")
    if not broke and not _entry_to_save(problem, with_look(visits)):
        return visits, ()
    solved = solve(problem, gap=1e-3, time_limit_s=time_limit_s, method="arc model")
    if solved.visits is None:
        return None
    if not broke:
        names.append("whole entries")
    return solved.visits[:-1], tuple(names)


def with_look(visits: Bools) -> Bools:
    """Visits (P, K) with the row of the look at the wheel, which every open stop has."""
    return np.concatenate([visits, np.ones((1, visits.shape[1]), dtype=bool)])


def _entry_to_save(problem: Problem, visits: Bools) -> bool:
    """Whether some stop's last entry is filled so little that other visits might do without it."""
    rule = problem.entries
    if rule is None or not np.any(rule.cost_per_entry > 0):
        return False
    hours = rule.fixed_hours + (rule.change_hours * visits).sum(axis=0)
    filled = np.where(np.isfinite(rule.hours_per_entry), hours / rule.hours_per_entry, 0.0)
    return bool(((filled > 1.0) & (filled % 1.0 > 1e-9) & (filled % 1.0 < 0.5)).any())
