"""Visits that keep the conditions which tie places together, place by place, with the stops given.

Each place in turn takes its cheapest path given what all others do. Seen from one place every condition falls on its
own arcs: an entry more at a stop, a change too many, a neighbour left too far behind, a row with too many over.
Broken conditions cost a large penalty, so that the first visits may break them. Not exact: no single place can do
better alone, two together might.
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from . import fixed, paths
from .problem import Bools, Floats, Problem
from .result import Watch

PASSES = 8
ROUNDS = 25


class Together:
    """Visits at the given stops under repair. Nodes are counted among the open stops only: 0, 1..k, k + 1."""

    def __init__(self, problem: Problem, stops: Iterable[int], tolls: Floats | None = None) -> None:
        self.problem = problem
        self.nodes = fixed.nodes_of(problem, stops)
        ids = np.array(self.nodes[1:-1], dtype=np.intp) - 1
        self.ids = ids
        self.arcs = fixed.sub_arcs(problem, self.nodes)
        finite = self.arcs[np.isfinite(self.arcs)]
        self.much = 20.0 * (
            1.0 + float(np.abs(finite).max(initial=0.0)) + float(np.abs(problem.stop_cost).max(initial=0.0))
        )
        priced = self.arcs
        if tolls is not None:
            priced = self.arcs.copy()
            priced[:, 1:-1] += tolls[ids]
        reach = paths.forward(priced)
        self.possible = bool(np.isfinite(reach[-1]).all())
        self.visits = paths.trace(priced, reach)  # (k+2, P)
        grid = np.ix_(self.nodes[:-1], self.nodes)
        self.partners: list[list[tuple[int, Floats, Floats, float]]] = [[] for _ in range(problem.places)]
        for pair in problem.neighbours:
            wear = pair.wear_mm[:, grid[0], grid[1]]
            self.partners[pair.first].append((pair.second, wear[0], wear[1], pair.step_mm))
            self.partners[pair.second].append((pair.first, wear[1], wear[0], pair.step_mm))
        self.rows: list[list[tuple[int, int]]] = [[] for _ in range(problem.places)]
        self.over = [rule.over[:, grid[0], grid[1]] for rule in problem.rows]
        for k, rule in enumerate(problem.rows):
            for m, p in enumerate(rule.members):
                self.rows[p].append((k, m))
        self.must = np.zeros((len(self.nodes), problem.places), dtype=bool)
        self.last = np.zeros((len(self.nodes), problem.places), dtype=np.intp)
        self._remember(np.arange(problem.places))

    def _remember(self, places: np.ndarray) -> None:
        for n in range(1, len(self.nodes)):
            self.last[n, places] = np.where(self.visits[n - 1, places], n - 1, self.last[n - 1, places])

    def _level(self, place: int, wear: Floats) -> Floats:
        """(k+2,) wear of a place after each stop, as its visits stand."""
        every = np.arange(len(self.nodes))
        left = wear[self.last[:, place], every]
        left[self.visits[:, place]] = 0.0
        return left

    def _seen_by(self, place: int, hours: Floats) -> Floats:
        """(k+1, k+2) arcs of one place with all that they cause; ``hours`` (k,) is the work of all others at each
        stop.
        """
        arcs = self.arcs[:, :, place].copy()
        rules = self.problem.entries
        if rules is not None:
            arcs[:, 1:-1] += self._entries_more(place, hours)
        if self.problem.most_changes is not None:
            others = self.visits[1:-1].sum(axis=1) - self.visits[1:-1, place]
            arcs[:, 1:-1] += self.much * (others + 1 > self.problem.most_changes[self.ids])
        must = self.must[:, place]
        if must.any():
            passed = np.cumsum(must) - must
            arcs += 3.0 * self.much * np.maximum(passed[None, :] - np.cumsum(must)[:-1, None], 0)
        for other, mine, theirs, step in self.partners[place]:
            level = self._level(other, theirs)
            apart = np.abs(mine - level) > step + 1e-9
            apart[:, 0] = apart[:, -1] = False
            apart &= np.arange(mine.shape[0])[:, None] < np.arange(mine.shape[1])[None, :]
            passed = np.cumsum(apart, axis=1) - apart
            arcs += self.much * passed
            arcs[:, 1:-1] += self.much * (level[1:-1] > step + 1e-9)
        for k, m in self.rows[place]:
            rule, over = self.problem.rows[k], self.over[k]
            every = np.arange(len(self.nodes))
            count = -over[m, self.last[:, place], every]
            for i, p in enumerate(rule.members):
                count = count + over[i, self.last[:, p], every]
            excess = np.maximum(over[m] + count - rule.at_most, 0.0)
            excess[excess < 1e-9] = 0.0
            excess[:, 0] = 0.0
            excess[np.arange(over.shape[1])[:, None] >= every[None, :]] = 0.0
            arcs += self.much * np.cumsum(excess, axis=1)
        return arcs

    def _entries_more(self, place: int, hours: Floats) -> Floats:
        rules = self.problem.entries
        assert rules is not None
        per = rules.hours_per_entry[self.ids]
        base = rules.fixed_hours[self.ids] + hours
        without = np.maximum(np.ceil(base / per - 1e-9), 1.0)
        with_it = np.maximum(np.ceil((base + rules.change_hours[place, self.ids]) / per - 1e-9), 1.0)
        more = with_it - without
        cost = more * rules.cost_per_entry[self.ids]
        if np.isfinite(rules.at_most):
            counted = rules.counted[self.ids]
            cost = cost + self.much * np.where(
                float(without @ counted) + more * counted > rules.at_most + 1e-9, more, 0.0
            )
        return np.asarray(cost)

    def respond(self, place: int, hours: Floats) -> bool:
        """Give one place its cheapest path given the others; True where that changed it."""
        arcs = self._seen_by(place, hours)
        ends = len(self.nodes)
        reach = np.zeros(ends)
        came = np.zeros(ends, dtype=np.intp)
        for t in range(1, ends):
            ways = reach[:t] + arcs[:t, t]
            came[t] = ways.argmin()
            reach[t] = ways[came[t]]
        now = float(arcs[self.last[:, place], np.arange(ends)][1:][self.visits[1:, place]].sum())
        if not reach[-1] < now - 1e-9 * max(1.0, abs(now)):
            return False
        path = np.zeros(ends, dtype=bool)
        t = ends - 1
        while t > 0:
            path[t] = True
            t = int(came[t])
        path[0] = True
        self.visits[:, place] = path
        self._remember(np.array([place]))
        return True

    def settle(self, watch: Watch | None = None) -> Bools | None:
        """Let the places respond in turn until none changes; (P, N) visits, or None where a condition stays broken.

        Where no place can mend a broken condition alone, the worn one is made to be served there and all respond
        again; once everything is kept, what was made is let go, and what it no longer takes to keep the conditions is
        undone.
        """
        if not self.possible:
            return None
        for _ in range(ROUNDS):
            if not self._respond_all(watch):
                return None
            if not self._press():
                break
        if self.must.any():
            self.must[:] = False
            if not self._respond_all(watch):
                return None
        visits = np.zeros((self.problem.places, self.problem.stops), dtype=bool)
        visits[:, self.ids] = self.visits[1:-1].T
        if fixed.broken(self.problem, fixed.open_of(self.problem, self.nodes[1:-1]), visits):
            return None
        return visits

    def _respond_all(self, watch: Watch | None) -> bool:
        """Rounds of responses until nothing changes; False where the time ran out."""
        rules = self.problem.entries
        work = None if rules is None else rules.change_hours[:, self.ids]
        tied_to_all = rules is not None or self.problem.most_changes is not None
        active = np.array(
            [p for p in range(self.problem.places) if tied_to_all or self.partners[p] or self.rows[p]], dtype=np.intp
        )
        hours = np.zeros(self.ids.size) if work is None else (work.T * self.visits[1:-1]).sum(axis=1)
        for turn in range(PASSES):
            changed = False
            for p in active if turn % 2 == 0 else active[::-1]:
                if watch is not None and watch.over():
                    return False
                own = 0.0 if work is None else work[p] * self.visits[1:-1, p]
                if self.respond(int(p), hours - own):
                    changed = True
                    if work is not None:
                        hours = hours - own + work[p] * self.visits[1:-1, p]
            if not changed:
                break
        return True

    def _press(self) -> bool:
        """Make the worn one of each broken pair, and one of each broken row, be served; False where nothing was left
        to make.
        """
        pressed = False
        every = np.arange(len(self.nodes))
        for pair in self.problem.neighbours:
            wear = next(w for w in self.partners[pair.first] if w[0] == pair.second)
            first, second = self._level(pair.first, wear[1]), self._level(pair.second, wear[2])
            for n in np.flatnonzero(np.abs(first - second)[1:-1] > pair.step_mm + 1e-9) + 1:
                worn = pair.first if first[n] > second[n] else pair.second
                pressed |= not self.must[n, worn]
                self.must[n, worn] = True
        for k, rule in enumerate(self.problem.rows):
            members = np.array(rule.members)
            over = np.array([self.over[k][m, self.last[:, p], every] for m, p in enumerate(members)])
            for n in np.flatnonzero(over[:, 1:].sum(axis=0) > rule.at_most + 1e-9) + 1:
                if n < 2:
                    continue
                relief = over[:, n] - self.over[k][:, n - 1, n]
                relief[self.must[n - 1, members]] = 0.0
                m = int(relief.argmax())
                if relief[m] > 0:
                    pressed = True
                    self.must[n - 1, members[m]] = True
        return pressed
