"""Better stops once entries are counted whole: drop, add and shift stops, each plan costed as it would be carried
out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import numpy as np

from wearplan.plan.model.exact import Model
from wearplan.plan.model.rows import Rows, cheapest
from wearplan.plan.optimise.problem import Problem
from wearplan.plan.settings import SETTINGS, Shift

from .costing import Costed, costed, used
from .neighbours import keep_step
from .overcut import overcut_repair


class Polisher:
    """Costs sets of stops for one path problem; remembers those seen."""

    def __init__(self, model: Model, problem: Problem, *, forbidden: Iterable[int] = ()) -> None:
        self.model, self.problem = model, problem
        self.barred = set(forbidden)
        self.step = model.ahead.site.wheel.neighbour_step_limit_mm
        self.seen: dict[tuple[int, ...], Costed | None] = {}

    def plan(self, stops: Iterable[int]) -> Costed | None:
        """Best visits of the path model at these stops, overcut kept, costed whole; None where a place has no path."""
        chosen = tuple(sorted(set(stops)))
        if chosen in self.seen:
            return self.seen[chosen]
        nodes = self.model.nodes_at(chosen)
        arcs = self.problem.interval_cost[:, nodes[:-1]][:, :, nodes]
        visits, cost = cheapest(arcs)
        found: Costed | None = None
        rows = Rows.at(self.problem.rows, nodes)
        mended = rows.mended(arcs, visits[:-1]) if np.isfinite(cost).all() else None
        if mended is not None:
            visits = mended
            if self.step is not None and chosen:
                part = self.model.only(chosen)
                visits = keep_step(part, arcs, mended)
                if not rows.kept(visits):
                    visits = keep_step(part, rows.held(arcs, mended), mended)
            if self.model.ahead.site.wheel.shield_diameter_m is not None:
                visits, _, _ = overcut_repair(self.model.only(chosen), visits)
            found = costed(self.model, *used(chosen, visits, self.model.forced))
        self.seen[chosen] = found
        return found

    def better(
        self,
        stops: tuple[int, ...],
        *,
        picks: list[int],
        effort: Shift = SETTINGS.shift,
        should_stop: Callable[[], bool] | None = None,
    ) -> Costed | None:
        """Descend from a set of stops by dropping, shifting and adding among ``picks``; None where it has no path."""
        best = self.plan(stops)
        if best is None:
            return None
        for _ in range(effort.rounds):
            start = best
            for trial in self._near(start.stops, picks):
                if len(self.seen) >= effort.trials or (should_stop is not None and should_stop()):
                    return best
                other = self.plan(trial)
                if other is not None and clearly_better(other, best):
                    best = other
            if best is start:
                break
        return best

    def cheapest(self, count: int) -> list[Costed]:
        """The cheapest plans seen, each set of stops once."""
        found: dict[tuple[int, ...], Costed] = {}
        for plan in sorted((p for p in self.seen.values() if p is not None), key=lambda p: p.cost):
            found.setdefault(plan.stops, plan)
        return list(found.values())[:count]

    def _near(self, stops: tuple[int, ...], picks: list[int]) -> Iterable[tuple[int, ...]]:
        forced = set(self.model.forced)
        have = set(stops)
        for n in stops:
            if n not in forced:
                yield tuple(s for s in stops if s != n)
        order = [p for p in picks if p not in self.barred]
        x = self.model.cands.driven_m
        for n in stops:
            if n in forced:
                continue
            for p in order:
                # A shift goes at most past the stops on either side.
                others = [s for s in stops if s != n]
                if p not in have and not any(min(x[n], x[p]) < x[s] < max(x[n], x[p]) for s in others):
                    yield tuple(sorted([*others, p]))
        for p in order:
            if p not in have:
                yield tuple(sorted([*stops, p]))


def clearly_better(plan: Costed, than: Costed) -> bool:
    """Whether a plan beats another by more than rounding; of two that take more entries than allowed, the one that
    takes fewer.
    """
    if not math.isfinite(than.cost):
        return math.isfinite(plan.cost) or plan.entries < than.entries
    return plan.cost < than.cost - 1e-6 * abs(than.cost)


def coarse(model: Model, *, a_window: int, keep: Iterable[int] = ()) -> list[int]:
    """A few candidates of every window, evenly spread, first and last among them, and those to keep."""
    picks = set(keep)
    for w in range(len(model.cands.terms)):
        inside = np.flatnonzero(model.cands.window == w)
        if len(inside):
            spread = np.linspace(0, len(inside) - 1, min(a_window, len(inside)))
            picks |= {int(inside[i]) for i in np.unique(np.round(spread).astype(int))}
    return sorted(picks)
