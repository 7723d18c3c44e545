"""The planning model of a drive: which intervals the rules allow, what they cost, and the optimiser's problems made
of them.

The exact model
    serves each place along its own line of intervals and pays for every stop that is open. It holds housings (one
    place), the caps by zone (an interval that breaks one is left out), windows, keep-outs, entry rows, change hours
    by mode and access, set-up, close-out and fixed costs, forced and forbidden stops, the least entries every stop
    takes against the cap on entries, and rows: wherever the wheel is, no more than ``may_be_over`` tools of a row are
    past their limit, a tool counting as past it once its chance of that is above the cap of its zone. Entries of the
    work are counted in parts and work places share the hours evenly, so that no plan costs less than this model says.
Met afterwards, with the stops it chose
    whole entries (for their sake stops may also be dropped or shifted), neighbour step, overcut, changes that cannot
    be split between work places, and the cap on whole entries.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.ahead.candidates import Candidates
from wearplan.plan.ahead.intervals import Intervals
from wearplan.plan.ahead.terms import Terms, change_hours
from wearplan.plan.ahead.tools import Ahead, Tool
from wearplan.plan.optimise import Budget, Problem, RowRule
from wearplan.wheel import neighbours

Floats = NDArray[np.float64]
F32 = NDArray[np.float32]
Bools = NDArray[np.bool_]

ONE_PLACE_M = 12.0
"""Where a cap cannot be kept, rings of a window within this count as one place to stop. Our own choice."""
ROW_WITHOUT_CAP = 0.5
"""A row's tool whose zone has no cap counts as over when it is more likely past its limit than not."""

HOLDS = (
    "housings changed as one",
    "caps on the chance of passing a limit, by zone",
    "windows, keep-outs and the site's entry rows",
    "change hours by mode, tools reached from inside in free air",
    "set-up, close-out and fixed costs of every stop",
    "rows: so many of their tools past their limit at once",
    "late tools: each stops the drive where it passes its damage limit and is changed there, as are those after it "
    "(two late at once each pay the hours)",
    "tools bought less the life left at the end of the drive",
    "forced and forbidden stops",
)
BY_REPAIR = (
    "whole entries at each stop (in the model: in parts)",
    "changes shared over the work places without splitting one (in the model: evenly)",
)
AT_ONCE = "passing a damage limit: taken as noticed at once, though nobody sees it; see [costs] noticed_after_m"
AFTER_M = "passing a damage limit: noticed after {:g} m, as the site says, each of them paid"
GAP_OF = "the exact model, whose conditions are listed first; it does not speak of those met by repair"


@dataclass(frozen=True, kw_only=True)
class Relaxed:
    """An interval that breaks a cap and yet has to be driven: there is no place to stop in between."""

    tool: int
    from_node: int
    to_node: int
    overdue: bool
    """The cap is broken already, with the tool as it stands at the face."""


