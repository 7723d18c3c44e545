"""The outlook of tools in place, the backtest, and a short version of the study."""

import subprocess
import sys
from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest

from tests.simulate import World
from tests.simulate.seeds import WITHIN
from wearplan import history
from wearplan.wear import backtest, learn, look_ahead
from wearplan.wear.scoring.baselines import NAMES
from wearplan.wear.scoring.hindsight import EVEN, OURS


@cache
def world(falling: bool = False) -> World:
    return World(9211, places=40, length_m=900.0, falling=falling, equation_m=12.0)


@cache
def fitted(falling: bool = False):
    return learn(world(falling).site)


@cache
def outlook(falling: bool = False):
    return look_ahead(world(falling).site, fitted(falling), draws=400, seed=3)


def test_shapes_and_growth():
    found = outlook()
    draws, places, grid = found.potential_mm.shape
    assert (draws, places, grid) == (400, len(found.numbers), len(found.grid_m))
    assert found.grid_m[0] == pytest.approx(found.face_m)
    assert found.grid_m[-1] == pytest.approx(found.end_m)
    for window in found.site.stops.windows:
        if window.from_m >= found.face_m:
            assert np.min(np.abs(found.grid_m - window.from_m)) < 1e-3
    for table in (found.potential_mm, found.damage_hazard, found.wear_mm):
        assert (np.diff(table, axis=2) >= -1e-4).all()
    np.testing.assert_allclose(found.wear_at(found.face_m), found.wear_now_mm, rtol=1e-5, atol=1e-5)


def test_the_mean_of_wear_ahead_is_factor_times_potential():
    found = outlook()
    at = 0.5 * (found.face_m + found.end_m)
    expected = (found.wear_now_mm + found.life_factor * found.potential_at(at)).mean(axis=0)
    np.testing.assert_allclose(found.wear_at(at).mean(axis=0), expected, rtol=0.03)


def test_draws_are_shared_across_tools():
    found = outlook()
    growth = found.potential_mm[:, :, -1]
    discs = np.flatnonzero(np.array(found.layout.kinds) == "disc")
    together = np.corrcoef(growth[:, discs].T)
    assert np.median(together[np.triu_indices(len(discs), 1)]) > 0.3
    # a sum over the wheel is far more doubtful than independent tools would make it
    assert growth.sum(axis=1).std() > 2.0 * np.sqrt((growth.std(axis=0) ** 2).sum()) / np.sqrt(2.0)


def test_worse_ground_brings_limits_nearer():
    plain, worse = outlook(), look_ahead(world().site, fitted(), draws=400, seed=3, ground_factor=1.5)
    np.testing.assert_allclose(worse.potential_mm, 1.5 * plain.potential_mm, rtol=1e-4)
    assert worse.over_limit_probability(plain.end_m).sum() > plain.over_limit_probability(plain.end_m).sum()


@pytest.mark.parametrize("falling", [False, True])
def test_tools_speak_of_chainage_in_the_order_of_the_drive(falling):
    found = outlook(falling)
    sign = found.site.drive.sign
    assert sign == (-1 if falling else 1)
    seen = 0
    for tool in found.tools():
        values = [value for value in tool.limit_chainage_m.as_dict().values() if value is not None]
        assert all(sign * (b - a) >= -12.5 for a, b in pairwise(values))
        driven = [value for value in tool.limit_driven_m.as_dict().values() if value is not None]
        assert driven == sorted(driven)
        assert all(found.face_m - 1e-6 <= value <= found.end_m for value in driven)
        seen += len(values)
        if tool.last_read:
            assert tool.last_read[0] <= found.face_m + 1e-6
    assert seen > 20


def test_a_tool_past_its_limit_is_there_now():
    found = outlook()
    past = replace(found, limit_mm=np.full_like(found.limit_mm, 0.01))
    worn = np.flatnonzero((found.wear_now_mm > 0.02).all(axis=0))
    assert (past.limit_m()[:, worn] == found.face_m).all()


def test_a_place_without_records_is_wide_and_never_better():
    site = world().site
    number = max(
        (life.position for life in fitted().lives if life.open and life.kind == "disc" and len(life.readings) > 1),
        default=site.wheel.positions[0].number,
    )
    last = site.inspections[-1]
    broken = replace(
        last,
        measurements=tuple(replace(m, damaged="unreadable") if m.position == number else m for m in last.measurements)
        if any(m.position == number for m in last.measurements)
        else (*last.measurements, replace(last.measurements[0], position=number, damaged="unreadable")),
        fittings=tuple(f for f in last.fittings if f.position != number),
    )
    hurt = replace(site, inspections=(*site.inspections[:-1], broken))
    whole = replace(
        hurt,
        inspections=(
            *site.inspections[:-1],
            replace(broken, measurements=tuple(m for m in broken.measurements if m.position != number)),
        ),
    )
    doubtful, plain = (look_ahead(s, learn(s, checks=False), draws=600) for s in (hurt, whole))
    place = doubtful.layout.index(number)
    assert doubtful.unknown[place]
    assert np.mean(doubtful.wear_now_mm[:, place]) >= np.mean(plain.wear_now_mm[:, place])
    assert np.std(doubtful.wear_now_mm[:, place]) > np.std(plain.wear_now_mm[:, place])


