"""Terms of the regression left out, and what the backtest says of each."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from tests.simulate.seeds import TUNING_WORLDS
from wearplan import history
from wearplan.wear import learn
from wearplan.wear.scoring.hindsight import EVEN, OURS, WITHOUT, Case, score_stop, terms_in, worth_of_terms


def scored(ours: float, **less: float) -> list[Case]:
    crps = {OURS: ours} | {WITHOUT[term]: value for term, value in less.items()}
    return [
        Case(
            inspection_id=f"i{k}", position=k, life=f"l{k}", kind="disc", from_m=0.0, to_m=10.0, value_mm=5.0,
            censored=0, pit=dict.fromkeys(crps, 0.5), crps_mm=crps, median_mm=dict.fromkeys(crps, 5.0),
        )
        for k in range(80)
    ]  # fmt: skip


def test_each_term_is_told_by_how_much_it_helped():
    first, second, third = worth_of_terms(scored(0.9, stretches=1.0, types=0.9, curves=0.8))
    assert "stretches" in first
    assert first.endswith("better by 10.0%")
    assert second.endswith("neither way")
    assert "worse by 12.5%" in third
    assert 'leave_out = ["curves"]' in third
    # too few to speak of leaving anything out
    assert "leave_out" not in "".join(worth_of_terms(scored(0.9, curves=0.8)[:20]))


def test_what_the_wheel_leaves_out_is_left_out_and_said():
    site = TUNING_WORLDS["slowing"][0].world().site
    whole = learn(site, checks=False)
    assert terms_in(whole) == ["stretches", "curves"]
    bare = learn(replace(site, wheel=replace(site.wheel, leave_out=("stretches", "curves"))))
    assert terms_in(bare) == []
    assert bare.ground is None
    assert any(remark.startswith("left out, as wheel.toml asks") for remark in bare.remarks)
    grade = TUNING_WORLDS["grade"][0].world().site
    assert learn(grade, checks=False).types
    assert not learn(grade, checks=False, leave_out=["types"]).types


def test_the_curve_helps_to_foretell_readings_where_wear_slows():
    site = TUNING_WORLDS["slowing"][2].world().site
    stops = [each for each in site.inspections if each.measurements]
    stop, following = list(pairwise(stops))[-3]
    then = history.as_of(site, stop.id)
    fit = learn(then, checks=False)
    assert "curves" in terms_in(fit)
    rings = history.clean_rings(site)
    full = history.lives(site, history.measure_exposure(site, rings))
    exposure = history.measure_exposure(site, rings, then.ground(), units=fit.units)
    less = {WITHOUT[term]: learn(then, checks=False, leave_out=[term]) for term in ("stretches", "curves")}
    cases = score_stop(
        site, fit, full, exposure, stop.driven_m, following, np.random.default_rng(3), rules=(), without=less
    )
    exact = [case for case in cases if case.censored == 0]
    assert len(exact) > 20
    ours, straight = (np.mean([case.crps_mm[name] for case in exact]) for name in (OURS, WITHOUT["curves"]))
    assert ours < straight
    assert EVEN in exact[0].crps_mm
