"""The plan as a superintendent meets it: scenarios, rules that clash, and what must always hold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tests.plan.makers import AIR, air_window, forced_stop, keep_out, make_outlook, make_site, window
from wearplan.plan import Plan, Wishes, propose
from wearplan.site.records import Costs, Site

BARE = Wishes(deferral=False, tradeoff=False, comparison=False)


def river_site(**over: object) -> Site:
    """A window, another 96 m on, then a river without one."""
    given: dict[str, object] = {
        "discs": 16,
        "gauge": 3,
        "windows": (
            air_window("block 2", 402.0, 405.0),
            air_window("block 3", 498.0, 501.0),
            window("shaft 4", 700.0, 706.0),
        ),
        "keep_outs": (keep_out(560.0, 690.0),),
        "forced_stops": (forced_stop(560.0, 690.0),),
        "caps": {"gauge": 0.3},
        "end_m": 900.0,
    }
    given.update(over)
    return make_site(**given)  # type: ignore[arg-type]


def test_a_row_up_to_1_2_bar_and_a_window_at_1_4() -> None:
    deep = air_window("deep block", 420.0, 426.0, 1.4)
    site = make_site(windows=(deep,))
    plan = propose(site, make_outlook(site), wishes=BARE)
    assert [u.window for u in plan.unusable] == ["deep block"]
    assert "up_to_pressure_bar of at least 1.4" in plan.unusable[0].why
    assert plan.status == "impossible"
    assert plan.why_impossible is not None
    assert "deep block" in plan.why_impossible.sentence
    row = replace(AIR, up_to_pressure_bar=1.6, working_hours_per_entry=2.0)
    site = make_site(windows=(deep, window("shaft", 640.0, 643.0)), rows=(AIR, row))
    plan = propose(site, make_outlook(site), wishes=replace(BARE, forced_windows=("deep block",)))
    assert not plan.unusable
    stop = plan.stops[0]
    assert (stop.window, stop.mode, stop.pressure_bar) == ("deep block", "compressed air", 1.4)
    busy = sum(h for step, h in stop.schedule if step.startswith(("clean", "changes")))
    assert busy == pytest.approx(stop.entries * 12.0)
    assert "up to 1.6 bar: 2 h an entry" in str(stop.entry_row)


def test_go_on_96_m_to_the_next_window() -> None:
    site = river_site()
    outlook = make_outlook(site, mm_per_100m=6.5, wear_now_mm=14.0)
    plan = propose(site, outlook, wishes=replace(Wishes(comparison=False), forced_windows=("block 2",)))
    assert plan.stops[0].window == "block 2"
    now, later = plan.deferral[0], next(d for d in plan.deferral if d.window == "block 3")
    assert (now.extra_cost, now.ahead_m, now.extra_entries) == (0.0, 0.0, 0)
    assert later.ahead_m == pytest.approx(96.0, abs=3.0)
    assert later.gauge_over_damage_probability > now.gauge_over_damage_probability
    assert later.over_limit_probability > now.over_limit_probability
    assert isinstance(later.extra_entries, int)
    assert set(later.drivers) & {14, 15, 16}
    beyond = next(d for d in plan.deferral if d.window == "shaft 4")
    assert "block 3" in beyond.note
    assert "last place to stop" in beyond.note
    assert "river" in beyond.note
    last = next(x for x in plan.last_stops if x.window == "block 3")
    assert last.next_window == "shaft 4"
    assert last.because == "below the river"


def test_chances_of_going_on_are_those_of_the_outlook() -> None:
    """Against a simulation of the tools in place, made here."""
    site = river_site()
    outlook = make_outlook(site, mm_per_100m=6.5, wear_now_mm=14.0, draws=400)
    plan = propose(site, outlook, wishes=Wishes(comparison=False, tradeoff=False))
    rng = np.random.default_rng(8)
    for row in plan.deferral:
        at = np.argmin(np.abs(outlook.grid_m - row.driven_m))
        mean = outlook.potential_mm[:, :, at] * outlook.life_factor
        draws = outlook.wear_now_mm + rng.gamma(np.maximum(np.tile(mean, (20, 1, 1)), 1e-9) / 0.3) * 0.3
        over = (draws > 25.0).any(axis=2).mean()
        damage = (draws > 32.0)[:, :, 13:].any(axis=2).mean()
        assert row.over_limit_probability == pytest.approx(over, abs=0.02)
        assert row.gauge_over_damage_probability == pytest.approx(damage, abs=0.02)


def test_no_window_ahead_is_impossible_and_says_who_needs_one() -> None:
    site = make_site(windows=())
    plan = propose(site, make_outlook(site), wishes=BARE)
    assert plan.status == "impossible"
    clash = plan.why_impossible
    assert clash is not None
    assert clash.positions
    assert "no usable window" in clash.sentence


def test_nothing_due_needs_no_stop() -> None:
    site = make_site(windows=(window("shaft", 400.0, 406.0),), end_m=420.0)
    plan = propose(site, make_outlook(site, wear_now_mm=1.0), wishes=BARE)
    assert plan.status == "none_needed"
    assert not plan.stops
    assert plan.entries_under_pressure == 0
    assert "optimal" not in plan.headline


def test_a_stretch_too_long_for_a_new_tool_clashes() -> None:
    site = make_site(windows=(window("a", 400.0, 403.0),), end_m=1400.0)
    plan = propose(site, make_outlook(site), wishes=BARE)
    clash = plan.why_impossible
    assert plan.status == "impossible"
    assert clash is not None
    assert len(clash.places) == 1
    assert "even when new" in clash.sentence
    assert clash.from_m == pytest.approx(402.0, abs=1.6)
    assert clash.to_m == pytest.approx(1400.0)
    # What breaks least is still shown.
    assert plan.stops


def test_too_few_entries_clash_with_the_least_that_is_needed() -> None:
    site = make_site(windows=(air_window("a", 400.0, 403.0), air_window("b", 640.0, 643.0)))
    outlook = make_outlook(site)
    plan = propose(site, outlook, wishes=replace(BARE, max_entries=0))
    assert plan.status == "impossible"
    assert plan.why_impossible is not None
    assert plan.why_impossible.rule == "entries"


def test_a_tool_past_its_cap_where_it_stands_is_due_at_the_first_place() -> None:
    site = make_site(windows=(window("a", 330.0, 330.5), window("b", 500.0, 506.0)), end_m=600.0)
    outlook = make_outlook(site, wear_now_mm={3: 26.0})
    plan = propose(site, outlook, wishes=BARE)
    assert plan.status != "impossible"
    assert plan.stops[0].window == "a"
    assert 3 in [n for c in plan.stops[0].changes for n in c.positions]
    assert any("Past their cap already" in r for r in plan.remarks)


def test_forced_and_forbidden_stops_are_kept_and_priced() -> None:
    site = make_site(windows=tuple(window(f"w{i}", 360.0 + 90 * i, 363.0 + 90 * i) for i in range(6)), caps={})
    outlook = make_outlook(site)
    free = propose(site, outlook, wishes=BARE)
    assert free.forced_extra_cost is None
    forced = propose(site, outlook, wishes=replace(BARE, forced_windows=("w0",)))
    assert any(s.window == "w0" and s.forced for s in forced.stops)
    assert forced.model_cost is not None
    assert free.model_cost is not None
    assert forced.model_cost >= free.model_cost - 1e-6
    assert forced.expected_cost is not None
    assert free.expected_cost is not None
    assert forced.forced_extra_cost == pytest.approx(forced.expected_cost - free.expected_cost, abs=1.0)
    used = free.stops[0].window
    without = propose(site, outlook, wishes=replace(BARE, forbidden_windows=(used,)))
    assert used not in [s.window for s in without.stops]
    assert without.model_cost is not None
    assert without.model_cost >= free.model_cost - 1e-6
    nowhere = propose(site, outlook, wishes=replace(BARE, forced_m=(333.0,)))
    assert any("no usable window" in r for r in nowhere.remarks)


@pytest.mark.parametrize("harsher", ["standstill", "late", "late per m", "setup", "cap", "price"])
def test_the_least_cost_never_falls_when_something_gets_harsher(harsher: str) -> None:
    windows = tuple(air_window(f"w{i}", 380.0 + 110 * i, 383.0 + 110 * i, setup_hours=10.0 + 3 * i) for i in range(5))
    costs = Costs(standstill_per_hour=900.0, late_tool=15000.0, late_tool_per_m=80.0)
    site = make_site(windows=windows, costs=costs, caps={"gauge": 0.4}, end_m=960.0)
    outlook = make_outlook(site, mm_per_100m=6.0)
    mild = propose(site, outlook, wishes=BARE)
    assert site.stops is not None
    if harsher == "cap":
        worse = replace(site, wheel=replace(site.wheel, max_over_limit_probability={"gauge": 0.02}))
    elif harsher == "price":
        types = tuple(replace(t, price=2 * t.price) for t in site.wheel.tool_types)
        worse = replace(site, wheel=replace(site.wheel, tool_types=types))
    elif harsher == "setup":
        longer = tuple(replace(w, setup_hours=w.setup_hours + 20.0) for w in windows)
        worse = replace(site, stops=replace(site.stops, windows=longer))
    else:
        key = {"standstill": "standstill_per_hour", "late": "late_tool", "late per m": "late_tool_per_m"}[harsher]
        more = replace(costs, **{key: 2.0 * getattr(costs, key)})
        worse = replace(site, stops=replace(site.stops, costs=more))
    harsh = propose(worse, replace(outlook, site=worse), wishes=BARE)
    assert mild.model_cost is not None
    assert harsh.model_cost is not None
    assert harsh.model_cost >= mild.model_cost * (1 - 1e-4)


def check_sums(plan: Plan) -> None:
    assert plan.expected_cost is not None
    assert plan.lower_bound is not None
    assert plan.model_cost is not None
    parts = plan.parts
    assert parts.stops + parts.work + parts.tools + parts.late + parts.damage == pytest.approx(plan.expected_cost)
    assert plan.lower_bound <= plan.model_cost + 1e-6
    assert plan.model_cost <= plan.expected_cost + 1e-6 * abs(plan.expected_cost)
    for stop in plan.stops:
        assert sum(h for _, h in stop.schedule) == pytest.approx(stop.hours)
        assert stop.entries >= 1
        for change in stop.changes:
            assert "chance of" in change.sentence
            assert change.sentence.endswith(".")
    assert plan.entries_under_pressure == sum(s.entries_under_pressure for s in plan.stops)


def test_cost_parts_bounds_and_schedules_add_up() -> None:
    for seed in range(4):
        site = river_site(scrapers=8, housings=2, neighbour_step_mm=12.0)
        outlook = make_outlook(site, seed=seed, mm_per_100m=5.0 + seed, hazard_per_km=0.2)
        check_sums(propose(site, outlook, wishes=BARE))


def test_neighbour_step_is_kept_after_every_stop() -> None:
    site = make_site(windows=(window("a", 400.0, 403.0),), end_m=560.0, neighbour_step_mm=6.0, caps={"gauge": 0.05})
    outlook = make_outlook(site, wear_now_mm={n: 2.0 if n % 2 else 14.0 for n in range(1, 13)})
    plan = propose(site, outlook, wishes=replace(BARE, forced_windows=("a",)))
    changed = {n for c in plan.stops[0].changes for n in c.positions}
    mean = outlook.wear_now_mm.mean(axis=0) + (
        outlook.life_factor * outlook.potential_mm[:, :, np.argmin(np.abs(outlook.grid_m - plan.stops[0].driven_m))]
    ).mean(axis=0)
    left = np.array([0.0 if n in changed else mean[n - 1] for n in range(1, 13)])
    assert np.abs(np.diff(left)).max() <= 6.0 + 0.1
    assert {c.reason for c in plan.stops[0].changes} & {"neighbour", "limit"}


def test_overcut_a_curve_asks_for_is_kept() -> None:
    given = {"windows": (window("a", 400.0, 403.0),), "end_m": 500.0, "caps": {}, "shield_diameter_m": 7.08}
    outlook_of = lambda site: make_outlook(site, wear_now_mm=8.0, mm_per_100m=3.0)  # noqa: E731
    easy = make_site(**given, required_overcut_mm=2.0)  # type: ignore[arg-type]
    tight = make_site(**given, required_overcut_mm=12.0)  # type: ignore[arg-type]
    wishes = replace(BARE, forced_windows=("a",))
    assert not propose(easy, outlook_of(easy), wishes=wishes).stops[0].changes
    plan = propose(tight, outlook_of(tight), wishes=wishes)
    assert [c.reason for c in plan.stops[0].changes] == ["overcut"]
    assert plan.stops[0].changes[0].zone == "gauge"
    assert any("overcut" in r for r in plan.remarks)


def test_inside_tools_are_changed_in_free_air_in_a_window_under_pressure() -> None:
    site = make_site(windows=(air_window("a", 400.0, 403.0),), end_m=560.0, caps={"gauge": 0.05}, gauge=2)
    positions = tuple(replace(p, access="inside") if p.zone == "gauge" else p for p in site.wheel.positions)
    site = replace(site, wheel=replace(site.wheel, positions=positions))
    plan = propose(site, make_outlook(site, wear_now_mm={11: 14.0, 12: 14.0}), wishes=BARE)
    stop = plan.stops[0]
    assert stop.mode == "free air"
    assert stop.entries_under_pressure == 0
    assert plan.entries_under_pressure == 0
    assert {n for c in stop.changes for n in c.positions} == {11, 12}
    assert "inside-only" in [c.code for c in stop.cautions]


def test_the_stop_where_the_machine_stands_costs_no_second_set_up() -> None:
    site = make_site(windows=(window("a", 297.0, 303.0, setup_hours=40.0), window("b", 600.0, 606.0)))
    outlook = make_outlook(site, wear_now_mm=15.0)
    plan = propose(site, outlook, wishes=replace(BARE, standing=True))
    assert plan.stops[0].driven_m == pytest.approx(300.0)
    assert "set-up" not in [step for step, _ in plan.stops[0].schedule]
    assert plan.stops[0].changes


def test_asking_to_stop_gives_what_there_is() -> None:
    site = river_site()
    plan = propose(site, make_outlook(site), should_stop=lambda: True)
    assert plan.status in ("best_found", "least_cost", "not_found")
    if plan.status == "not_found":
        assert plan.why_impossible is None
        assert "is not known" in plan.headline


def test_a_plan_says_how_far_it_lies_above_any_once_entries_are_whole() -> None:
    site = make_site(windows=tuple(air_window(f"w{i}", 350.0 + 100.0 * i, 356.0 + 100.0 * i) for i in range(5)))
    plan = propose(site, make_outlook(site, wear_now_mm=15.0), wishes=BARE)
    assert plan.whole_gap is not None
    assert plan.gap is not None
    assert plan.whole_gap >= plan.gap - 1e-9
    least = max(plan.lower_bound, -math.inf if plan.whole_lower_bound is None else plan.whole_lower_bound)
    assert plan.expected_cost * (1.0 - plan.whole_gap) == pytest.approx(least)
    assert ("once entries are counted whole" in plan.headline) == (plan.whole_gap > plan.gap + 5e-4)


def test_a_cap_on_entries_that_whole_entries_break_is_said() -> None:
    """Five stops need an entry each at least, so the model allows five; counted whole the work takes more."""
    site = make_site(
        discs=30, windows=tuple(air_window(f"w{i}", 350.0 + 100.0 * i, 356.0 + 100.0 * i) for i in range(6))
    )
    outlook = make_outlook(site, wear_now_mm=18.0, mm_per_100m=6.0)
    free = propose(site, outlook, wishes=BARE)
    assert free.keeps_rules
    seen = set()
    for most in range(free.entries_under_pressure - 1, 0, -1):
        plan = propose(site, outlook, wishes=replace(BARE, max_entries=most))
        assert not plan.keeps_rules or plan.entries_under_pressure <= most
        if plan.status == "not_found":
            assert plan.why_impossible is not None
            assert f"where {most} {'is' if most == 1 else 'are'} allowed" in plan.why_impossible.sentence
        seen.add(plan.status)
    assert seen == {"least_cost", "impossible"}, "a plan or a proof"


def test_a_finished_drive_has_nothing_left_to_plan() -> None:
    site = make_site(windows=(window("a", 100.0, 106.0),), face_m=999.0, end_m=999.0)
    plan = propose(site, make_outlook(site, wear_now_mm=15.0))
    assert plan.finished
    assert plan.headline == "the drive is finished, so there is nothing left to plan"
    assert plan.ground_break is None


def test_modes_for_specialists_are_never_planned() -> None:
    site = make_site(windows=(window("deep", 400.0, 406.0, mode="saturation", pressure_bar=6.0), window("s", 500, 506)))
    plan = propose(site, make_outlook(site), wishes=BARE)
    assert plan.unusable[0].code == "specialist"
    assert {s.window for s in plan.stops} <= {"s"}


def test_odd_drives_get_a_plain_answer() -> None:
    finished = make_site(windows=(window("a", 400.0, 403.0),), face_m=1000.5, end_m=1000.5)
    plan = propose(finished, make_outlook(finished))
    assert plan.status == "none_needed"
    assert not plan.stops
    still = make_site(windows=(window("a", 400.0, 403.0), window("b", 700.0, 703.0)))
    assert propose(still, make_outlook(still, mm_per_100m=0.0)).status == "none_needed"
    worn = propose(still, make_outlook(still, wear_now_mm=40.0))
    assert len(worn.stops[0].changes) == 12
    fast = propose(still, make_outlook(still, mm_per_100m=200.0))
    assert fast.status == "impossible"
    assert fast.why_impossible is not None
    with pytest.raises(ValueError, match=r"stops\.toml"):
        propose(replace(still, stops=None), make_outlook(still))


def test_without_change_hours_nothing_is_planned() -> None:
    site = make_site(windows=(window("a", 400.0, 403.0),))
    types = tuple(replace(t, change_hours={}) for t in site.wheel.tool_types)
    site = replace(site, wheel=replace(site.wheel, tool_types=types))
    plan = propose(site, make_outlook(site), wishes=BARE)
    assert plan.status == "impossible"
    assert plan.why_impossible is not None
    assert "change_hours" in plan.why_impossible.sentence
