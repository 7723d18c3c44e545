"""A way of running the drive, played on the draws with its costs counted as the plan counts them.

A tool that passes its damage limit stops the drive there, under every rule: the hours of a forced stop once, the fee
and a new tool for each that is late. What is then past `NEARLY` of its limit or broken is changed along, as any crew
would that is in there: at its price and at the site's middling work.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.model.asked import middling_work
from wearplan.plan.model.exact import F32, Bools, Floats

from .worlds import Worlds


@dataclass(kw_only=True)
class State:
    """What a policy may look at when the face is at a candidate; the truth behind it is kept out."""

    stop: int
    """Its node."""
    driven_m: float
    seen_mm: F32
    """(D, P) last reading of each place's most worn edge, 0 for a tool just fitted."""
    seen_share: F32
    """(D, P) the same over its limit."""
    seen_m: F32
    """(D, P) where that was."""
    last_stop_m: Floats
    """(D,) where the drive last stopped."""
    damaged: Bools
    """(D, P) found damaged; only set while stopped."""


class Rule(Protocol):
    """When to stop and what to change."""

    def stops(self, state: State) -> Bools:
        """(D,) whether to stop at this candidate."""

    def changes(self, state: State) -> Bools:
        """(D, P) what to change, with this stop's readings in ``state``; damaged tools are changed in any case."""


@dataclass(frozen=True, kw_only=True)
class Played:
    """Outcome by draw."""

    cost: Floats
    late_cost: Floats
    stops: NDArray[np.int64]
    entries_under_pressure: Floats
    person_hours: Floats
    tools: NDArray[np.int64]
    late_tools: NDArray[np.int64]
    broken_tools: NDArray[np.int64]
    over_limit: Bools
    over_damage: Bools
    changes: Bools
    """(N+2, D, P) by node, as the others that are counted at stops."""
    late_taken: Bools
    """(N+2, D, P) changes of tools past their damage limit or damaged."""
    broken_taken: Bools
    """(N+2, D, P) those damaged."""
    forced: NDArray[np.int64]
    """(N+2, D, P) tools put on at forced stops on the way to each node."""
    forced_late: NDArray[np.int64]
    """(N+2, D, P) those of them that replaced a tool past its damage limit."""
    forced_stops: NDArray[np.int64]
    """(D,)"""
    stopped: Bools
    """(N+2, D)"""
    hours: Floats
    """(N+2, D) standstill at each stop."""


NEARLY = 0.9
"""A tool past this share of its limit is changed along at a forced stop."""


def play(worlds: Worlds, rule: Rule) -> Played:
    """Run every draw under a rule."""
    drive = _Drive(worlds, rule)
    at_node: dict[int, list[int]] = {}
    for n in worlds.model.cands.stops:
        at_node.setdefault(int(worlds.node[n]), []).append(n)
    for m in range(len(worlds.mesh_m)):
        if m > 0:
            drive.roll(m)
        for n in at_node.get(m, ()):
            drive.stop_at(n, m)
    return drive.end()