def test_boundary_doubt_widens_the_outlook():
    site = world().site
    sure = replace(
        site,
        grounds=tuple(
            replace(g, sections=tuple(replace(s, boundary_sd_m=0.0) for s in g.sections)) for g in site.grounds
        ),
    )
    vague = replace(
        site,
        grounds=tuple(
            replace(g, sections=tuple(replace(s, boundary_sd_m=40.0) for s in g.sections)) for g in site.grounds
        ),
    )
    fits = [learn(s, checks=False) for s in (sure, vague)]
    spread = [
        np.std(np.log(look_ahead(s, f, draws=500).potential_mm[:, :, 1:] + 1e-3), axis=0).mean()
        for s, f in zip((sure, vague), fits, strict=True)
    ]
    assert spread[1] > 1.1 * spread[0]


def test_gap_and_doubled_ring_hardly_move_wear_now():
    site = world().site
    numbers = [row.ring for row in site.rings]
    at = numbers[len(numbers) // 2]
    kept = [row for row in site.rings if not at <= row.ring < at + 10 or row.ring == at + 4]
    doubled = [row for row in kept if row.ring == at + 4]
    gap = replace(site, rings=tuple(kept + doubled))
    whole, holed = outlook(), look_ahead(gap, learn(gap, checks=False), draws=400, seed=3)
    assert np.abs(holed.wear_now_mm.mean(axis=0) - whole.wear_now_mm.mean(axis=0)).max() < 0.3


def test_backtest_beats_the_simple_rules_and_its_bands_hold():
    found = backtest(WITHIN[0].world().site)
    scores = {score.name: score for score in found.methods}
    assert set(scores) == {OURS, EVEN, *NAMES}
    ours = scores[OURS]
    assert ours.n > 100
    assert 0.80 <= ours.coverage_90 <= 0.97
    assert 0.38 <= ours.coverage_50 <= 0.60
    assert ours.crps_mm < 0.7 * scores[NAMES[0]].crps_mm
    assert ours.crps_mm < 0.9 * min(scores[name].crps_mm for name in NAMES[1:])


def test_backtest_uses_only_what_was_known_then():
    # what is learnt as of a stop must not move when the later records change
    site = world().site
    stop = site.inspections[len(site.inspections) // 2]
    later = tuple(
        replace(
            each,
            measurements=tuple(replace(m, wear_mm=30.0) if m.wear_mm is not None else m for m in each.measurements),
        )
        if each.driven_m > stop.driven_m
        else each
        for each in site.inspections
    )
    one, other = (learn(s, as_of=stop.id, checks=False) for s in (site, replace(site, inspections=later)))
    assert [rate.mm_per_km for rate in one.rates] == [rate.mm_per_km for rate in other.rates]
    assert one.face_m == pytest.approx(history.face_m(history.as_of(site, stop.id)))


def test_short_study():
    from tests.studies.wear_study import measure, share

    rows = [measure(WITHIN[k], oracle=False, every=3, rules=()) for k in (1, 4, 9)]
    assert 0.82 <= share([row.in_90 for row in rows]) <= 0.96
    assert 0.40 <= share([row.in_50 for row in rows]) <= 0.60
    assert share([row.rates for row in rows]) >= 0.7
    assert share([row.limit for row in rows]) >= 0.75


def test_importing_the_room_costs_no_scipy():
    code = "import sys, wearplan.wear; print([m for m in ('scipy', 'sklearn', 'textual') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_before_the_first_ring_and_after_the_last():
    site = replace(world().site, rings=(), inspections=(), sensor_words=(), events=())
    fit = learn(site)
    start = look_ahead(site, fit, draws=50)
    assert start.face_m == 0.0
    assert start.wear_now_mm == pytest.approx(0.0, abs=1e-9)
    assert (start.wear_at(start.end_m) > 0).any()
    done = replace(
        world().site, drive=replace(world().site.drive, end_chainage_m=world().site.drive.chainage_m(fitted().face_m))
    )
    finished = look_ahead(done, fitted(), draws=50)
    assert len(finished.grid_m) == 1
    assert np.isfinite(finished.wear_mm).all()
    assert len(finished.tools()) == len(finished.numbers)
