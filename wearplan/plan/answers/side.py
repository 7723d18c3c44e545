"""The answers beside the plan: deferral, trade-off, comparison, worse ground. All rest on a few candidates a window."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from wearplan.plan.carry_out.choose import Found, whole_visits
from wearplan.plan.carry_out.costing import costed
from wearplan.plan.carry_out.shift import coarse
from wearplan.plan.model.exact import Bools, Model
from wearplan.plan.play.compare import compare
from wearplan.plan.play.rule import thresholds
from wearplan.plan.records import Plan, Wishes
from wearplan.plan.settings import SETTINGS

from .deferral import deferrals
from .tradeoff import Option, alternatives, options
from .worse import ground_break

Report = Callable[..., None]
ShouldStop = Callable[[], bool]


class Side:
    """Works out the side answers for a plan; each is left out when the user asks to stop."""

    def __init__(
        self,
        model: Model,
        found: Found,
        wishes: Wishes,
        *,
        progress: Report | None = None,
        should_stop: ShouldStop | None = None,
    ) -> None:
        self.wishes, self.tell, self.should_stop = wishes, progress, should_stop
        windows = max(1, len(model.cands.terms))
        most = SETTINGS.beside.candidates
        a_window = 3 if 3 * windows <= most else 2 if 2 * windows <= most else 1
        self.model = model
        self.picks = coarse(model, a_window=a_window, keep=(*found.stops, *model.forced))
        self.small = model.only(self.picks)
        self.front: tuple[Option, ...] = ()
        self.stops = self._in_small(found)

    def _in_small(self, found: Found) -> tuple[int, ...]:
        where = {n: k for k, n in enumerate(self.picks, start=1)}
        return tuple(where[n] for n in found.stops)

    def _over(self) -> bool:
        return self.should_stop is not None and self.should_stop()

    def _say(self, words: str) -> None:
        if self.tell is not None:
            self.tell(words, None)

    def adopt(self, found: Found) -> Found:
        """The plan, or a cheaper one met while looking for the trade-off (whole entries counted)."""
        if not self.wishes.tradeoff or not found.possible or self._over():
            return found
        self._say("money against hours under pressure")
        start = costed(self.small, self.stops, found.visits)
        self.front = options(self.small, start, should_stop=self.should_stop)
        best = self.front[0].plan
        if best.stops == self.stops or best.cost > start.cost * (1 - 1e-6):
            return found
        visits, said = whole_visits(self.small, best.stops, best.visits, self.small.path_problem())
        if costed(self.small, best.stops, visits).cost > start.cost:
            return found
        self.stops = best.stops
        return replace(
            found,
            stops=tuple(self.picks[k - 1] for k in best.stops),
            visits=visits,
            repaired=tuple(dict.fromkeys((*found.repaired, *said, "stops shifted for whole entries"))),
        )

    def answer(self, plan: Plan, visits: Bools) -> Plan:
        """The plan with its side answers."""
        wishes, small = self.wishes, self.small
        if plan.expected_cost is None:
            return plan
        rule = thresholds(small, self.stops)
        worn = [
            np.where(np.isfinite(row), small.ahead.worn(tool.edges[0], row), row).tolist()
            for tool, row in zip(small.ahead.tools, rule.wear_mm[:, 1:-1], strict=True)
        ]
        by_place = zip(small.ahead.tools, worn, strict=True)
        table = {tool.place.code: tuple(wear) for tool, wear in by_place}
        plan = replace(plan, thresholds=MappingProxyType(table))
        if plan.finished:
            return plan
        plan = replace(plan, ground_break=ground_break(small, self.stops, visits))
        if self.front and plan.keeps_rules:
            now = costed(small, self.stops, visits)
            first = replace(self.front[0], plan=now) if self.front[0].plan.stops == self.stops else self.front[0]
            plan = replace(plan, tradeoff=alternatives(small, (first, *self.front[1:])))
            if all(option.plan.entries > 0 for option in self.front):
                said = "No plan without hours under pressure that keeps the rules was found."
                plan = replace(plan, remarks=(*plan.remarks, said))
        if wishes.deferral and plan.stops and not self._over():
            self._say("what if we go on")
            rows = deferrals(
                small,
                plan.stops[0],
                plan.last_stops,
                windows=wishes.deferral_windows,
                should_stop=self.should_stop,
            )
            plan = replace(plan, deferral=rows)
        if wishes.comparison and small.stops and not self._over():
            self._say("playing the plan and the rules of thumb on the draws")
            played = compare(
                small,
                self.stops,
                visits,
                rule,
                seed=wishes.seed,
                should_stop=self.should_stop,
            )
            plan = replace(plan, comparison=played)
        return plan
