"""Long drives: from the rings worked out to those a plan turns on, with a lower bound for all rings there are.

The bounding problem of the rings worked out (`optimise.between`) gives a bound for every ring and a first plan. Then
the rings half way to either side of its stops are taken in, and the plan goes to where it costs least, until no ring
lies between.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.ahead.candidates import Candidates
from wearplan.plan.ahead.intervals import intervals
from wearplan.plan.ahead.straight import Lines
from wearplan.plan.optimise import Solved, intervals_of, nearby, solve
from wearplan.plan.optimise.between import Cells
from wearplan.plan.optimise.result import Status, relative_gap
from wearplan.plan.settings import SETTINGS

from .exact import Bools, Model


@dataclass(frozen=True, kw_only=True)
class Refined:
    """The task with the rings that count."""

    model: Model
    solved: Solved | None = None
    """A plan in it, its bound one for every ring there is; None where the task is to be solved as it is."""


class AllRings:
    """Every ring of a drive, its intervals read from those worked out."""

    def __init__(self, base: Model, every: Candidates) -> None:
        self.base, self.every = base, every
        where = {key: i for i, key in enumerate(_keys(every))}
        self.known = np.array([where[key] for key in _keys(base.cands)], dtype=np.intp)
        """(N+2,) the nodes worked out, among all."""
        self.forced = tuple(int(self.known[n]) for n in base.forced)
        self.rank = np.empty(len(every.window), dtype=np.intp)
        """Number of each ring within its window."""
        for window in np.unique(every.window):
            mine = np.flatnonzero(every.window == window)
            self.rank[mine] = np.arange(len(mine))

    def model(self, picks: NDArray[np.intp]) -> Model:
        """The task with these nodes (sorted, among all; now and the end are of them) as its own."""
        known, every = self.known, self.every
        low, high, theta = (np.zeros(len(picks), dtype=kind) for kind in (np.intp, np.intp, float))
        for k, n in enumerate(picks):
            mine = np.flatnonzero(every.window[known] == every.window[n])
            low[k], high[k] = mine[known[mine] <= n].max(), mine[known[mine] >= n].min()
            x, y = every.driven_m[known[[low[k], high[k]]]]
            theta[k] = (every.driven_m[n] - x) / max(y - x, 1e-12)
        lines = Lines(low, high, theta)
        cands = every.only(picks)
        harder = self.base.harder_over
        return replace(
            self.base,
            cands=cands,
            inter=lines.read(self.base.inter, cands.driven_m),
            harder_over=None if harder is None else lines.over(harder),
            forced=tuple(int(k) for k in np.flatnonzero(np.isin(picks, self.forced))),
        )

    def of_windows_at(self, nodes: set[int], picks: NDArray[np.intp]) -> NDArray[np.intp]:
        """These nodes with all those of the windows that some nodes of the task worked out lie in."""
        windows = {int(self.base.cands.window[n]) for n in nodes} - {-1}
        return np.union1d(picks, np.flatnonzero(np.isin(self.every.window, sorted(windows))))

    def within(self, solved: Solved, picks: NDArray[np.intp]) -> set[int]:
        """The rings next to the stops of a plan, half way to the next weighed one on either side."""
        found: set[int] = set()
        for here in picks[list(solved.stops)]:
            mine = np.flatnonzero(self.every.window == self.every.window[here])
            weighed = np.intersect1d(mine, picks)
            for other in (*weighed[weighed < here][-1:], *weighed[weighed > here][:1]):
                found.add(int(mine[np.argmin(np.abs(mine - 0.5 * (other + here)))]))
        return found


def _keys(cands: Candidates) -> Iterable[tuple[float, int]]:
    return zip(cands.driven_m.tolist(), cands.window.tolist(), strict=True)


def refined(base: Model, *, should_stop: Callable[[], bool] | None = None) -> Refined:
    """The task with the rings that count, a plan in it, and a bound for all of them."""
    if base.cands.every is None:
        return Refined(model=base)
    rings, effort = AllRings(base, base.cands.every), SETTINGS.rings
    picks = rings.known
    if late := {r.from_node for r in base.relaxed if r.from_node}:
        # A cap that is not kept from the rings worked out may be kept from one between them.
        picks = rings.of_windows_at(late, picks)
        base = rings.model(picks)
    problem = base.path_problem()
    bare = base.arcs(work=base.work_in_parts, keep_caps=False, keep_rows=False)
    cells = Cells.of(rings.rank[picks], base.cands.window)
    nodes = int(np.clip(effort.work / (base.places * base.stops**2 + 1), 10, 400))
    bounding = solve(cells.bounding(problem, bare), gap=effort.gap, most_nodes=nodes, should_stop=should_stop)
    plain = solve(problem, gap=effort.gap, most_nodes=1, should_stop=should_stop)
    best = min((nearby(problem, found.stops) for found in (bounding, plain)), key=lambda found: found.cost)
    model = base
    for _ in range(effort.rounds):
        if best.visits is None or (should_stop is not None and should_stop()):
            break
        # The next stops first: those further on are planned anew before they come.
        room = max(0, int(np.sqrt(effort.arcs / max(1, base.places))) - model.stops)
        more = sorted(rings.within(best, picks) - set(picks.tolist()))[:room]
        if not more:
            break
        was = picks[list(best.stops)]
        picks = np.array(sorted({*picks.tolist(), *more}), dtype=np.intp)
        model = rings.model(picks)
        best = nearby(model.path_problem(), [int(n) for n in np.searchsorted(picks, was)])
    if best.visits is None:
        return Refined(model=base)
    bound = bounding.lower_bound - read_off_by(model, best.visits[:-1])
    gap = relative_gap(best.cost, bound)
    status: Status = "least cost" if gap <= effort.told else "best found"
    return Refined(model=model, solved=replace(best, lower_bound=bound, gap=gap, status=status))


def read_off_by(model: Model, visits: Bools) -> float:
    """By how much the costs of a plan (P, N+2) that were read between rings miss those worked out: summed over its
    intervals whatever the sign, from every so many-th place, and taken off the bound.
    """
    stops = np.flatnonzero(visits.any(axis=0))
    nodes = model.nodes_at(stops)
    visits = visits[:, nodes]
    some = np.arange(0, model.places, max(1, model.places // SETTINGS.rings.places))
    part = replace(model.ahead, tools=tuple(model.ahead.tools[p] for p in some))
    true = intervals(part, model.inter.node_m[nodes])
    who, start, end = intervals_of(visits[some])
    told = model.bare_cost[some[who], nodes[start], nodes[end]]
    off = np.abs((true.late_cost + true.tool_cost)[who, start, end] - told)
    return float(off.sum() * model.places / len(some))