class _Drive:
    """All draws on their way; arrays (D, P) or (D, E) of the tools in place, sums (D,)."""

    def __init__(self, worlds: Worlds, rule: Rule):
        self.worlds, self.rule = worlds, rule
        model = worlds.model
        ahead, tools = model.ahead, model.ahead.tools
        draws, places, nodes = worlds.draws, model.places, model.stops + 2
        costs = ahead.site.stops.costs if ahead.site.stops else None
        self.late_tool = costs.passed_limit if costs else 0.0
        self.damage = ahead.damage
        self.price = np.array([t.price for t in tools])
        self.core = np.array([t.core for t in tools])
        self.value = np.array([t.life_value for t in tools])
        self.work = np.array([middling_work(model.cands.terms, t) for t in tools])
        self.base, self.factor = worlds.start_mm.copy(), worlds.factor[0].copy()
        self.origin = np.zeros_like(self.base)
        self.hazard0 = np.zeros((draws, places), np.float32)
        self.patience = worlds.patience[0].copy()
        self.wear = self.base
        share = worlds.by_place(self.base / worlds.limit_mm)
        self.passed: Bools = np.asarray(worlds.by_place(self.base - worlds.damage_mm) > 0)
        """Past the damage limit: at the face alone, for beyond it such a tool is changed at once."""
        self.broke = self.patience < 0.0
        sound = ~(self.passed | self.broke)
        self.cost = (self.core * sound + self.value * np.maximum(0.0, 1.0 - share)).sum(axis=1)
        self.late = np.zeros(draws)
        self.over_limit, self.over_damage = (share > 1.0).any(axis=1), self.passed.any(axis=1)
        self.late_tools, self.broken, self.forced_stops = (np.zeros(draws, np.int64) for _ in range(3))
        self.changes, self.late_taken, self.broken_taken = (
            np.zeros((nodes, draws, places), dtype=bool) for _ in range(3)
        )
        self.forced, self.forced_late = (np.zeros((nodes, draws, places), np.int64) for _ in range(2))
        self.stopped, self.hours = np.zeros((nodes, draws), dtype=bool), np.zeros((nodes, draws))
        self.entries, self.persons = np.zeros(draws), np.zeros(draws)
        self.state = State(
            stop=0,
            driven_m=ahead.face_m,
            seen_mm=worlds.by_place(np.broadcast_to(self.base.mean(axis=0), self.base.shape)).copy(),
            seen_share=worlds.by_place(
                np.broadcast_to((self.base / worlds.limit_mm).mean(axis=0), self.base.shape)
            ).copy(),
            seen_m=np.full((draws, places), ahead.face_m, np.float32),
            last_stop_m=np.full(draws, _last_stop_m(ahead.site, ahead.face_m)),
            damaged=np.zeros((draws, places), dtype=bool),
        )

    def roll(self, m: int) -> None:
        """From the point of the mesh before to this one, with the stops that late tools force."""
        worlds = self.worlds
        self.wear = self.base + self.factor * (worlds.path_mm[m] - self.origin)
        broke = worlds.hazard[m] - self.hazard0 > self.patience
        gap = worlds.mesh_m[m] - worlds.mesh_m[m - 1]
        fresh = broke & ~self.broke
        # A tool that breaks within the gap is broken for half of it on average.
        self.late += self.damage.major_per_m * gap * (0.5 * (self.broke.sum(axis=1) + broke.sum(axis=1)))
        self.late += self.damage.major * fresh.sum(axis=1) + worlds.minor_cost[m]
        self.broken += fresh.sum(axis=1)
        self.broke = broke
        share = worlds.by_place(self.wear / worlds.limit_mm)
        self.over_limit |= (share > 1.0).any(axis=1)
        self.passed = np.asarray(worlds.by_place(self.wear - worlds.damage_mm) > 0)
        if self.passed.any():
            self._forced(m, share)

    def _forced(self, m: int, share: NDArray[np.floating]) -> None:
        worlds, late = self.worlds, self.passed
        stop: Bools = np.asarray(late.any(axis=1))
        along = stop[:, None] & ~late & ((share >= NEARLY) | self.broke)
        self.over_damage |= stop
        self.late_tools += late.sum(axis=1)
        self.forced_stops += stop
        self.late += worlds.forced_cost[m] * stop + (late * (self.late_tool + self.price)).sum(axis=1)
        self.cost += (along * (self.price + self.work - self.core * ~self.broke)).sum(axis=1)
        coming = int(np.searchsorted(worlds.node, m))
        self.forced[coming] += late | along
        self.forced_late[coming] += late
        self.state.seen_m = np.where(late | along, np.float32(worlds.mesh_m[m]), self.state.seen_m)
        self.state.last_stop_m = np.where(stop, worlds.mesh_m[m], self.state.last_stop_m)
        self._put_on(late | along, m, *worlds.fitted_at(m))

    def _put_on(self, taken: Bools, m: int, factor: F32, patience: F32) -> None:
        worlds, state = self.worlds, self.state
        edge = np.repeat(taken, np.diff([*worlds.first_edge, self.wear.shape[1]]), axis=1)
        self.base = np.where(edge, 0.0, self.base).astype(np.float32)
        self.factor = np.where(edge, factor, self.factor)
        self.origin = np.where(edge, worlds.path_mm[m], self.origin)
        self.hazard0 = np.where(taken, worlds.hazard[m], self.hazard0)
        self.patience = np.where(taken, patience, self.patience)
        self.passed, self.broke = self.passed & ~taken, self.broke & ~taken
        state.seen_mm = np.where(taken, 0.0, state.seen_mm).astype(np.float32)
        state.seen_share = np.where(taken, 0.0, state.seen_share).astype(np.float32)
        self.wear = self.base + self.factor * (worlds.path_mm[m] - self.origin)

    def stop_at(self, n: int, m: int) -> None:
        """At candidate n: read, choose and change where the rule stops."""
        worlds, state, model = self.worlds, self.state, self.worlds.model
        state.stop, state.driven_m = n, float(worlds.mesh_m[m])
        here = self.rule.stops(state)
        if not here.any():
            return
        true = worlds.by_place(self.wear)
        read = np.maximum(true + worlds.gauge_sd_mm * worlds.noise[n], 0.0)
        share = worlds.by_place(self.wear / worlds.limit_mm) * read / np.maximum(true, 1e-6)
        pick = here[:, None]
        state.seen_mm = np.where(pick, read, state.seen_mm).astype(np.float32)
        state.seen_share = np.where(pick, share, state.seen_share).astype(np.float32)
        state.seen_m = np.where(pick, np.float32(state.driven_m), state.seen_m)
        state.damaged = self.broke & pick
        chosen = (self.rule.changes(state) | state.damaged) & pick & model.serviceable[:, n]
        state.damaged = np.zeros_like(self.broke)
        state.last_stop_m = np.where(here, state.driven_m, state.last_stop_m)
        bad = self.passed | self.broke
        stand, pressed, people, spent = _stop_cost(worlds, n, chosen, here)
        self.hours[n], self.stopped[n] = stand, here
        self.entries += pressed
        self.persons += people
        self.cost += spent + (chosen * (self.price - self.core * ~bad)).sum(axis=1)
        self.changes[n], self.late_taken[n], self.broken_taken[n] = chosen, chosen & bad, chosen & self.broke
        self._put_on(chosen, m, worlds.factor[n], worlds.patience[n])

    def end(self) -> Played:
        """What cores and the life left are worth, and the sums."""
        share = self.worlds.by_place(self.wear / self.worlds.limit_mm)
        sound = ~(self.passed | self.broke)
        self.cost -= (self.core * sound + self.value * np.maximum(0.0, 1.0 - share)).sum(axis=1)
        return Played(
            cost=self.cost + self.late,
            late_cost=self.late,
            stops=self.stopped.sum(axis=0),
            entries_under_pressure=self.entries,
            person_hours=self.persons,
            tools=self.changes.sum(axis=(0, 2)) + self.forced.sum(axis=(0, 2)),
            late_tools=self.late_tools,
            broken_tools=self.broken,
            over_limit=np.asarray(self.over_limit),
            over_damage=np.asarray(self.over_damage),
            changes=self.changes,
            late_taken=self.late_taken,
            broken_taken=self.broken_taken,
            forced=self.forced,
            forced_late=self.forced_late,
            forced_stops=self.forced_stops,
            stopped=self.stopped,
            hours=self.hours,
        )


