"""Perfect foresight: what the drive would cost whoever knew every tool's wear and every damage beforehand.

Two crews foresee: one keeps the site's rules of rows and caps as the plan must, one keeps none. With the truth known a
cap below 1 means that no tool there may pass its limit, but on a stretch without a place to stop in between. Each is
given as a lower bound (the optimiser's, entries in parts, every ring of every window open) and as its plan booked on
the truth with whole entries; what such a crew would pay lies between the two. The bound is one for whoever changes in
windows alone and pays each late tool's forced stop by itself: on drives with many late tools, which share such stops
and have others changed along there, the booked plan may lie below it. Both also know which new tool will last
long and stop at the ring where the better ones are fitted: luck that no forecast could use.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from wearplan.plan.optimise import Problem, Solved, solve
from wearplan.site.records import Window

from .booking import Account, core_worth, damage_price, stop_terms
from .crew import Seen
from .follow import Follower
from .policies import rings_in, usable_windows
from .world import World


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
    """(N + 2,), 0 for now and the end"""
    over: np.ndarray
    """(P, N + 1, N + 2) whether an edge of the place has passed its limit in the interval."""


def foresight(world: World, *, rings_per_window: int | None = None) -> Foresight:
    """The arrays for perfect foresight: ``rings_per_window`` candidates in each window, evenly spread; None: all."""
    follower = world.follow()
    run, stops = follower.run, follower.run.blueprint.stops
    assert stops is not None
    chosen: list[tuple[int, Window]] = []
    for window in usable_windows(follower):
        rings = rings_in(follower, window)
        picks = np.unique(
            np.round(np.linspace(0, len(rings) - 1, min(len(rings), rings_per_window or len(rings)))).astype(int)
        )
        chosen += [(int(rings[k]), window) for k in picks]
    chosen.sort(key=lambda pair: pair[0])
    process = run.process
    nodes = np.array([run.ring, *(ring for ring, _ in chosen), process.rings])
    wheel = run.blueprint.wheel
    places: dict[str, list[int]] = {}
    for position in wheel.positions:
        places.setdefault(position.housing or str(position.number), []).append(position.number)
    late, sound, past, left = _interval_truth(
        world, follower, nodes, [[run.index[n] for n in edges] for edges in places.values()]
    )
    price_hour = stops.costs.standstill_per_hour
    terms = [stop_terms(stops, window) for _, window in chosen]
    count = len(chosen)
    cost = np.full((len(places), count + 1, count + 2), np.inf)
    over = np.zeros(cost.shape, bool)
    for p, edges in enumerate(places.values()):
        tool_type = wheel.tool_type(wheel.position(edges[0]).tool_type)
        core = core_worth(tool_type)
        sums, whole = late[p], sound[p]
        over[p] = past[p]
        for t in range(1, count + 2):
            credit = core * whole[:t, t]
            if t <= count:
                one = terms[t - 1]
                work = tool_type.change_hours.get(chosen[t - 1][1].mode, 1.0) / one.places
                persons = one.persons * stops.costs.compressed_air_per_person_hour if one.under_pressure else 0.0
                hour = price_hour * one.entry_every_hours / one.hours_per_entry + persons
                cost[p, :t, t] = sums[:t, t] + tool_type.price - credit + work * hour
            else:
                cost[p, :t, t] = sums[:t, t] - credit - whole[:t, t] * left[p, :t] * (tool_type.price - core)
    stop_cost = np.array([one.outside_hours * price_hour + one.fixed_cost for one in terms])
    least = np.array([max(one.look_hours, 0.0) / one.hours_per_entry * one.entry_every_hours for one in terms])
    return Foresight(
        codes=tuple(places), edges=tuple(tuple(v) for v in places.values()), rings=nodes,
        windows=tuple(window for _, window in chosen), interval_cost=cost, over=over,
        stop_cost=np.pad(stop_cost + least * price_hour, 1),
    )  # fmt: skip


def _interval_truth(
    world: World, follower: Follower, nodes: np.ndarray, places: Sequence[Sequence[int]]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Late and broken money, sound and past the limit before t (P, N + 1, N + 2), share left at the end (P, N + 1).

    A tool that passes its damage limit within an interval stops the drive there and is changed, as it is followed; each
    such stop is counted for its place alone, though two tools late at once would share it.
    """
    run, stops = follower.run, follower.run.blueprint.stops
    assert stops is not None
    costs, process, wheel = stops.costs, run.process, run.blueprint.wheel
    starts, count = len(nodes) - 1, len(nodes)
    shape = (len(places), starts, count)
    money, sound, past = np.zeros(shape), np.zeros(shape, bool), np.zeros(shape, bool)
    left = np.zeros(shape[:2])
    first = np.cumsum([0, *[len(at) for at in places]])[:-1]
    order = np.concatenate([np.asarray(at, int) for at in places])
    price = np.array([wheel.tool_type(wheel.positions[at[0]].tool_type).price for at in places])
    forced = np.zeros(process.rings + 1)
    for row in stops.forced_stops:
        inside = (process.edges_m >= row.from_m) & (process.edges_m <= row.to_m)
        forced[inside] = np.where(forced[inside] > 0, np.minimum(forced[inside], row.hours), row.hours)
    step_m = np.diff(process.edges_m)
    for s in range(starts):
        state = world.truth.run.state.copy()
        if s > 0:
            for i in range(len(run.limit_mm)):
                process.fit(state, i, int(nodes[s]))
        booked, ever = np.zeros(len(places)), np.zeros(len(places), bool)
        known = np.zeros(len(run.limit_mm), bool)
        for t in range(s + 1, count):
            for n in range(int(nodes[t - 1]), int(nodes[t])):
                process.advance(state, n)
                broken = state.trouble_ring >= 0
                each = np.zeros(len(broken))
                for i in np.flatnonzero(broken):
                    once, per_m = damage_price(costs, state.condition[i])
                    each[i] = per_m * step_m[n] + (0.0 if known[i] else once)
                booked += np.add.reduceat(each[order], first)
                known = broken
                ever |= np.logical_or.reduceat((state.wear_mm > run.limit_mm)[order], first)
                late = np.logical_or.reduceat((state.wear_mm > follower.damage_mm)[order], first)
                if late.any():
                    booked += late * (costs.late_tool + forced[n + 1] * costs.standstill_per_hour + price)
                    for i in (i for p in np.flatnonzero(late) for i in places[p]):
                        process.fit(state, i, n + 1)
                        known[i] = False
            money[:, s, t] = booked
            lost = np.array([bool(known[i]) and c not in costs.minor_conditions for i, c in enumerate(state.condition)])
            sound[:, s, t] = ~np.logical_or.reduceat(lost[order], first)
            past[:, s, t] = ever
        left[:, s] = np.minimum.reduceat(np.maximum(0.0, 1.0 - state.wear_mm / run.limit_mm)[order], first)
    return money, sound, past, left


