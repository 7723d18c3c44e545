"""What departs from the model is named; factors enter only when they earn it; sensors speak as they should."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.simulate import World
from wearplan import history
from wearplan.wear import learn, look_ahead
from wearplan.wear.evidence.gather import design_for, gather


@cache
def plain() -> World:
    return World(9221, places=60, length_m=1500.0)


def said(fit, words: str) -> bool:
    return any(words in remark for remark in fit.remarks)


def test_an_ordinary_drive_raises_no_alarm():
    fit = learn(plain().site)
    for words in ("multiples of", "other way round", "new tools wear", "stretch ", "section boundary"):
        assert not said(fit, words), fit.remarks


def test_a_crude_crew_is_named_and_its_step_taken():
    fit = learn(World(9221, places=60, length_m=1500.0, crude_crew_step_mm=5.0).site)
    assert said(fit, "multiples of 5 mm")
    steps = {row for one in fit.by_kind.values() for row in np.round(one.gathered.readings.fixed_var, 3)}
    assert 2.083 in steps  # 5²/12


def test_misplaced_readings_are_named():
    fit = learn(World(9221, places=60, length_m=1500.0, misplaced_share=0.04).site)
    assert said(fit, "other way round")
    assert any("fits place" in flag.what for flag in fit.flagged) or len(fit.flagged) > 1


def test_run_in_of_new_tools_is_named():
    fit = learn(World(9222, places=80, length_m=1500.0, run_in=1.6).site)
    assert said(fit, "new tools wear")


@cache
def two_regimes():
    world = World(9227, places=80, length_m=2000.0, unlogged_regime=1.6)
    hidden, edges = world.truth.run.blueprint.hidden_factor, world.truth.run.blueprint.ring_edges_m

    def word(row):
        if row.start_m is None or row.end_m is None:
            return None
        ring = int(np.clip(np.searchsorted(edges, 0.5 * (row.start_m + row.end_m)) - 1, 0, len(hidden) - 1))
        return "slow" if hidden[ring] != 1.0 else "usual"

    return world, replace(world.site, rings=tuple(replace(row, regime=word(row)) for row in world.site.rings))


def test_an_unlogged_regime_is_named():
    world, _ = two_regimes()
    assert said(learn(world.site), "stretch ")


def test_a_logged_regime_earns_its_place_and_a_useless_column_does_not():
    _, site = two_regimes()
    asked = replace(site, wheel=replace(site.wheel, factors=("regime", "penetration", "thrust_kn")))
    fit = learn(asked, checks=False)
    disc = {factor.column: factor for factor in fit.factors if factor.kind == "disc"}
    entered = next(factor for column, factor in disc.items() if column.startswith("regime"))
    assert entered.entered
    assert entered.gain_per_reading > 0
    # wear of one regime is 1.6 times that of the other; which is the commoner decides the sign
    low, high = entered.coefficient.p05, entered.coefficient.p95
    assert max(abs(low), abs(high)) > 0.3
    assert min(abs(low), abs(high)) < np.log(1.6) + 0.2
    assert not disc["penetration"].entered
    assert not disc["thrust_kn"].entered
    outlook = look_ahead(asked, fit, draws=100)
    assert np.isfinite(outlook.potential_mm).all()
    assert (outlook.potential_mm[:, :, -1] > 0).all()


def test_sensor_reports_are_values_and_proved_silence_is_a_bound():
    world = plain()
    site = world.site
    if not site.sensor_words:
        pytest.skip("no sensor spoke on this drive")
    lives = [life for life in history.lives(site) if life.kind == "disc"]
    units = learn(site, checks=False).units
    found = gather(lives, design_for("disc", ["face", "gauge", "centre"], units), site.wheel)
    kinds = {"sensor": set(), "sensor silence": set()}
    for (_, source), side, inspection in zip(
        found.sources, found.readings.censored, found.readings.inspection, strict=True
    ):
        if source.source in kinds:
            kinds[source.source].add(int(side))
            assert inspection == -1
    assert kinds["sensor silence"] <= {-1}
    assert kinds["sensor"] <= {0, 1}
    assert kinds["sensor"] | kinds["sensor silence"]


def at_last(site, change):
    """The site with the last inspection's even readings of single tools changed by ``change(number, measurement)``."""
    last = site.inspections[-1]
    return replace(site, inspections=(*site.inspections[:-1], replace(last, measurements=change(last.measurements))))


def test_a_last_inspection_that_is_off_as_a_whole_is_named():
    site = plain().site

    def up(measurements):
        return tuple(m if m.wear_mm is None else replace(m, wear_mm=m.wear_mm + 4.0) for m in measurements)

    fit = learn(at_last(site, up))
    assert said(fit, f"inspection {site.inspections[-1].id}: its readings lie")
    assert not said(fit, "shifted by one place")


def test_a_last_inspection_shifted_by_one_place_is_named():
    site = plain().site

    def along(measurements):
        values = [m for m in measurements if m.wear_mm is not None and m.condition == "even"]
        moved = dict(zip((m.position for m in values[1:]), values[:-1], strict=True))
        return tuple(
            replace(moved[m.position], position=m.position) if m.position in moved else m for m in measurements
        )

    fit = learn(at_last(site, along))
    assert said(fit, f"inspection {site.inspections[-1].id}: its readings seem shifted by one place")
    assert not said(learn(site), "shifted by one place")