def _last_stop_m(site: object, face_m: float) -> float:
    """Where the drive last stopped for its tools; the face where that is not on record."""
    records = [i.driven_m for i in site.inspections if i.driven_m <= face_m + 1e-6]  # type: ignore[attr-defined]
    return max(records, default=face_m)


def _stop_cost(worlds: Worlds, n: int, chosen: Bools, here: Bools) -> tuple[Floats, Floats, Floats, Floats]:
    """Hours, entries under pressure, person-hours under pressure and cost of a stop, (D,) each."""
    model = worlds.model
    terms = model.cands.term(n)
    shared = np.nan_to_num(model.chamber_hours[:, n])
    inside = (chosen * np.nan_to_num(model.inside_hours)).sum(axis=1)
    longest = (chosen * shared * terms.work_places).max(axis=1)
    busy = np.maximum((chosen * shared).sum(axis=1), longest)
    chamber = terms.look_hours + busy
    if terms.inside_only:
        entries = np.zeros(len(here))
    elif np.isfinite(terms.hours_per_entry):
        entries = np.maximum(1.0, np.ceil(chamber / terms.hours_per_entry - 1e-9))
    else:
        entries = np.ones(len(here))
    work = entries * terms.entry_interval_hours if terms.entry_interval_hours > 0 else chamber
    work = np.maximum(work, terms.look_hours + inside)
    people = terms.persons * chamber if terms.under_pressure else np.zeros(len(here))
    hours = terms.before_hours + work + terms.after_hours
    cost = hours * terms.standstill_per_hour + terms.window.fixed_cost + people * terms.person_hour_price
    pressed = entries if terms.under_pressure else np.zeros(len(here))
    return hours * here, pressed * here, people * here, cost * here