def follow_visits(
    world: World, plan: Foresight, stops: Sequence[int], visits: np.ndarray, *, along: bool = True
) -> Account:
    """Book a plan of known stops (node numbers 1..N) and visits (P, N + 2) on the truth.

    With ``along`` whatever would force another stop before its own next visit is changed at a forced stop.
    """
    follower = world.follow()
    run = follower.run
    ends = run.process.rings
    of = {n: p for p, edges in enumerate(plan.edges) for n in edges}
    due = [[int(plan.rings[n]) for n in stops if visits[p, n]] for p in range(len(plan.edges))]

    def others(_: Follower, seen: dict[int, Seen]) -> list[int]:
        state = run.state.copy()
        until = np.array([next((r for r in due[of[int(n)]] if r > run.ring), ends) for n in run.process.numbers])
        late = np.zeros(len(until), bool)
        for ring in range(run.ring, int(until.max())):
            run.process.advance(state, ring)
            late |= (state.wear_mm > follower.damage_mm) & (ring < until)
        return [int(n) for n in run.process.numbers[late]]

    if along:
        follower.at_forced = others
    for n in stops:
        driven_m = float(run.process.edges_m[plan.rings[n]])
        follower.advance_to(driven_m, window=plan.windows[n - 1].name)
        follower.change(k for p in np.flatnonzero(visits[:, n]) for k in plan.edges[p])
    return follower.finish()


