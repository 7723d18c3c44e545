"""The planning problem as plain arrays: places, candidate stops, and what every interval between two services costs.

Nodes are counted in order of drive: node 0 is now (the tools in place), nodes 1..N are the candidate stops, node N+1
is the end of the drive. The whole room of the plan counts so. What belongs to stops has an entry for each node, (N+2,),
which is 0 or False at both ends, where nobody stops.

Two models
----------
*Path model*: each place goes from node 0 to node N+1 along arcs "served at s and next at t"; a stop must be open
where a place is served. Interval costs, stop costs, forced and forbidden stops and budgets on stops belong to it.
With the stops fixed it is one shortest path a place (Joneja 1990; Gustavsson et al. 2014, Computers & Industrial
Engineering 76:390), and both solvers hold it exactly.

*Full model*: the path model and what ties places together. Rows do: with the stops given each is on its own, so the
best visits are found exactly (`repair`), and the price method closes the gap. Whole entries do, too; only the arc model
in one piece holds them, as a bound from outside for small tasks. The program's plans keep whole entries and the
neighbour step by repair (`wearplan.plan.carry_out`). Tried on the sample, a full model priced in one piece found in a
minute 0.05 % less than repair without a cap on entries, 0.1 % more at a cap of 30, and no plan at all at 20.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Budget:
    """At most so much of a weight over all open stops, as entries under pressure where each open stop counts its own.

    Attributes
    ----------
    name : what is limited, for messages.
    weight : (N+2,), not negative.
    at_most : the most the open stops may add up to.
    """

    name: str
    weight: Floats
    at_most: float


@dataclass(frozen=True)
class WholeEntries:
    """Entries counted whole: an open stop takes ``max(1, ceil(hours / hours_per_entry))`` of them.

    Attributes
    ----------
    change_hours : (P, N+2) working hours that serving place p at stop n takes (already shared over the work places).
    fixed_hours : (N+2,) working hours of every open stop (clean, look).
    hours_per_entry : (N+2,) working hours of one entry; ``inf`` where one entry holds any work, and at both ends.
    cost_per_entry : (N+2,) not negative.
    counted : (N+2,) how much one entry at stop n counts against ``at_most`` (1 under pressure, 0 in free air).
    at_most : most entries over the drive, ``inf`` for none.
    """

    change_hours: Floats
    fixed_hours: Floats
    hours_per_entry: Floats
    cost_per_entry: Floats
    counted: Floats
    at_most: float = np.inf

    def entries(self, open_stops: Bools, visits: Bools) -> Floats:
        """Whole entries at each stop, (N+2,); 0 where it is closed. ``open_stops`` (N+2,), ``visits`` (P, N+2)."""
        hours = self.fixed_hours + (self.change_hours * visits).sum(axis=0)
        with np.errstate(invalid="ignore"):
            needed = np.ceil(hours / self.hours_per_entry - 1e-9)
        return np.where(open_stops, np.maximum(needed, 1.0), 0.0)


@dataclass(frozen=True)
class RowRule:
    """Of a row's places at most so many may be over their limit when a stop, or the end, is reached.

    ``over[m, s, t]`` is how much member m counts at node t when last served at s (0 or 1, or a chance); it must not
    fall as t grows.
    """

    name: str
    members: tuple[int, ...]
    over: Floats  # (M, N+1, N+2)
    at_most: float


@dataclass(frozen=True)
class Problem:
    """Which stops to open and which places to serve at each, at least cost.

    Attributes
    ----------
    interval_cost : (P, N+1, N+2); ``[p, s, t]`` is the expected cost of place p served at s and next at t, with the
        cost of serving it at t where t is a stop. ``inf`` forbids the interval (a cap). Only s < t is read. Costs may
        be negative (value left).
    stop_cost : (N+2,) fixed cost of opening a stop.
    forced, forbidden : stops (1..N) that must or must not be open.
    budgets : limits on weights of the open stops.
    entries : whole entries, or None.
    rows : conditions that tie places together.
    """

    interval_cost: Floats
    stop_cost: Floats
    forced: tuple[int, ...] = ()
    forbidden: tuple[int, ...] = ()
    budgets: tuple[Budget, ...] = ()
    entries: WholeEntries | None = None
    rows: tuple[RowRule, ...] = ()

    def __post_init__(self) -> None:
        places, starts, ends = self.interval_cost.shape
        if ends != starts + 1:
            raise ValueError(f"interval_cost has shape {self.interval_cost.shape}: want (P, N+1, N+2)")
        if self.stop_cost.shape != (ends,) or not np.all(np.isfinite(self.stop_cost)) or self.stop_cost[[0, -1]].any():
            raise ValueError(f"stop_cost must be {ends} finite numbers, the first and the last 0")
        lower = np.arange(starts)[:, None] >= np.arange(ends)[None, :]
        if np.isnan(self.interval_cost[:, ~lower]).any() or (self.interval_cost[:, ~lower] == -np.inf).any():
            raise ValueError("interval_cost holds NaN or -inf for some s < t")
        for name, some in (("forced", self.forced), ("forbidden", self.forbidden)):
            if any(not 0 < n < starts for n in some):
                raise ValueError(f"{name} names a stop outside 1..{self.stops}")
        for budget in self.budgets:
            weight = budget.weight
            if weight.shape != (ends,) or (weight < 0).any() or weight[[0, -1]].any():
                raise ValueError(f"budget {budget.name!r}: want {ends} weights, none negative, first and last 0")
        if self.entries is not None and self.entries.change_hours.shape != (places, ends):
            raise ValueError(f"entries.change_hours must have shape {(places, ends)}")

    @property
    def places(self) -> int:
        """Number of places, P."""
        return int(self.interval_cost.shape[0])

    @property
    def stops(self) -> int:
        """Number of candidate stops, N."""
        return self.end - 1

    @property
    def end(self) -> int:
        """Node of the end of the drive, N+1."""
        return int(self.interval_cost.shape[1])

    @cached_property
    def arcs(self) -> Floats:
        """(N+1, N+2, P) interval costs with the places innermost, ``inf`` for s >= t: the layout the shortest paths
        run on.
        """
        arcs = np.ascontiguousarray(np.moveaxis(self.interval_cost, 0, 2), dtype=np.float64)
        if arcs.base is not None or arcs is self.interval_cost:
            arcs = arcs.copy()
        starts, ends = arcs.shape[:2]
        arcs[np.arange(starts)[:, None] >= np.arange(ends)[None, :]] = np.inf
        return arcs

    @cached_property
    def allowed(self) -> Bools:
        """(N+2,) stops that may be open."""
        allowed = np.ones(self.end + 1, dtype=bool)
        allowed[[0, *self.forbidden, -1]] = False
        return allowed

    @cached_property
    def required(self) -> Bools:
        """(N+2,) stops that must be open."""
        return self.at(self.forced)

    def at(self, stops: Iterable[int]) -> Bools:
        """(N+2,) True at some nodes."""
        found = np.zeros(self.end + 1, dtype=bool)
        found[list(stops)] = True
        return found

    def nodes(self, stops: Iterable[int]) -> NDArray[np.intp]:
        """(K+2,) now, some stops in order, and the end."""
        return np.array([0, *sorted(stops), self.end], dtype=np.intp)

    @property
    def is_path_model(self) -> bool:
        """True where nothing ties places together, so that the stops alone decide."""
        return not self.rows and self.entries is None

    @property
    def tied_by(self) -> tuple[str, ...]:
        """Names of the conditions present that tie places together."""
        present = {
            "whole entries": self.entries is not None,
            "rows": bool(self.rows),
        }
        return tuple(name for name, there in present.items() if there)


def unpriced(problem: Problem) -> Problem:
    """The same intervals, stops and conditions with nothing to pay."""
    rules, free = problem.entries, np.zeros(problem.end + 1)
    return replace(
        problem,
        interval_cost=np.where(np.isfinite(problem.interval_cost), 0.0, np.inf),
        stop_cost=free,
        entries=None if rules is None else replace(rules, cost_per_entry=free),
    )


def restricted(problem: Problem, stops: Iterable[int], required: Iterable[int] = ()) -> Problem:
    """The same problem with only these candidate stops (K), in order, and those of them ``required`` forced.

    Stop k of the new problem is node k of ``problem.nodes(stops)`` in the old one. Stops left out are closed for good.
    """
    nodes = problem.nodes(stops)
    pick = np.ix_(nodes[:-1], nodes)
    rules = problem.entries
    return Problem(
        interval_cost=problem.interval_cost[:, pick[0], pick[1]],
        stop_cost=problem.stop_cost[nodes],
        forced=tuple(int(k) for k in np.flatnonzero(np.isin(nodes, list(required)))),
        budgets=tuple(replace(b, weight=b.weight[nodes]) for b in problem.budgets),
        entries=None
        if rules is None
        else WholeEntries(
            rules.change_hours[:, nodes],
            rules.fixed_hours[nodes],
            rules.hours_per_entry[nodes],
            rules.cost_per_entry[nodes],
            rules.counted[nodes],
            rules.at_most,
        ),
        rows=tuple(replace(r, over=r.over[:, pick[0], pick[1]]) for r in problem.rows),
    )


def only_places(problem: Problem, keep: np.ndarray) -> Problem:
    """The problem of some places; rules that name a place left out must not be there."""
    new = {int(p): k for k, p in enumerate(keep)}
    entries = problem.entries
    return replace(
        problem,
        interval_cost=problem.interval_cost[keep],
        entries=None if entries is None else replace(entries, change_hours=entries.change_hours[keep]),
        rows=tuple(replace(r, members=tuple(new[p] for p in r.members)) for r in problem.rows),
    )
