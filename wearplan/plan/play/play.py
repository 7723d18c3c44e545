"""A way of running the drive, played on the draws with its costs counted as the plan counts them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.model.exact import F32, Bools, Floats

from .worlds import Worlds


@dataclass(kw_only=True)
class State:
    """What a policy may look at when the face is at a candidate; the truth behind it is kept out."""

    stop: int
    """Candidate, 0-based."""
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
    """(N, D, P)"""
    late_taken: Bools
    """(N, D, P) changes of tools past their damage limit or damaged."""
    broken_taken: Bools
    """(N, D, P) those damaged."""
    stopped: Bools
    """(N, D)"""
    hours: Floats
    """(N, D) standstill at each stop."""


def play(worlds: Worlds, rule: Rule) -> Played:
    """Run every draw under a rule."""
    model = worlds.model
    ahead, tools = model.ahead, model.ahead.tools
    draws, places, count = worlds.draws, model.places, model.stops
    costs = ahead.site.stops.costs if ahead.site.stops else None
    late_tool = costs.late_tool if costs else 0.0
    late_per_m = costs.late_tool_per_m if costs else 0.0
    price = np.array([t.price for t in tools])
    core = np.array([t.core for t in tools])
    value = np.array([t.life_value for t in tools])
    base, factor = worlds.start_mm.copy(), worlds.factor_now.copy()
    origin = np.zeros_like(base)
    hazard0 = np.zeros((draws, places), np.float32)
    patience = worlds.patience[0].copy()
    share_now = worlds.by_place(base / worlds.limit_mm)
    passed = worlds.by_place(base - worlds.damage_mm) > 0
    broke = patience < 0.0
    first_sound = ~(passed | broke)
    cost = (core * first_sound + value * np.maximum(0.0, 1.0 - share_now)).sum(axis=1)
    late = np.zeros(draws)
    over_limit, over_damage = (share_now > 1.0).any(axis=1), passed.any(axis=1)
    late_tools, broken = np.zeros(draws, np.int64), np.zeros(draws, np.int64)
    out = {name: np.zeros((count, draws, places), dtype=bool) for name in ("changes", "late_taken", "broken_taken")}
    stopped, hours = np.zeros((count, draws), dtype=bool), np.zeros((count, draws))
    entries, persons = np.zeros(draws), np.zeros(draws)
    state = State(
        stop=-1,
        driven_m=ahead.face_m,
        seen_mm=worlds.by_place(np.broadcast_to(base.mean(axis=0), base.shape)).copy(),
        seen_share=worlds.by_place(np.broadcast_to((base / worlds.limit_mm).mean(axis=0), base.shape)).copy(),
        seen_m=np.full((draws, places), ahead.face_m, np.float32),
        last_stop_m=np.full(draws, _last_stop_m(ahead.site, ahead.face_m)),
        damaged=np.zeros((draws, places), dtype=bool),
    )
    at_node: dict[int, list[int]] = {int(m): [] for m in worlds.node[1:-1]}
    for n, m in enumerate(worlds.node[1:-1]):
        at_node[int(m)].append(n)
    wear = base
    for m in range(len(worlds.mesh_m)):
        if m > 0:
            wear = base + factor * (worlds.path_mm[m] - origin)
            now_passed = worlds.by_place(wear - worlds.damage_mm) > 0
            now_broke = worlds.hazard[m] - hazard0 > patience
            was, bad = passed | broke, now_passed | now_broke
            gap = worlds.mesh_m[m] - worlds.mesh_m[m - 1]
            # A tool that turns late within the gap is late for half of it on average.
            late += late_per_m * gap * (0.5 * (was.sum(axis=1) + bad.sum(axis=1)))
            fresh = bad & ~was
            worn = fresh & now_passed & ~now_broke
            late += late_tool * fresh.sum(axis=1) + worlds.forced_cost[m] * worn.sum(axis=1)
            late_tools += worn.sum(axis=1)
            broken += (fresh & now_broke).sum(axis=1)
            passed, broke = now_passed, now_broke
            over_limit |= (worlds.by_place(wear - worlds.limit_mm) > 0).any(axis=1)
            over_damage |= passed.any(axis=1)
        for n in at_node.get(m, ()):
            state.stop, state.driven_m = n, float(worlds.mesh_m[m])
            here = rule.stops(state)
            if not here.any():
                continue
            read = worlds.by_place(wear) + worlds.gauge_sd_mm * worlds.noise[n]
            share = worlds.by_place(wear / worlds.limit_mm)
            share = share * np.maximum(read, 0.0) / np.maximum(worlds.by_place(wear), 1e-6)
            pick = here[:, None]
            state.seen_mm = np.where(pick, np.maximum(read, 0.0), state.seen_mm).astype(np.float32)
            state.seen_share = np.where(pick, share, state.seen_share).astype(np.float32)
            state.seen_m = np.where(pick, np.float32(state.driven_m), state.seen_m)
            state.damaged = broke & pick
            chosen = (rule.changes(state) | state.damaged) & pick & model.serviceable[:, n]
            state.damaged = np.zeros_like(broke)
            state.last_stop_m = np.where(here, state.driven_m, state.last_stop_m)
            bad = passed | broke
            stand, pressed, people, spent = _stop_cost(worlds, n, chosen, here)
            hours[n], stopped[n] = stand, here
            entries += pressed
            persons += people
            cost += spent + (chosen * (price - core * ~bad)).sum(axis=1)
            out["changes"][n], out["late_taken"][n] = chosen, chosen & bad
            out["broken_taken"][n] = chosen & broke
            edge = np.repeat(chosen, np.diff([*worlds.first_edge, wear.shape[1]]), axis=1)
            base = np.where(edge, 0.0, base).astype(np.float32)
            factor = np.where(edge, worlds.factor[n], factor)
            origin = np.where(edge, worlds.path_mm[m], origin)
            hazard0 = np.where(chosen, worlds.hazard[m], hazard0)
            patience = np.where(chosen, worlds.patience[n + 1], patience)
            passed, broke = passed & ~chosen, broke & ~chosen
            state.seen_mm = np.where(chosen, 0.0, state.seen_mm).astype(np.float32)
            state.seen_share = np.where(chosen, 0.0, state.seen_share).astype(np.float32)
            wear = base + factor * (worlds.path_mm[m] - origin)
    share = worlds.by_place(wear / worlds.limit_mm)
    sound = ~(passed | broke)
    cost -= (core * sound + value * np.maximum(0.0, 1.0 - share)).sum(axis=1)
    return Played(
        cost=cost + late,
        late_cost=late,
        stops=stopped.sum(axis=0),
        entries_under_pressure=entries,
        person_hours=persons,
        tools=out["changes"].sum(axis=(0, 2)),
        late_tools=late_tools,
        broken_tools=broken,
        over_limit=np.asarray(over_limit),
        over_damage=np.asarray(over_damage),
        stopped=stopped,
        hours=hours,
        **out,
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