@dataclass(frozen=True, kw_only=True)
class Model:
    """Arrays of one planning task; P places, N candidates at nodes 1..N (see `optimise.problem`)."""

    ahead: Ahead
    cands: Candidates
    inter: Intervals
    forced: tuple[int, ...] = ()
    """Candidates where a stop must be."""
    max_entries: int | None = None
    waived: tuple[int, ...] = ()
    """Nodes at which the tools in place now need not keep their caps ("what if we go on?")."""
    cap_share: float = 1.0
    """Share of every cap that is to be kept."""
    harder_over: F32 | None = None
    """(P, N+1, N+2) chances of passing the limit in harder ground, held against the caps; None: those expected."""

    @property
    def places(self) -> int:
        return len(self.ahead.tools)

    @property
    def stops(self) -> int:
        return len(self.cands)

    @cached_property
    def chamber_hours(self) -> Floats:
        """(P, N+2) chamber hours of one change, shared over the work places; nan where the site gives no hours; 0 from
        inside.
        """
        hours = np.zeros((self.places, self.stops + 2))
        for p, tool in enumerate(self.ahead.tools):
            if tool.place.access == "inside":
                continue
            hours[p] = self.cands.by_node(partial(_chamber_hours, tool), ends=math.nan)
        return hours

    @cached_property
    def inside_hours(self) -> Floats:
        """(P,) hours of a change from inside; 0 for other places, nan where the site gives none."""
        hours = [
            change_hours(t.tool_type, mode="free air", access="inside") if t.place.access == "inside" else 0.0
            for t in self.ahead.tools
        ]
        return np.array([math.nan if h is None else h for h in hours], dtype=float)

    @cached_property
    def serviceable(self) -> Bools:
        """(P, N+2) whether the site gives hours for changing that tool there."""
        there = np.isfinite(self.chamber_hours) & np.isfinite(self.inside_hours)[:, None]
        there[:, [0, -1]] = False
        return there

    def per_stop(self, name: str, *, ends: float = 0.0) -> Floats:
        """(N+2,) a property of each candidate's terms; ``ends`` for now and the end."""
        return self.cands.by_node(lambda t: float(getattr(t, name)), ends=ends)

    @cached_property
    def counted(self) -> Bools:
        """(N+2,) whether the candidate's entries are under pressure."""
        return self.per_stop("under_pressure") > 0

    @cached_property
    def entry_cost(self) -> Floats:
        """(N+2,) cost of one whole entry."""
        return self.per_stop("entry_cost")

    @cached_property
    def hours_per_entry(self) -> Floats:
        """(N+2,) working hours of one entry; inf where one holds any work, and for now and the end."""
        return self.per_stop("hours_per_entry", ends=math.inf)

    @cached_property
    def _hour_cost_beside(self) -> Floats:
        """(N+2,) what a chamber hour costs beside entries: persons, and the standstill where no entries are counted."""
        stand = self.per_stop("standstill_per_hour")
        return self.per_stop("person_cost") + np.where(self.entry_cost > 0, 0.0, stand)

    @cached_property
    def work_beside(self) -> Floats:
        """(P, N+2) cost of one change's work without its share of entries; from inside it only counts where nobody
        enters.
        """
        alone = self.per_stop("inside_only")
        inside = np.nan_to_num(self.inside_hours)[:, None] * self.per_stop("standstill_per_hour") * alone
        return np.asarray(np.nan_to_num(self.chamber_hours) * self._hour_cost_beside + inside)

    @cached_property
    def work_in_parts(self) -> Floats:
        """(P, N+2) the same with its share of entries in parts."""
        return self.work_beside + np.nan_to_num(self.chamber_hours) * self.entry_cost / self.hours_per_entry

    @cached_property
    def opening(self) -> Floats:
        """(N+2,) cost of a stop without work and entries."""
        return self.per_stop("opening_cost") + self.per_stop("look_hours") * self._hour_cost_beside

    @cached_property
    def opening_in_parts(self) -> Floats:
        """(N+2,) the same with the look's entries in parts."""
        return self.opening + self.entry_cost * self.per_stop("look_hours") / self.hours_per_entry

    @cached_property
    def least_entries(self) -> Floats:
        """(N+2,) entries under pressure that a stop takes at least."""
        return self.cands.by_node(lambda t: float(t.entries(t.look_hours)) if t.under_pressure else 0.0)

    @cached_property
    def bare_cost(self) -> Floats:
        """(P, N+1, N+2) late tools and steel of each interval, without work; finite everywhere."""
        return self.inter.late_cost + self.inter.tool_cost

    @cached_property
    def cap(self) -> Floats:
        """(P,) the chance an interval must keep; inf where no rule asks for one."""
        caps = np.array([math.inf if t.cap is None else t.cap for t in self.ahead.tools])
        for code, members in self.ahead.rows.items():
            for p in members:
                if self.allowed_over(code) >= len(members):
                    caps[p] = math.inf
                elif not math.isfinite(caps[p]):
                    caps[p] = ROW_WITHOUT_CAP
        return caps

    def allowed_over(self, code: str) -> int:
        """How many tools of a row may be past their limit."""
        return next(r.may_be_over for r in self.ahead.site.wheel.rows if r.code == code)

    @cached_property
    def free_rows(self) -> Bools:
        """(P,) places of rows of which some may be over: the row binds them, not the cap of each."""
        free = np.zeros(self.places, dtype=bool)
        for code, members in self.ahead.rows.items():
            if self.allowed_over(code) > 0:
                free[list(members)] = True
        return free

    @property
    def _held_against(self) -> F32:
        """(P, N+1, N+2) the chances held against the caps."""
        return self.inter.over if self.harder_over is None else self.harder_over

    @cached_property
    def _reachable(self) -> Bools:
        """(P, N+2) nodes an interval may start from or lead to."""
        can = self.serviceable.copy()
        can[:, [0, -1]] = True
        return can

    @cached_property
    def breaks(self) -> Bools:
        """(P, N+1, N+2) intervals that break the cap of their place."""
        over = self._held_against
        with np.errstate(invalid="ignore"):
            broken = over > self.cap_share * self.cap[:, None, None] + 1e-9
        broken[:, 0, list(self.waived)] = False
        return broken

    @cached_property
    def relaxed(self) -> tuple[Relaxed, ...]:
        """Intervals that break a cap but are the shortest way on: without them a place has no path at all."""
        found = []
        nodes = self.stops + 2
        can = self._reachable
        for p in range(self.places):
            if not self.breaks[p].any() and can[p].all():
                continue
            overdue = bool(self.breaks[p, 0, 0])
            extra: list[tuple[int, int]] = []
            while True:
                reach = np.zeros(nodes, dtype=bool)
                reach[0] = True
                for t in range(1, nodes):
                    reach[t] = can[p, t] and bool((reach[:t] & ~self.breaks[p, :t, t]).any())
                    reach[t] |= any(b == t and reach[a] for a, b in extra)
                if reach[-1]:
                    break
                a = int(np.flatnonzero(reach)[-1])
                b = int(np.flatnonzero(can[p, a + 1 :])[0]) + a + 1
                # All ways of stopping at that ring, with or without people in the chamber.
                level = np.flatnonzero(can[p] & (np.abs(self.inter.node_m - self.inter.node_m[b]) < 1e-6))
                extra += [(a, int(n)) for n in level if n > a]
            found += [Relaxed(tool=p, from_node=a, to_node=b, overdue=overdue and a == 0) for a, b in extra]
        return tuple(found)

    @cached_property
    def spared(self) -> Bools:
        """(P, N+1, N+2) intervals that break a cap and are allowed nevertheless: those of `relaxed`, and between the
        other rings of the two windows within `ONE_PLACE_M` of them. Else a place would be served at the first ring of
        a window, since the cap is broken already, and once more at its last, since it cannot be kept from there on.
        """
        spared = np.zeros_like(self.breaks)
        window, x = np.concatenate([[-1], self.cands.window[1:-1], [-2]]), self.inter.node_m
        for r in self.relaxed:
            near_a, near_b = (
                np.flatnonzero((window == window[n]) & (np.abs(x - x[n]) <= ONE_PLACE_M))
                for n in (r.from_node, r.to_node)
            )
            spared[r.tool][np.ix_(near_a, near_b[self._reachable[r.tool, near_b]])] = True
        return spared

    @cached_property
    def rows(self) -> tuple[RowRule, ...]:
        """Rows of which some tools, but not all, may be past their limit at once."""
        rules = []
        for code, members in self.ahead.rows.items():
            most = self.allowed_over(code)
            if 0 < most < len(members):
                who = list(members)
                over = self.breaks[who] & ~self.spared[who]
                # What is allowed further on is allowed on the way there.
                over = np.logical_and.accumulate(over[:, :, ::-1], axis=2)[:, :, ::-1]
                rules.append(RowRule(code, members, over.astype(float), float(most)))
        return tuple(rules)

    @cached_property
    def _too_far_for_rows(self) -> Bools:
        """(N+1, N+2) intervals without a stop at whose end a row has too many over, whatever was changed before."""
        far = np.zeros((self.stops + 1, self.stops + 2), dtype=bool)
        for rule in self.rows:
            could = self.serviceable[list(rule.members), :-1]
            could[:, 0] = True
            at_least = np.minimum.accumulate(np.where(could[:, :, None], rule.over, 1.0), axis=1)
            far |= at_least.sum(axis=0) > rule.at_most + 1e-9
        return far

    def arcs(self, *, work: Floats, keep_caps: bool = True, keep_rows: bool = True) -> Floats:
        """(P+1, N+1, N+2) interval costs for the optimiser, inf where a rule forbids.

        The last row is the look at the whole wheel: damage is found at the next stop. Its cost grows faster than the
        interval, and looking costs nothing beyond the stop, so every open stop is on its path. So it also says how
        far from stop to stop the rows let the wheel go at most.

        Parameters
        ----------
        work
            (P, N+2) cost of the work of a change.
        keep_caps, keep_rows
            False frees all places of their caps, rows included, or the rows alone.
        """
        cost = self.bare_cost + work[:, None, :]
        there = self.serviceable.copy()
        there[:, -1] = True
        barred = np.repeat(~there[:, None, :], self.stops + 1, axis=1)
        if keep_caps:
            barred |= self.breaks & ~self.free_rows[:, None, None] & ~self.spared
        look = np.where(self._too_far_for_rows & (keep_caps and keep_rows), np.inf, self.inter.look_cost)
        return np.concatenate([np.where(barred, np.inf, cost), look[None]])

    def nodes_at(self, stops: Iterable[int]) -> NDArray[np.intp]:
        """(K+2,) nodes of a plan with these stops (in order): now, the stops, the end."""
        return np.array([0, *stops, self.stops + 1], dtype=np.intp)

    @cached_property
    def usual_entry_cost(self) -> float:
        """Mean cost of an entry under pressure over the candidates that have one; 0 where none has."""
        return float(self.entry_cost[self.counted].mean()) if self.counted.any() else 0.0

    @property
    def entry_worth(self) -> float:
        """What an entry under pressure is priced at to find plans with fewer: its usual cost, or where the site puts
        no cost on it the mean price of a tool.
        """
        return self.usual_entry_cost or sum(tool.price for tool in self.ahead.tools) / max(1, self.places) or 1.0

    def budgets(self) -> tuple[Budget, ...]:
        """The cap on entries, by the least each stop takes."""
        if self.max_entries is None:
            return ()
        return (Budget("entries under pressure", self.least_entries, float(self.max_entries)),)

    def path_problem(
        self,
        *,
        forbidden: Iterable[int] = (),
        forced: Iterable[int] | None = None,
        entry_price: float = 0.0,
        keep_caps: bool = True,
        keep_rows: bool = True,
    ) -> Problem:
        """The exact model.

        ``entry_price`` is put on every entry under pressure, in parts, for the trade-off.
        """
        per_entry = entry_price * self.counted
        share = np.nan_to_num(self.chamber_hours) / self.hours_per_entry
        look = self.per_stop("look_hours") / self.hours_per_entry
        must = self.forced if forced is None else tuple(forced)
        return Problem(
            interval_cost=self.arcs(
                work=self.work_in_parts + share * per_entry, keep_caps=keep_caps, keep_rows=keep_rows
            ),
            stop_cost=self.opening_in_parts + look * per_entry,
            forced=tuple(sorted(must)),
            forbidden=tuple(sorted(set(forbidden))),
            budgets=self.budgets(),
            rows=self.rows if keep_caps and keep_rows else (),
        )

    def only(self, picks: Iterable[int]) -> Model:
        """The same task with some of the candidates only."""
        nodes = self.nodes_at(sorted(set(picks)))
        cut = np.ix_(np.arange(self.places), nodes[:-1], nodes)
        inter = replace(
            self.inter,
            node_m=self.inter.node_m[nodes],
            look_cost=self.inter.look_cost[np.ix_(nodes[:-1], nodes)],
            **{
                name: getattr(self.inter, name)[cut]
                for name in ("over", "late_chance", "passes", "late_cost", "tool_cost", "mean_wear_mm")
            },
        )
        harder = None if self.harder_over is None else self.harder_over[cut]
        forced = tuple(int(k) for k in np.flatnonzero(np.isin(nodes, self.forced)))
        return replace(self, cands=self.cands.only(nodes), inter=inter, harder_over=harder, forced=forced)

    @cached_property
    def neighbour_places(self) -> tuple[tuple[int, int], ...]:
        """Pairs of places with edges on neighbouring tracks."""
        of = {n: p for p, t in enumerate(self.ahead.tools) for n in t.place.positions}
        pairs = {
            (min(of[a], of[b]), max(of[a], of[b]))
            for a, b in neighbours(self.ahead.outlook.layout)
            if a in of and b in of and of[a] != of[b]
        }
        return tuple(sorted(pairs))


def _chamber_hours(tool: Tool, terms: Terms) -> float:
    """Chamber hours of one change of a tool, shared over the work places; nan where the site gives none."""
    one = None if terms.inside_only else change_hours(tool.tool_type, mode=terms.mode, access=tool.place.access)
    return math.nan if one is None else one / terms.work_places
