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
from wearplan.plan.optimise import Solved, nearby, solve
from wearplan.plan.optimise.between import Cells
from wearplan.plan.optimise.result import Status, relative_gap
from wearplan.plan.settings import SETTINGS

from .exact import Bools, Model, served_before


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
        """(N,) the rings worked out, among all."""
        self.forced = tuple(int(self.known[n]) for n in base.forced)
        order = np.argsort(every.window, kind="stable")
        starts = np.flatnonzero(np.diff(every.window[order], prepend=-1))
        self.rank = np.empty(len(every), dtype=np.intp)
        """Number of each ring within its window."""
        for low, high in zip(starts, [*starts[1:], len(every)], strict=True):
            self.rank[order[low:high]] = np.arange(high - low)

    def model(self, picks: NDArray[np.intp]) -> Model:
        """The task with these rings (sorted, 0-based among all) as candidates."""
        known, every = self.known, self.every
        low, high, theta = (np.zeros(len(picks) + 2, dtype=kind) for kind in (np.intp, np.intp, float))
        low[-1] = high[-1] = len(known) + 1
        for k, n in enumerate(picks, start=1):
            mine = np.flatnonzero(every.window[known] == every.window[n])
            a, b = mine[known[mine] <= n].max(), mine[known[mine] >= n].min()
            low[k], high[k] = a + 1, b + 1
            x, y = every.driven_m[known[[a, b]]]
            theta[k] = (every.driven_m[n] - x) / max(y - x, 1e-12)
        lines = Lines(low, high, theta)
        inter = self.base.inter
        node_m = np.concatenate([inter.node_m[:1], every.driven_m[picks], inter.node_m[-1:]])
        number = {int(n): i for i, n in enumerate(picks)}
        cands = replace(
            every,
            driven_m=every.driven_m[picks],
            ring=every.ring[picks],
            window=every.window[picks],
            standing=None if every.standing is None else number[every.standing],
        )
        harder = self.base.harder_over
        return replace(
            self.base,
            cands=cands,
            inter=lines.read(inter, node_m),
            harder_over=None if harder is None else lines.over(harder),
            forced=tuple(sorted(number[n] for n in self.forced)),
        )

    def _before(self, picks: NDArray[np.intp], t: int) -> int | None:
        """The weighed node before t in its window."""
        mine = np.flatnonzero(self.every.window[picks] == self.every.window[picks[t - 1]]) + 1
        return int(mine[mine < t].max()) if (mine < t).any() else None

    def _after(self, picks: NDArray[np.intp], s: int) -> int | None:
        mine = np.flatnonzero(self.every.window[picks] == self.every.window[picks[s - 1]]) + 1
        return int(mine[mine > s].min()) if (mine > s).any() else None

    def of_windows_at(self, nodes: set[int], picks: NDArray[np.intp]) -> NDArray[np.intp]:
        """These rings with all those of the windows that some nodes of the task worked out lie in."""
        windows = {int(self.base.cands.window[n - 1]) for n in nodes if 1 <= n <= self.base.stops}
        return np.union1d(picks, np.flatnonzero(np.isin(self.every.window, sorted(windows))))

    def within(self, solved: Solved, picks: NDArray[np.intp]) -> set[int]:
        """The rings next to the stops of a plan, half way to the next weighed one on either side."""
        found: set[int] = set()
        for n in solved.stops:
            mine = np.flatnonzero(self.every.window == self.every.window[picks[n - 1]])
            for other in (self._before(picks, n), self._after(picks, n)):
                if other is not None:
                    middle = 0.5 * (picks[other - 1] + picks[n - 1])
                    found.add(int(mine[np.argmin(np.abs(mine - middle))]))
        return found


def _keys(cands: Candidates) -> Iterable[tuple[int, int]]:
    return zip(cands.ring.tolist(), cands.window.tolist(), strict=True)


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
    nodes = int(np.clip(effort.work / (base.places * len(picks) ** 2 + 1), 10, 400))
    bounding = solve(cells.bounding(problem, bare), gap=effort.gap, most_nodes=nodes, should_stop=should_stop)
    plain = solve(problem, gap=effort.gap, most_nodes=1, should_stop=should_stop)
    best = min((nearby(problem, found.stops) for found in (bounding, plain)), key=lambda found: found.cost)
    model = base
    for _ in range(effort.rounds):
        if best.visits is None or (should_stop is not None and should_stop()):
            break
        # The next stops first: those further on are planned anew before they come.
        room = max(0, int(np.sqrt(effort.arcs / max(1, base.places))) - len(picks))
        more = sorted(rings.within(best, picks) - set(picks.tolist()))[:room]
        if not more:
            break
        was = [int(picks[n - 1]) for n in best.stops]
        picks = np.array(sorted({*picks.tolist(), *more}), dtype=np.intp)
        model = rings.model(picks)
        best = nearby(model.path_problem(), [int(np.searchsorted(picks, n)) + 1 for n in was])
    if best.visits is None:
        return Refined(model=base)
    bound = bounding.lower_bound - read_off_by(model, best.visits[:-1])
    gap = relative_gap(best.cost, bound)
    status: Status = "least cost" if gap <= effort.told else "best found"
    return Refined(model=model, solved=replace(best, lower_bound=bound, gap=gap, status=status))


def read_off_by(model: Model, visits: Bools) -> float:
    """By how much the costs of a plan (P, N) that were read between rings miss those worked out: summed over its
    intervals whatever the sign, from every so many-th place, and taken off the bound.
    """
    stops = np.flatnonzero(visits.any(axis=0))
    nodes = model.nodes_at(stops)
    some = np.arange(0, model.places, max(1, model.places // SETTINGS.rings.places))
    part = replace(model.ahead, tools=tuple(model.ahead.tools[p] for p in some))
    true = intervals(part, model.inter.node_m[nodes])
    last = served_before(visits[np.ix_(some, stops)])
    p, k = np.nonzero(visits[np.ix_(some, stops)])
    who = np.concatenate([p, np.arange(len(some))])
    start = np.concatenate([last[p, k + 1], last[:, -1]])
    end = np.concatenate([k + 1, np.full(len(some), len(nodes) - 1)])
    told = model.bare_cost[some[who], nodes[start], nodes[end]]
    off = np.abs((true.late_cost + true.tool_cost)[who, start, end] - told)
    return float(off.sum() * model.places / len(some))
