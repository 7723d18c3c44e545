"""The arc model as a sparse mixed-integer programme: the full model, exact, for small and middle sizes.

Columns: one 0..1 variable for each finite arc "place p served at s and next at t", one 0/1 variable a stop, one whole
number of entries a stop. With the stops fixed the arcs are integral by themselves (a shortest path a place), so they
are declared continuous unless something ties places together.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .problem import Bools, Floats, Problem


@dataclass(frozen=True)
class ArcModel:
    """min cost @ z, row_lower <= matrix @ z <= row_upper, lower <= z <= upper, z whole where ``whole``.

    Column order: arcs (``place, start, end`` give each one), then whether each node is an open stop, then the entries
    at each where there are any. Those of now and the end stay 0.
    """

    cost: Floats
    lower: Floats
    upper: Floats
    whole: Bools
    matrix: Any  # scipy.sparse.csc_array
    row_lower: Floats
    row_upper: Floats
    place: np.ndarray
    start: np.ndarray
    end: np.ndarray
    nodes: int

    def opened(self, solution: Floats) -> tuple[int, ...]:
        """Open stops of a solution."""
        y = solution[self.place.size :][: self.nodes]
        return tuple(int(n) for n in np.flatnonzero(y > 0.5))

    def visits(self, solution: Floats, places: int) -> Bools:
        """(P, N+2) visits of a solution whose arcs are whole."""
        visits = np.zeros((places, self.nodes), dtype=bool)
        used = solution[: self.place.size] > 0.5
        visits[self.place[used], self.end[used]] = True
        visits[:, -1] = False
        return visits


class _Rows:
    """Collects constraint rows as triplets."""

    def __init__(self) -> None:
        self.row: list[np.ndarray] = []
        self.col: list[np.ndarray] = []
        self.value: list[np.ndarray] = []
        self.lower: list[np.ndarray] = []
        self.upper: list[np.ndarray] = []
        self.count = 0

    def block(self, entries: list[tuple[np.ndarray, np.ndarray, np.ndarray]], lower: Floats, upper: Floats) -> None:
        """Add ``len(lower)`` rows; entries are (row within the block, column, value)."""
        for row, col, value in entries:
            self.row.append(row + self.count)
            self.col.append(col)
            self.value.append(np.broadcast_to(value, row.shape))
        self.lower.append(lower)
        self.upper.append(upper)
        self.count += lower.size


def arc_model(problem: Problem, *, keep: Bools | None = None, open_only: Bools | None = None) -> ArcModel:
    """Build the arc model.

    Parameters
    ----------
    keep : (N+1, N+2, P) arcs to keep, or None for every finite one.
    open_only : (N+2,) stops that may be open, besides what the problem allows; or None.
    """
    nodes, places = problem.end + 1, problem.places
    allowed = problem.allowed if open_only is None else problem.allowed & open_only
    usable = allowed | problem.at([0, problem.end])
    finite = np.isfinite(problem.arcs) & usable[:-1, None, None] & usable[None, :, None]
    if keep is not None:
        finite &= keep
    start, end, place = np.nonzero(finite)
    order = np.lexsort((end, start, place))
    start, end, place = start[order], end[order], place[order]
    arcs = place.size
    stop_col = arcs + np.arange(nodes)
    entry_col = arcs + nodes + np.arange(nodes)
    columns = arcs + nodes * (1 if problem.entries is None else 2)
    rows = _Rows()
    each = np.arange(arcs)
    one = np.array(1.0)
    inner = end < problem.end

    # Each place leaves now once, and leaves every stop as often as it arrives there.
    balance = np.zeros((places, problem.end))
    balance[:, 0] = 1.0
    rows.block(
        [
            (place * problem.end + start, each, one),
            ((place * problem.end + end)[inner], each[inner], -one),
        ],
        balance.ravel(),
        balance.ravel(),
    )
    # A stop is open where a place is served.
    link = np.arange(places * nodes)
    rows.block(
        [
            ((place * nodes + end)[inner], each[inner], one),
            (link, np.tile(stop_col, places), -one),
        ],
        np.full(link.size, -np.inf),
        np.zeros(link.size),
    )
    for budget in problem.budgets:
        rows.block(
            [(np.zeros(nodes, dtype=np.intp), stop_col, budget.weight)], np.array([-np.inf]), np.array([budget.at_most])
        )
    _add_entries(problem, rows, place, end, stop_col, entry_col)
    _add_rows(problem, rows, place, start, end)

    cost = [problem.arcs[start, end, place], problem.stop_cost]
    lower = [np.zeros(arcs), problem.required.astype(float)]
    upper = [np.ones(arcs), allowed.astype(float)]
    tied = not problem.is_path_model
    whole = [np.full(arcs, tied), np.ones(nodes, dtype=bool)]
    if problem.entries is not None:
        cost.append(problem.entries.cost_per_entry)
        lower.append(np.zeros(nodes))
        upper.append(np.full(nodes, np.inf))
        whole.append(np.ones(nodes, dtype=bool))
    import scipy.sparse

    matrix = scipy.sparse.csc_array(
        (np.concatenate(rows.value), (np.concatenate(rows.row), np.concatenate(rows.col))), shape=(rows.count, columns)
    )
    return ArcModel(
        cost=np.concatenate(cost),
        lower=np.concatenate(lower),
        upper=np.concatenate(upper),
        whole=np.concatenate(whole),
        matrix=matrix,
        row_lower=np.concatenate(rows.lower),
        row_upper=np.concatenate(rows.upper),
        place=place,
        start=start,
        end=end,
        nodes=nodes,
    )


def _add_entries(
    problem: Problem, rows: _Rows, place: np.ndarray, end: np.ndarray, stop_col: np.ndarray, entry_col: np.ndarray
) -> None:
    rule = problem.entries
    if rule is None:
        return
    nodes = problem.end + 1
    inner = np.flatnonzero(end < problem.end)
    # Hours of work fit into the entries; an hour per entry of inf means one entry holds all.
    per_hour = 1.0 / rule.hours_per_entry
    at = end[inner]
    rows.block(
        [
            (at, inner, rule.change_hours[place[inner], at] * per_hour[at]),
            (np.arange(nodes), stop_col, rule.fixed_hours * per_hour),
            (np.arange(nodes), entry_col, np.array(-1.0)),
        ],
        np.full(nodes, -np.inf),
        np.zeros(nodes),
    )
    rows.block(
        [(np.arange(nodes), stop_col, np.array(1.0)), (np.arange(nodes), entry_col, np.array(-1.0))],
        np.full(nodes, -np.inf),
        np.zeros(nodes),
    )
    if np.isfinite(rule.at_most):
        zero = np.zeros(nodes, dtype=np.intp)
        rows.block([(zero, entry_col, rule.counted)], np.array([-np.inf]), np.array([rule.at_most]))


def _add_rows(problem: Problem, rows: _Rows, place: np.ndarray, start: np.ndarray, end: np.ndarray) -> None:
    nodes = problem.end + 1
    for rule in problem.rows:
        entries = []
        for m, p in enumerate(rule.members):
            mine = np.flatnonzero(place == p)
            for n in range(1, nodes):
                over = mine[(start[mine] < n) & (end[mine] >= n)]
                weight = rule.over[m, start[over], n]
                some = weight > 0
                entries.append((np.full(int(some.sum()), n), over[some], weight[some]))
        rows.block(entries, np.full(nodes, -np.inf), np.full(nodes, rule.at_most))
