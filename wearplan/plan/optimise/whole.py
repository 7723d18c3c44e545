"""A lower bound over all stops with entries counted whole.

Entries in parts cost no more than whole ones, so that a stop or an arc which lifts the bound in parts to some cost
leads to no plan in whole entries below it. What is left under that cost is small enough for one piece.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import prices
from .arc_model import arc_model
from .branch import ROOT_ROUNDS, Branching
from .groups import can_group, firsts, grouped
from .highs import run
from .problem import Bools, Problem, restricted, unpriced
from .result import Solved, Watch


class _Reaches(Watch):
    """Also over once the lower bound reaches a cost: it asks no more than that."""

    def __init__(self, cost: float, **watch: Any) -> None:
        super().__init__(**watch)
        self.cost = cost

    def tell(self, cost: float, lower_bound: float, step: str) -> None:
        if lower_bound >= self.cost:
            self.stopped = "bound reached"


class _Under(Branching):
    """Rules out what costs no less than ``at``; plans in parts of entries are none, and do not lower it."""

    def __init__(self, path: Problem, at: float, watch: Watch) -> None:
        super().__init__(path, 1e-9, watch)
        self.cost, self.least = at, np.inf

    def keep(self, found: Solved) -> None:
        """Take its stops to price the rows by, and no more."""
        if found.visits is not None and found.cost < self.least:
            self.stops, self.visits, self.least = found.stops, found.visits, found.cost


def whole_bound(
    path: Problem, whole: Problem, at: float, *, alike: NDArray[np.intp], most_arcs: int, most_nodes: int, watch: Watch
) -> float:
    """What no plan in whole entries costs less than, about ``at`` and no higher; -inf where that cannot be said, or
    more arcs than ``most_arcs`` are left below it.

    ``alike`` (N+2,) numbers the stops: neighbours of one number share cost, hours and entries, and are taken as one.
    """
    all_stops = _Under(path, at, watch)
    priced = all_stops.tighten(prices.start_prices(path), ROOT_ROUNDS, root=True)[0]
    ruled_out = min(all_stops.set_aside, all_stops.threshold)
    if priced.bound >= all_stops.threshold:
        return float(min(ruled_out, priced.bound))
    left, needed = priced.stops, priced.where(priced.opened)
    small = [restricted(each, left, needed) for each in (path, whole)]
    first = firsts(alike[priced.nodes])
    if watch.over() or not all(can_group(each, first) for each in small):
        return float(-np.inf)
    parts, entire = (grouped(each, first) for each in small)
    groups = _Under(parts, at, watch)
    priced, found = groups.tighten(prices.start_prices(parts), ROOT_ROUNDS, root=True)
    ruled_out = min(ruled_out, groups.set_aside, groups.threshold)
    if priced.bound >= groups.threshold:
        return float(min(ruled_out, priced.bound))
    if watch.over() or found is None:
        return float(-np.inf)
    keep = prices.arcs_within(found, groups.threshold)
    if int(keep.sum()) > most_arcs:
        return float(-np.inf)
    rest = restricted(entire, priced.stops, priced.where(priced.opened))
    model = arc_model(rest, keep=keep)
    # Only stops and entries whole: nearly as high a bound, several times as quick.
    each = np.arange(model.whole.size) >= model.place.size
    until = _Reaches(at, time_limit_s=watch.left_s, should_stop=watch.should_stop)
    status, _, bound, _, _ = run(replace(model, whole=each), gap=1e-4, most_nodes=most_nodes, watch=until)
    return float(ruled_out if status == "impossible" else min(ruled_out, bound))


def least_entries(whole: Problem, *, alike: NDArray[np.intp], most_arcs: int, most_nodes: int, watch: Watch) -> float:
    """The fewest counted entries, whole, that any plan takes, or fewer; 0 where nothing is shown.

    Money is left out, and stops ``alike`` are taken as one: the least of that is no higher.
    """
    rule = whole.entries
    if rule is None:
        return 0.0
    few = replace(rule, cost_per_entry=rule.counted, at_most=np.inf)
    left = np.flatnonzero(whole.allowed)
    bare = restricted(replace(unpriced(whole), budgets=(), entries=few), left, whole.forced)
    small = grouped(bare, firsts(alike[whole.nodes(left)]))
    if int(np.isfinite(small.arcs).sum()) > most_arcs:
        return 0.0
    status, _, bound, _, _ = run(arc_model(small), gap=1e-4, most_nodes=most_nodes, watch=watch)
    return float(np.inf if status == "impossible" else max(0.0, np.ceil(bound - 1e-4)))


def arcs_below(path: Problem, cost: float) -> Bools:
    """(N+1, N+2, P) arcs that can be part of a plan below a cost, all stops being open."""
    return prices.arcs_within(prices.penalties(prices.start_prices(path)), cost)
