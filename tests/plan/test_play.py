"""Plans and rules of thumb played on draws, against what the model expects and against one another."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plan.makers import DISC, air_window, keep_out, make_outlook, make_site, window
from wearplan.plan import Wishes, propose, use_draws
from wearplan.plan.ahead.terms import terms_of
from wearplan.plan.carry_out.choose import search
from wearplan.plan.carry_out.costing import cost_parts, total, works
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Model
from wearplan.plan.optimise import served_before
from wearplan.plan.play.foresight import draw_costs
from wearplan.plan.play.play import play
from wearplan.plan.play.policies import Every, Planned, first_of_windows, mean_share
from wearplan.plan.play.rule import thresholds, whole_choice
from wearplan.plan.play.worlds import worlds
from wearplan.site.records import Costs

BARE = Wishes(deferral=False, tradeoff=False, comparison=False)


@pytest.fixture(scope="module")
def drive() -> Model:
    site = make_site(
        discs=14,
        gauge=3,
        windows=tuple((air_window if i % 2 else window)(f"w{i}", 370.0 + 85 * i, 371.0 + 85 * i) for i in range(8)),
        keep_outs=(keep_out(470.0, 500.0),),
        costs=Costs(standstill_per_hour=700.0, late_tool=18000.0, late_tool_per_m=60.0),
        caps={},
        end_m=1100.0,
    )
    outlook = make_outlook(site, draws=400, mm_per_100m=5.5, wear_now_mm=9.0, hazard_per_km=0.15)
    return task(site, outlook, Wishes())[0]


def test_a_fixed_plan_costs_on_the_draws_what_the_model_expects(drive: Model) -> None:
    """Damage is found at the next look in both; what renewing a tool early costs is reckoned roughly in the model."""
    found = search(drive, gap=1e-4, time_limit_s=20.0)
    expected = total(cost_parts(drive, found.stops, found.visits, works(drive, found.stops, found.visits)))
    drawn = worlds(drive, draws=400, seed=3)
    out = play(drawn, Planned(where=found.stops, model=drive, visits=found.visits))
    assert out.cost.mean() == pytest.approx(expected, rel=0.06)


def test_without_damage_the_two_agree_closely(drive: Model) -> None:
    outlook = replace(drive.ahead.outlook, damage_hazard=0.0 * drive.ahead.outlook.damage_hazard)
    model = task(drive.ahead.site, outlook, Wishes())[0]
    found = search(model, gap=1e-4, time_limit_s=20.0)
    expected = total(cost_parts(model, found.stops, found.visits, works(model, found.stops, found.visits)))
    drawn = worlds(model, draws=400, seed=3)
    out = play(drawn, Planned(where=found.stops, model=model, visits=found.visits))
    error = out.cost.std() / np.sqrt(len(out.cost))
    assert abs(out.cost.mean() - expected) < 4 * error + 0.005 * expected


def test_reading_at_each_stop_is_worth_something(drive: Model) -> None:
    found = search(drive, gap=1e-4, time_limit_s=20.0)
    drawn = worlds(drive, draws=300, seed=5)
    fixed = play(drawn, Planned(where=found.stops, model=drive, visits=found.visits))
    rule = thresholds(drive, found.stops)
    adaptive = play(drawn, Planned(where=found.stops, model=drive, rule=rule))
    assert adaptive.cost.mean() < fixed.cost.mean()


def test_the_plan_beats_the_best_spacing_on_the_draws(drive: Model) -> None:
    plan = propose(drive.ahead.site, drive.ahead.outlook, wishes=Wishes(deferral=False, tradeoff=False))
    by = {p.code: p for p in plan.comparison}
    assert {"plan", "plan_fixed", "run_until_found", "every", "second_window", "foresight"} <= set(by)
    assert by["plan"].expected_cost < by["every"].expected_cost
    assert by["plan"].expected_cost < by["plan_fixed"].expected_cost
    assert by["foresight"].expected_cost < by["plan"].expected_cost
    assert all(p.draws > 0 for p in plan.comparison)


def test_foresight_costs_are_those_of_playing_the_same_visits(drive: Model) -> None:
    """Intervals of one draw added up along a plan's visits equal the play of that draw, entries in parts apart."""
    found = search(drive, gap=1e-3, time_limit_s=20.0)
    outlook = replace(drive.ahead.outlook, damage_hazard=0.0 * drive.ahead.outlook.damage_hazard)
    model = task(drive.ahead.site, outlook, Wishes())[0]
    drawn = worlds(model, draws=6, seed=2)
    out = play(drawn, Planned(where=found.stops, model=model, visits=found.visits))
    done = works(model, found.stops, found.visits)
    nodes = model.nodes_at(found.stops)
    last = served_before(found.visits)
    fresh = np.stack([drawn.fitted_at(m)[0] for m in range(len(drawn.mesh_m))])
    for d in range(6):
        cost = draw_costs(drawn, d, fresh[:, d])
        money = sum(w.cost for w in done) + cost[np.arange(model.places), nodes[last[:, -1]], nodes[-1]].sum()
        for p, k in zip(*np.nonzero(found.visits), strict=True):
            money += cost[p, nodes[last[p, k]], nodes[k]]
        assert out.cost[d] == pytest.approx(money, rel=1e-4)