@dataclass(frozen=True, kw_only=True)
class Foreseen:
    """Cost of perfect foresight: not less than ``bound``, and ``booked`` with the plan found."""

    bound: float
    booked: float
    account: Account
    stops: tuple[int, ...]
    """Nodes, 1..N."""
    visits: np.ndarray
    """(P, N + 2)"""


def foreseen(world: World, known: Foresight, *, rules: bool, gap: float = 5e-3, time_limit_s: float = 60.0) -> Foreseen:
    """Solve with all of ``known``'s nodes open.

    Without ``rules`` the bound holds for any plan. With them it holds for the choice made of the tools that may be over
    in each row: those whose limit costs most to keep at the stops found without that limit, chosen once more at the
    stops found with it.
    """
    barred, rows = _barred(world, known) if rules else (np.zeros_like(known.over), [])
    freed = np.zeros(len(known.edges), bool)
    for members, _ in rows:
        freed[members] = True
    found: Solved | None = None
    for _ in range(3 if rows else 1):
        cost = np.where(barred & ~freed[:, None, None], np.inf, known.interval_cost)
        found = solve(Problem(interval_cost=cost, stop_cost=known.stop_cost), gap=gap, time_limit_s=time_limit_s)
        freed = _freed(known, barred, rows, found.stops)
    assert found is not None
    assert found.visits is not None
    account = follow_visits(world, known, found.stops, found.visits)
    return Foreseen(
        bound=found.lower_bound, booked=account.total, account=account, stops=found.stops, visits=found.visits
    )


def _barred(world: World, known: Foresight) -> tuple[np.ndarray, list[tuple[list[int], int]]]:
    """Intervals (P, N + 1, N + 2) past a limit that has to be kept, and (places, how many may be over) of each row."""
    wheel = world.site.wheel
    first = [wheel.position(edges[0]) for edges in known.edges]
    rows = []
    capped = np.array([wheel.max_over_limit_probability.get(p.zone, 1.0) < 1.0 and not p.row for p in first])
    for row in wheel.rows:
        members = [k for k, p in enumerate(first) if p.row == row.code]
        if row.may_be_over < len(members):
            capped[members] = True
            if row.may_be_over:
                rows.append((members, row.may_be_over))
    barred = known.over & capped[:, None, None]
    # Where the next node is past the limit already there is no place to stop in between.
    nodes = np.arange(barred.shape[1])
    barred[:, nodes, nodes + 1] = False
    return barred, rows


def _freed(
    known: Foresight, barred: np.ndarray, rows: Sequence[tuple[list[int], int]], stops: Sequence[int]
) -> np.ndarray:
    """(P,) the tools of each row that gain most by passing their limit, with the stops fixed."""
    nodes = [0, *stops, known.interval_cost.shape[2] - 1]
    freed = np.zeros(len(known.edges), bool)
    for members, allowed in rows:
        arcs = known.interval_cost[members][:, nodes[:-1]][:, :, nodes]
        bars = barred[members][:, nodes[:-1]][:, :, nodes]
        gain = _shortest(np.where(bars, np.inf, arcs)) - _shortest(arcs)
        freed[np.array(members)[np.argsort(-gain, kind="stable")[:allowed]]] = True
    return freed


def _shortest(arcs: np.ndarray) -> np.ndarray:
    """(P,) cost of the cheapest way of every place over (P, K + 1, K + 2) intervals."""
    reach = np.full((arcs.shape[0], arcs.shape[2]), np.inf)
    reach[:, 0] = 0.0
    for t in range(1, arcs.shape[2]):
        reach[:, t] = (reach[:, :t] + arcs[:, :t, t]).min(axis=1)
    return reach[:, -1]
