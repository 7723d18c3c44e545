"""Ways to go on from the face, to be compared on one truth: simple rules of a crew, and perfect foresight.

The rules see only what a crew sees: readings and straight lines through them. `Foresight` sees the truth; it gives the
arrays of a plan of known costs (which stops, which places at each) and books any such plan on a `Follower`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from wearplan.site.records import Site, Window

from .follow import Account, Follower, core_worth, entry_row, stop_terms
from .world import World


class Change(Protocol):
    action: str
    positions: Sequence[int]
    from_position: int | None


class Stop(Protocol):
    driven_m: float
    window: str
    changes: Sequence[Change]


class Plan(Protocol):
    """What is needed of a plan to follow it."""

    stops: Sequence[Stop]


def usable_windows(follower: Follower) -> list[Window]:
    """Windows ahead with an entry row and a ring that ends in them outside keep-outs."""
    stops = follower.run.blueprint.stops
    assert stops is not None
    return [
        w
        for w in stops.windows
        if w.from_m >= follower.face_m
        and entry_row(stops, w.mode, w.pressure_bar) is not None
        and len(rings_in(follower, w))
    ]


def rings_in(follower: Follower, window: Window) -> np.ndarray:
    """Ring counts whose end lies in a window, outside keep-outs, short of the drive's end."""
    edges = follower.run.process.edges_m
    stops = follower.run.blueprint.stops
    inside = (edges >= window.from_m - 1e-6) & (edges <= window.to_m + 1e-6) & (edges < edges[-1] - 1e-6)
    for keep in stops.keep_outs if stops else ():
        inside &= (edges < keep.from_m) | (edges > keep.to_m)
    return np.flatnonzero(inside)


def stop_in(follower: Follower, window: Window) -> dict[int, float]:
    """Stop at the first ring of a window; readings as the crew takes them, troubles as infinite wear."""
    ring = int(rings_in(follower, window)[0])
    readings = follower.advance_to(float(follower.run.process.edges_m[ring]), window=window.name)
    seen = follower.crew.seen(readings)
    return {n: np.inf if s.trouble else s.estimate_mm for n, s in seen.items()}


def until_limit(world: World) -> Account:
    """Go on until a straight line says that some tool has reached its limit, then the next window: change past 80 %."""
    follower = world.follow()
    run = follower.run
    for window in usable_windows(follower):
        run_on = follower.crew.expected_mm() + follower.crew.rate_mm_per_m * (window.from_m - follower.face_m)
        if not (run_on >= run.limit_mm).any():
            continue
        wear = stop_in(follower, window)
        follower.change(n for n, w in wear.items() if w >= 0.8 * run.limit_mm[run.index[n]])
    return follower.finish()


def every(world: World, spacing_m: float) -> Account:
    """Enter at the first window after so many metres: change what a straight line would not let last till the next."""
    follower = world.follow()
    run = follower.run
    last = follower.crew.last_m
    for window in usable_windows(follower):
        if window.from_m - last < spacing_m:
            continue
        wear = stop_in(follower, window)
        ahead = np.maximum(follower.crew.rate_mm_per_m, 0.0) * spacing_m
        follower.change(
            n for n, w in wear.items() if w + ahead[run.index[n]] >= run.limit_mm[run.index[n]]
        )
        last = window.from_m
    return follower.finish()


def every_second_window(world: World, share: float = 0.6) -> Account:
    """At every second window change all past a share of their limit."""
    follower = world.follow()
    run = follower.run
    for window in usable_windows(follower)[1::2]:
        wear = stop_in(follower, window)
        follower.change(n for n, w in wear.items() if w >= share * run.limit_mm[run.index[n]])
    return follower.finish()


def follow_plan(
    world: World, plan_of: Callable[[Site, tuple[float, ...]], Plan], *, replanned: bool = True
) -> Account:
    """Follow a planner. ``plan_of(site, forced_m)`` plans from what is known, with stops forced at ``forced_m``.

    Re-planned, each stop is planned twice: where to go next from the face, and, once there with what was read there,
    what to change (``forced_m`` then holds the face: the machine stands there). Not re-planned, the first plan's stops
    and changes are carried out whatever is found, but for tools found broken, which any crew would change.
    """
    follower = world.follow()
    plan = plan_of(follower.site(), ())
    ahead = list(plan.stops)
    while ahead:
        stop = ahead.pop(0)
        readings = follower.advance_to(stop.driven_m, window=stop.window)
        broken = [n for n, seen in follower.crew.seen(readings).items() if seen.trouble]
        changes = stop.changes
        if replanned:
            here = plan_of(follower.site(), (follower.face_m,)).stops
            changes = [c for s in here if abs(s.driven_m - follower.face_m) < 0.5 for c in s.changes]
        moves = [(c.positions[0], c.from_position) for c in changes if c.action == "move" and c.from_position]
        moves = [(to, source) for to, source in moves if to not in broken and source not in broken]
        arrivals = {to for to, _ in moves}
        follower.change({n for c in changes for n in c.positions if n not in arrivals} | set(broken), moves=moves)
        if replanned:
            ahead = [s for s in plan_of(follower.site(), ()).stops if s.driven_m > follower.face_m + 0.5][:1]
    return follower.finish()