def test_rules_of_thumb_stop_where_they_say(drive: Model) -> None:
    drawn = worlds(drive, draws=20, seed=1)
    where = first_of_windows(drive)
    out = play(drawn, Every(where=where, mean=mean_share(drawn), spacing_m=150.0))
    stops = drive.cands.driven_m[out.stopped[:, 0]]
    assert (np.diff(stops) >= 150.0).all()
    assert set(np.flatnonzero(out.stopped[:, 0])) <= set(where.tolist())


def test_thresholds_fall_with_the_way_ahead(drive: Model) -> None:
    """The longer the way to the next stop, the earlier a tool is changed."""
    near = thresholds(drive, (2, 3, 7)).wear_mm[:, 1]
    far = thresholds(drive, (2, 5, 7)).wear_mm[:, 1]
    both = np.isfinite(near) & np.isfinite(far)
    assert both.any()
    assert (far[both] <= near[both] + 1e-9).all()


def test_whole_entries_are_filled_by_gain() -> None:
    """An entry of 4 h with a look of 2 h holds one more hour twice; a second one is opened only where it pays."""
    terms = terms_of(make_site().stops, air_window("a", 0, 1, 1.0))
    price = terms.entry_cost
    hours = np.array([1.0, 1.0, 1.0])
    small = whole_choice(np.array([[10.0, 20.0, 5.0]]), hours, terms)
    assert small.tolist() == [[True, True, False]]
    large = whole_choice(np.array([[10.0, 20.0, price + 1.0]]), hours, terms)
    assert large.tolist() == [[False, True, True]] or large.tolist() == [[True, True, True]]
    must = whole_choice(np.array([[-5.0, np.inf, -np.inf]]), hours, terms)
    assert must.tolist() == [[False, True, False]]
    assert not whole_choice(np.array([[-5.0, -1.0, -np.inf]]), hours, terms).any()


def test_use_of_tools_adds_up() -> None:
    site = make_site(discs=10, gauge=2, scrapers=4, windows=(window("a", 420, 424), air_window("b", 640, 644)))
    outlook = make_outlook(site, draws=150, hazard_per_km=0.3)
    plan = propose(site, outlook, wishes=BARE)
    use = use_draws(site, outlook, plan)
    assert use.draws == 150
    assert use.changes.shape == (150, len(plan.stops), len(use.places))
    for code in dict.fromkeys(use.tool_types):
        mine = np.array([t == code for t in use.tool_types])
        fitted = sum((u.counts for u in use.uses if u.tool_type == code), np.zeros(150, int))
        assert (fitted == use.changes[:, :, mine].sum(axis=(1, 2))).all()
        taken = use.removed_sound[code].sum(axis=1) + use.removed_late[code].sum(axis=1)
        assert (taken == fitted).all()
        assert (use.damaged[code] <= use.removed_late[code]).all()
    assert [s.date for s in plan.stops] == list(use.dates)
    assert use.pace_factor.mean() == pytest.approx(1.0, abs=0.1)


