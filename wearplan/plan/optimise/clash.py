"""Why no plan keeps the rules: the smallest set found of places, stretch and rule that clash.

Each set is made small by leaving places out, and narrowing the stretch, as long as what remains still clashes
(deletion filter; Chinneck 2008, *Feasibility and Infeasibility in Optimization*, ch. 6, from memory). Small means
that no single part can be left out, not that no other set is smaller.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from . import fixed, paths
from .branch import Branching
from .highs import solve_arc_model
from .problem import Floats, Problem, only_places, unpriced
from .result import Clash, Solved, Watch


def why_infeasible(problem: Problem, watch: Watch | None = None) -> Clash | None:
    """The clash that makes a plan impossible; None where a plan exists or none could be shown to be missing in the
    time.
    """
    watch = watch or Watch()
    return (
        _stops_alone(problem)
        or _caps(problem)
        or _rows_at_best(problem)
        or _limits(problem, watch)
        or _tied(problem, watch)
    )


def _stops_alone(problem: Problem) -> Clash | None:
    both = np.flatnonzero(problem.required & ~problem.allowed)
    if both.size:
        return Clash((), int(both[0]), int(both[0]), "forced and forbidden", would_help=(int(both[0]),))
    for b in problem.budgets:
        used = float(b.weight[problem.required].sum())
        if used > b.at_most + 1e-9:
            forced = np.flatnonzero(problem.required & (b.weight > 0))
            ends = (int(forced[0]), int(forced[-1])) if forced.size else (0, problem.end)
            return Clash((), *ends, f"budget {b.name}", used, b.at_most)
    return None


def _caps(problem: Problem) -> Clash | None:
    """A place that no choice of stops brings to the end."""
    nodes = problem.nodes(np.flatnonzero(problem.allowed))
    arcs = problem.arcs[np.ix_(nodes[:-1], nodes)]
    reach = np.isfinite(paths.forward(arcs))
    blocked = np.flatnonzero(~reach[-1])
    if not blocked.size:
        return None
    rest = np.isfinite(paths.backward(arcs))
    stretches = []
    for p in blocked:
        start = int(np.flatnonzero(reach[:, p]).max())
        after = np.flatnonzero(rest[:, p])
        end = int(after[after > start].min())
        stretches.append((int(nodes[end] - nodes[start]), int(p), int(nodes[start]), int(nodes[end])))
    _, place, start, end = min(stretches)
    all_in = paths.forward(problem.arcs[:, :, place : place + 1])[:, 0]
    all_out = paths.backward(problem.arcs[:, :, place : place + 1])[:, 0]
    helps = [n for n in sorted(problem.forbidden) if _opens(problem, place, n)] if np.isfinite(all_in[-1]) else []
    if np.isfinite(all_in[-1]) and not helps:
        helps = [n for n in sorted(problem.forbidden) if np.isfinite(all_in[n] + all_out[n])]
    others = tuple(int(p) for p in blocked if p != place)
    return Clash((place,), start, end, "cap", would_help=tuple(helps), others=others)


def _rows_at_best(problem: Problem) -> Clash | None:
    """A row that has too many over at the next node even where all were served at the last stop before it.

    Each member counts with its least share over all services before the node, so that this is a proof for any shares.
    """
    before = problem.allowed | problem.at([0])
    # Checked at every allowed stop: one that stays closed is passed by all, and they are no better off at the next
    # open one.
    nodes = problem.nodes(np.flatnonzero(problem.allowed))[1:].tolist()
    for rule in problem.rows:
        for n in nodes:
            starts = np.flatnonzero(before[:n])
            least = rule.over[:, starts, n].min(axis=1)
            if float(least.sum()) > rule.at_most + 1e-9:
                last = int(starts[rule.over[:, starts, n].sum(axis=0).argmin()])
                return Clash(rule.members, last, n, f"row {rule.name}")
    return None


def _opens(problem: Problem, place: int, stop: int) -> bool:
    nodes = problem.nodes(np.flatnonzero(problem.allowed | problem.at([stop])))
    arcs = problem.arcs[np.ix_(nodes[:-1], nodes, np.array([place]))]
    return bool(np.isfinite(paths.forward(arcs)[-1, 0]))


def least_use(problem: Problem, rule: str, watch: Watch, *, enough: float = -np.inf) -> Solved:
    """Least a plan of the path model can use of the budget ``rule``; cost and bound are that use. Any plan that uses
    no more than ``enough`` will do; if none can, the bound is above it.
    """
    bare = _bare(problem)
    weight = next(b.weight for b in problem.budgets if b.name == rule)
    bare = replace(bare, stop_cost=weight.astype(float))
    whole = 1.0 if bare.is_path_model and (bare.stop_cost == np.round(bare.stop_cost)).all() else 0.0
    return Branching(bare, 1e-6, watch, whole=whole, enough=enough).run()


def _bare(problem: Problem) -> Problem:
    """The same intervals and stops with nothing to pay and nothing else to keep."""
    return replace(unpriced(problem), budgets=(), entries=None, rows=())


def _limits(problem: Problem, watch: Watch) -> Clash | None:
    """A limit on stops that even the thriftiest plan overdraws."""
    for budget in problem.budgets:
        key, at_most = budget.name, budget.at_most
        if watch.over():
            return None

        def clashes(part: Problem, key: str = key, at_most: float = at_most) -> bool:
            return least_use(part, key, watch, enough=at_most).lower_bound > at_most + 1e-6

        if clashes(problem):
            alone = replace(problem, rows=())
            small, places, start, end = _made_small(alone, clashes, watch)
            needed = least_use(small, key, watch).lower_bound
            return Clash(places, start, end, f"budget {key}", float(np.ceil(needed - 1e-6)), at_most)
    return None


def _tied(problem: Problem, watch: Watch) -> Clash | None:
    """Rules together that no plan keeps, by the arc model."""
    def clashes(part: Problem) -> bool:
        return not watch.over() and solve_arc_model(unpriced(part), gap=1e9, watch=watch).status == "impossible"

    # A single budget and nothing else has been looked at by itself.
    if (problem.is_path_model and len(problem.budgets) < 2) or not clashes(problem):
        return None
    part: Problem = problem
    names: list[str] = []
    if part.entries is not None:
        fewer = replace(part, entries=None)
        part, names = (fewer, names) if clashes(fewer) else (part, [*names, "entries"])
    for budget in part.budgets:
        fewer = replace(part, budgets=tuple(b for b in part.budgets if b is not budget))
        part = fewer if clashes(fewer) else part
    for row in part.rows:
        fewer = replace(part, rows=tuple(r for r in part.rows if r is not row))
        part = fewer if clashes(fewer) else part
    names += [f"budget {b.name}" for b in part.budgets]
    names += [f"row {r.name}" for r in part.rows]
    _, places, start, end = _made_small(part, clashes, watch)
    return Clash(places, start, end, " and ".join(names) or "cap")


def _made_small(
    problem: Problem, clashes: Callable[[Problem], bool], watch: Watch
) -> tuple[Problem, tuple[int, ...], int, int]:
    """Leave out places, then narrow the stretch within which forbidden intervals count, while it still clashes."""
    keep = np.arange(problem.places)
    bound_to = {p for r in problem.rows for p in r.members}
    size = max(1, keep.size // 2)
    while not watch.over():
        at = 0
        while at < keep.size and not watch.over():
            fewer = np.concatenate((keep[:at], keep[at + size :]))
            gone = set(keep[at : at + size].tolist())
            if fewer.size and not gone & bound_to and clashes(only_places(problem, fewer)):
                keep = fewer
            else:
                at += size
        if size == 1:
            break
        size = max(1, size // 2)
    part = only_places(problem, keep)
    start, end = 0, problem.end
    low, high = 0, problem.end
    while low < high and not watch.over():
        mid = (low + high) // 2
        low, high = (low, mid) if clashes(_within(part, start, mid)) else (mid + 1, high)
    end = high
    low, high = 0, end
    while low < high and not watch.over():
        mid = (low + high + 1) // 2
        low, high = (mid, high) if clashes(_within(part, mid, end)) else (low, mid - 1)
    start = low
    return _within(part, start, end), tuple(int(p) for p in keep), start, end


def _within(problem: Problem, start: int, end: int) -> Problem:
    """The problem in which intervals not wholly between two nodes are never forbidden, and stops outside never
    forced.
    """
    cost: Floats = problem.interval_cost.copy()
    s = np.arange(problem.end)[:, None]
    t = np.arange(problem.end + 1)[None, :]
    outside = (s < start) | (t > end)
    cost[:, outside] = np.where(np.isfinite(cost[:, outside]), cost[:, outside], 0.0)
    return replace(problem, interval_cost=cost, forced=tuple(n for n in problem.forced if start < n < end))


def first_plan(problem: Problem, watch: Watch) -> tuple[tuple[int, ...], ...]:
    """Sets of stops that use least of each limit: starting points where nothing else was found."""
    found = []
    for budget in problem.budgets:
        enough = budget.at_most if np.isfinite(budget.at_most) else -np.inf
        solved = least_use(problem, budget.name, watch, enough=enough)
        if solved.visits is not None and fixed.keeps_stop_rules(problem, problem.at(solved.stops)):
            found.append(solved.stops)
    return tuple(found)
