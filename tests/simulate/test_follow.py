"""Ways of going on are booked alike, and foresight's arrays foretell what is booked."""

from __future__ import annotations

from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest

from tests.simulate import World
from tests.simulate.foresight import follow_visits, foreseen, foresight
from tests.simulate.policies import every, every_second_window, follow_plan, past, until_limit


@pytest.fixture(scope="module")
def world() -> World:
    return World(21, places=30, length_m=900.0, driven_share=0.4, wear_scale=2.0, window_every_m=60.0)


def test_rules_run_and_differ(world):
    accounts = [until_limit(world), every(world, 120.0), every(world, 240.0), every_second_window(world)]
    assert len({round(a.total) for a in accounts}) == len(accounts)
    assert all(a.stops > 0 and a.standstill > 0 for a in accounts)


def test_foresight_is_booked_as_foretold(world):
    plan = foresight(world)
    rng = np.random.default_rng(1)
    end = len(plan.stop_cost) - 1
    for _ in range(5):
        stops = sorted(rng.choice(np.arange(1, end), 3, replace=False).tolist())
        visits = np.zeros((len(plan.edges), end + 1), bool)
        visits[:, stops] = rng.random((len(plan.edges), 3)) < 0.5
        told = sum(plan.stop_cost[n] for n in stops)
        for p in range(len(plan.edges)):
            nodes = [0, *(n for n in stops if visits[p, n]), end]
            told += sum(plan.interval_cost[p, s, t] for s, t in pairwise(nodes))
        account = follow_visits(world, plan, stops, visits, along=False)
        # whole entries can only add to it: at most one entry a stop
        assert told - 1e-6 <= account.total <= told + 3 * 8.0 * 1500.0 + 1e-6


def test_perfect_foresight_with_and_without_rules(world):
    known = foresight(world)
    free, ruled = (foreseen(world, known, rules=rules, gap=1e-3) for rules in (False, True))
    assert free.bound <= free.booked
    assert ruled.bound <= ruled.booked
    assert free.bound <= ruled.bound * 1.001
    wheel = world.site.wheel
    kept = {}
    for name, found in (("free", free), ("ruled", ruled)):
        over = {row.code: set() for row in wheel.rows}
        for p, edges in enumerate(known.edges):
            nodes = [0, *(n for n in found.stops if found.visits[p, n]), len(known.rings) - 1]
            row = wheel.position(edges[0]).row
            # Past its limit, although there was a place to stop before.
            if row and any(known.over[p, s, t] and t > s + 1 for s, t in pairwise(nodes)):
                over[row].add(p)
        kept[name] = all(len(over[row.code]) <= row.may_be_over for row in wheel.rows)
    assert kept["ruled"]
    assert not kept["free"]
    others = [until_limit(world), every(world, 120.0), every(world, 200.0), every_second_window(world)]
    assert all(free.bound <= other.total for other in others)


def test_following_a_planner(world):
    asked: list[tuple[float, ...]] = []

    def plan_of(site, forced_m):
        """A planner that enters every third window and changes what was last read past half its limit."""
        asked.append(forced_m)
        face = site.rings[-1].end_m
        wheel = site.wheel
        read = {m.position: m.wear_mm or 0.0 for m in site.inspections[-1].measurements}
        limit = {p.number: p.wear_limit_mm or wheel.tool_type(p.tool_type).wear_limit_mm for p in wheel.positions}
        worn = tuple(n for n, wear in read.items() if wear > 0.5 * limit[n])
        change = SimpleNamespace(action="change", positions=worn, from_position=None)
        at = [(w.from_m + 2.0, w.name) for w in site.stops.windows[::3] if w.from_m > face]
        at = [(m, next(w.name for w in site.stops.windows if w.from_m <= m <= w.to_m)) for m in forced_m] + at
        return SimpleNamespace(stops=[SimpleNamespace(driven_m=m, window=w, changes=[change]) for m, w in at])

    account = follow_plan(world, plan_of)
    assert account.stops == len([f for f in asked if f])
    assert account.changes > 0
    fixed = follow_plan(world, plan_of, replanned=False)
    assert fixed.stops == account.stops
    assert fixed.total != account.total


def test_a_move_takes_the_tool_along_and_buys_one_less(world):
    at = world.site.stops.windows[0].from_m + 2.0
    wheel = world.site.wheel
    single = [p.number for p in wheel.positions if p.tool_type == "disc-a"]
    to, source = single[0], single[-1]
    moved, changed = world.follow(), world.follow()
    for follower in (moved, changed):
        follower.advance_to(at)
    worn = moved.run.state.wear_mm[moved.run.index[source]]
    moved.change([source], moves=[(to, source)])
    changed.change([source, to])
    assert moved.run.state.wear_mm[moved.run.index[to]] == worn
    assert moved.run.state.wear_mm[moved.run.index[source]] == 0.0
    assert changed.account.tools > moved.account.tools
    late = sum(len(stop.late) for stop in moved.forced)
    assert moved.account.changes == changed.account.changes == 2 + late


def test_a_tool_past_its_damage_limit_stops_the_drive_and_is_changed_there(world):
    follower = world.follow()
    account = follower.finish()
    assert account.stops == 0
    assert account.forced_stops == len(follower.forced) > 0
    late = sum(len(stop.late) for stop in follower.forced)
    # No tool is driven on past its damage limit.
    assert (follower.run.state.wear_mm <= follower.damage_mm).all()
    assert late >= account.forced_stops
    # Hours once a stop, the fee once a tool (a housing is one).
    costs = world.site.stops.costs
    hours = world.site.stops.forced_stops[0].hours
    assert account.late == pytest.approx(
        account.forced_stops * hours * costs.standstill_per_hour + account.late_tools * costs.late_tool
    )
    assert account.changes == account.late_tools
    for stop in follower.forced:
        record = next(i for i in follower.site().inspections if i.driven_m == stop.driven_m)
        assert set(stop.late) <= {f.position for f in record.fittings}
        reached = world.truth.limit_m(
            stop.late[0], limit_mm=float(follower.damage_mm[follower.run.index[stop.late[0]]])
        )
        assert stop.driven_m >= reached - 1e-6


def test_worn_tools_near_a_forced_stop_may_be_changed_along(world):
    alone, along = world.follow(), world.follow()
    along.at_forced = past(0.8)
    for follower in (alone, along):
        follower.finish()
    assert any(stop.also for stop in along.forced)
    assert along.account.forced_stops < alone.account.forced_stops
    assert along.account.standstill > 0.0


def test_a_forced_stop_on_the_way_gives_the_word_back(world):
    follower = world.follow()
    assert follower.drive_towards(world.site.drive.length_m) is False
    first = follower.forced[0]
    assert follower.face_m == first.driven_m
    straight = world.follow()
    straight.finish()
    assert straight.forced[0] == first