def test_part_worn_tools_go_where_they_last() -> None:
    """At the last stop gauge tools come off half worn while inner places need only little more: they are used there."""
    inner = {n: 20.0 for n in range(1, 7)}
    gauge = {11: 13.0, 12: 13.0}
    dear = replace(DISC, price=4200.0, rebuild_price=None)
    site = make_site(windows=(window("a", 400, 403),), end_m=560.0, caps={"gauge": 0.05, "face": 0.1}, disc=dear)
    outlook = make_outlook(site, wear_now_mm={**inner, **gauge})
    plan = propose(site, outlook, wishes=BARE)
    moved = [c for s in plan.stops for c in s.changes if c.action == "move"]
    assert moved
    assert plan.moves_save > 0
    for change in moved:
        assert change.fitted == "part-worn"
        assert change.from_position not in change.positions
        giver = next(c for s in plan.stops for c in s.changes if change.from_position in c.positions)
        assert giver.destination == f"position {change.positions[0]}"
        assert "Put on: the tool from position" in change.sentence


def test_a_move_that_saves_little_is_not_made() -> None:
    """The same with tools whose life is worth little more than the handling."""
    cheap = replace(DISC, price=1500.0, rebuild_price=None)
    worn = {**dict.fromkeys(range(1, 7), 20.0), 11: 13.0, 12: 13.0}
    site = make_site(windows=(window("a", 400, 403),), end_m=560.0, caps={"gauge": 0.05, "face": 0.1}, disc=cheap)
    plan = propose(site, make_outlook(site, wear_now_mm=worn), wishes=BARE)
    assert {11, 12} <= {n for s in plan.stops for c in s.changes for n in c.positions}
    assert all(c.action == "change" for s in plan.stops for c in s.changes)
    assert plan.moves_save == 0


@pytest.mark.parametrize("step_mm", [4.0, 6.0])
def test_no_shuffling_round_a_circle(step_mm: float) -> None:
    """Every tool on the wheel comes off part-worn: a place that gives its tool gets a new one, and few moves a stop."""
    dear = replace(DISC, price=9000.0, rebuild_price=None)
    site = make_site(
        discs=24, gauge=10, windows=(window("a", 360, 363), window("b", 520, 523)), end_m=640.0, disc=dear,
        caps={"gauge": 0.05, "face": 0.05}, neighbour_step_mm=step_mm,
    )  # fmt: skip
    worn = {n: 6.0 + 0.7 * n for n in range(1, 25)}
    outlook = make_outlook(site, wear_now_mm=worn)
    plan = propose(site, outlook, wishes=replace(BARE, forced_windows=("a", "b")))
    moved = [(s, c) for s in plan.stops for c in s.changes if c.from_position is not None]
    assert moved
    for stop in plan.stops:
        pairs = [(c.positions[0], c.from_position) for c in stop.changes if c.from_position is not None]
        takers, givers = {to for to, _ in pairs}, {source for _, source in pairs}
        assert not takers & givers
        assert len(takers) == len(givers) == len(pairs) <= 3
        fresh = {n for c in stop.changes if c.fitted == "new" for n in c.positions}
        assert givers <= fresh
    # The tool goes inwards, where the track is clearly shorter.
    radius = {p.number: p.track_radius_mm for p in site.wheel.positions}
    assert all(radius[c.positions[0]] < 0.8 * radius[c.from_position] for _, c in moved)