@dataclass(frozen=True)
class Foresight:
    """Costs of every interval between services of a place, from the truth; node 0 is the face, N + 1 the end."""

    codes: tuple[str, ...]
    edges: tuple[tuple[int, ...], ...]
    """Position numbers of each place."""
    rings: np.ndarray
    """(N + 2,) ring counts of the nodes."""
    windows: tuple[Window, ...]
    """(N,)"""
    interval_cost: np.ndarray
    """(P, N + 1, N + 2), inf for s >= t; work at a stop in parts of an entry, so a bound below what is booked."""
    stop_cost: np.ndarray
    """(N,)"""


def foresight(world: World, *, rings_per_window: int = 1) -> Foresight:
    """The arrays for perfect foresight: ``rings_per_window`` candidates in each window, evenly spread."""
    follower = world.follow()
    run, stops = follower.run, follower.run.blueprint.stops
    assert stops is not None
    chosen: list[tuple[int, Window]] = []
    for window in usable_windows(follower):
        rings = rings_in(follower, window)
        picks = np.unique(np.round(np.linspace(0, len(rings) - 1, min(len(rings), rings_per_window))).astype(int))
        chosen += [(int(rings[k]), window) for k in picks]
    chosen.sort(key=lambda pair: pair[0])
    process = run.process
    nodes = np.array([run.ring, *(ring for ring, _ in chosen), process.rings])
    late, sound, wear_end = _interval_truth(world, follower, nodes)
    wheel = run.blueprint.wheel
    places: dict[str, list[int]] = {}
    for position in wheel.positions:
        places.setdefault(position.housing or str(position.number), []).append(position.number)
    price_hour = stops.costs.standstill_per_hour
    terms = [stop_terms(stops, window) for _, window in chosen]
    count = len(chosen)
    cost = np.full((len(places), count + 1, count + 2), np.inf)
    for p, edges in enumerate(places.values()):
        at = [run.index[n] for n in edges]
        tool_type = wheel.tool_type(wheel.position(edges[0]).tool_type)
        core = core_worth(tool_type)
        sums, whole = late[at].sum(axis=0), sound[at].all(axis=0)
        for t in range(1, count + 2):
            credit = core * whole[:t, t]
            if t <= count:
                one = terms[t - 1]
                work = tool_type.change_hours.get(chosen[t - 1][1].mode, 1.0) / one.places
                persons = one.persons * stops.costs.compressed_air_per_person_hour if one.under_pressure else 0.0
                hour = price_hour * one.entry_every_hours / one.hours_per_entry + persons
                cost[p, :t, t] = sums[:t, t] + tool_type.price - credit + work * hour
            else:
                left = np.maximum(0.0, 1.0 - wear_end[at][:, :t] / run.limit_mm[at][:, None]).min(axis=0)
                cost[p, :t, t] = sums[:t, t] - credit - whole[:t, t] * left * (tool_type.price - core)
    stop_cost = np.array([one.outside_hours * price_hour + one.fixed_cost for one in terms])
    least = np.array([max(one.look_hours, 0.0) / one.hours_per_entry * one.entry_every_hours for one in terms])
    return Foresight(
        codes=tuple(places), edges=tuple(tuple(v) for v in places.values()), rings=nodes,
        windows=tuple(window for _, window in chosen), interval_cost=cost, stop_cost=stop_cost + least * price_hour,
    )  # fmt: skip


def _interval_truth(
    world: World, follower: Follower, nodes: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Late and broken money (E, N + 1, N + 2), soundness at t, and wear at the end (E, N + 1); E edges."""
    run, stops = follower.run, follower.run.blueprint.stops
    assert stops is not None
    costs, process = stops.costs, run.process
    starts, count = len(nodes) - 1, len(nodes)
    shape = (len(run.limit_mm), starts, count)
    money, sound = np.zeros(shape), np.zeros(shape, bool)
    wear_end = np.zeros(shape[:2])
    forced = np.zeros(process.rings + 1)
    for row in stops.forced_stops:
        inside = (process.edges_m >= row.from_m) & (process.edges_m <= row.to_m)
        forced[inside] = np.where(forced[inside] > 0, np.minimum(forced[inside], row.hours), row.hours)
    step_m = np.diff(process.edges_m)
    for s in range(starts):
        state = world.truth.run.state.copy()
        if s > 0:
            for i in range(shape[0]):
                process.fit(state, i, int(nodes[s]))
        booked = np.zeros(shape[0])
        known = np.zeros(shape[0], bool)
        for t in range(s + 1, count):
            for n in range(int(nodes[t - 1]), int(nodes[t])):
                process.advance(state, n)
                worn = state.wear_mm > follower.damage_mm
                bad = worn | (state.trouble_ring >= 0)
                booked += bad * costs.late_tool_per_m * step_m[n]
                new = bad & ~known
                booked += new * (costs.late_tool + (worn * forced[n + 1] * costs.standstill_per_hour))
                known |= bad
            money[:, s, t] = booked
            sound[:, s, t] = ~known
        wear_end[:, s] = state.wear_mm
    return money, sound, wear_end


def follow_visits(world: World, plan: Foresight, stops: Sequence[int], visits: np.ndarray) -> Account:
    """Book a plan of known stops (node numbers 1..N) and visits (P, N) on the truth."""
    follower = world.follow()
    for n in stops:
        driven_m = float(follower.run.process.edges_m[plan.rings[n]])
        follower.advance_to(driven_m, window=plan.windows[n - 1].name)
        follower.change(k for p in np.flatnonzero(visits[:, n - 1]) for k in plan.edges[p])
    return follower.finish()
