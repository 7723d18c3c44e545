"""Hours, entries and rows of a stop, against sums done by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.plan.makers import AIR, DISC, FREE, air_window, make_site, window
from wearplan.plan.ahead.terms import change_hours, entry_row, makespan_hours, missing_row, split_steps, terms_of
from wearplan.plan.carry_out.costing import work_of


def test_the_next_higher_row_holds_and_nothing_is_interpolated() -> None:
    low, high = AIR, replace(AIR, up_to_pressure_bar=2.0, working_hours_per_entry=2.0)
    rows = (high, low)
    assert entry_row(rows, air_window("a", 0, 1, 1.2)) is low
    assert entry_row(rows, air_window("a", 0, 1, 1.21)) is high
    assert entry_row(rows, air_window("a", 0, 1, 2.0)) is high
    assert entry_row(rows, air_window("a", 0, 1, 2.1)) is None
    assert entry_row(rows, window("f", 0, 1)) is None


def test_a_missing_row_is_named_with_mode_and_pressure() -> None:
    why = missing_row((AIR,), air_window("deep", 0, 1, 1.4))
    assert why is not None
    assert '"compressed air"' in why
    assert "at least 1.4" in why
    assert "up to 1.2 bar" in why
    assert missing_row((AIR, replace(AIR, up_to_pressure_bar=1.6)), air_window("deep", 0, 1, 1.4)) is None


def test_free_air_stands_without_a_row_but_not_above_one() -> None:
    assert missing_row((AIR,), window("f", 0, 1)) is None
    terms = terms_of(make_site(rows=(AIR,)).stops, window("f", 0, 1))
    assert terms.work_places == 1
    assert terms.entries(100.0) == 1
    assert terms.work_hours(7.5) == 7.5


@pytest.mark.parametrize("mode", ["mixed gas", "saturation", "divers"])
def test_other_modes_are_for_specialists(mode: str) -> None:
    why = missing_row((AIR,), window("x", 0, 1, mode=mode))
    assert why is not None
    assert "specialist" in why


def test_setup_holds_the_steps_before_the_look() -> None:
    steps = {"lower_level": 4.0, "air_support": 10.0, "clean_and_look": 2.0, "refill": 5.0}
    before, look, after = split_steps(steps, mode="free air", setup_hours=12.0)
    assert before == (("set-up", 8.0), ("lower_level", 4.0))
    assert (look, after) == (2.0, (("refill", 5.0),))
    before, _, _ = split_steps(steps, mode="compressed air", setup_hours=12.0)
    assert before == (("lower_level", 4.0), ("air_support", 10.0))
    assert split_steps({}, mode="free air", setup_hours=3.0) == ((("set-up", 3.0),), 0.0, ())
    assert split_steps({"refill": 5.0}, mode="free air", setup_hours=0.0) == ((), 0.0, (("refill", 5.0),))


def test_a_stop_by_hand() -> None:
    """Seven discs at 2.5 h on two work places: four one after the other on one, 10 h; 2 h look; 12 h are three
    entries of 4 h.
    """
    stops = make_site().stops
    terms = terms_of(stops, air_window("a", 0, 1, 1.0))
    work = work_of(terms, [2.5] * 7, [])
    assert work.entries == work.entries_under_pressure == 3
    assert work.hours == pytest.approx(14.0 + 3 * 12.0 + 5.0)
    assert sum(h for _, h in work.schedule) == pytest.approx(work.hours)
    assert work.person_hours == pytest.approx(3 * 12.0)
    assert work.cost == pytest.approx(work.hours * 2600.0)


def test_tools_from_inside_take_free_air_hours_beside_the_chamber() -> None:
    assert change_hours(DISC, mode="compressed air", access="chamber") == 2.5
    assert change_hours(DISC, mode="compressed air", access="inside") == 1.0
    assert change_hours(replace(DISC, change_hours={"free air": 1.0}), mode="compressed air", access="chamber") is None
    terms = terms_of(make_site().stops, air_window("a", 0, 1, 1.0))
    alone = work_of(terms, [2.5], [])
    both = work_of(terms, [2.5], [1.0] * 3)
    assert both.hours == alone.hours
    assert both.entries == alone.entries


@given(st.lists(st.floats(0.1, 5.0), min_size=1, max_size=12), st.integers(1, 4))
def test_makespan_lies_between_its_bounds(hours: list[float], places: int) -> None:
    span = makespan_hours(hours, places)
    low = max(max(hours), sum(hours) / places)
    assert low - 1e-9 <= span <= low + max(hours) + 1e-9
    assert span <= sum(hours) + 1e-9


@given(st.floats(0.0, 60.0), st.floats(0.0, 60.0))
def test_entries_are_whole_and_never_fall_with_work(a: float, b: float) -> None:
    terms = terms_of(make_site(rows=(AIR, FREE)).stops, air_window("a", 0, 1, 1.0))
    low, high = sorted((a, b))
    assert 1 <= terms.entries(low) <= terms.entries(high)
    assert terms.entries(high) * AIR.working_hours_per_entry >= high - 1e-6
    assert terms.entries(high) == max(1, math.ceil(high / 4.0 - 1e-9))
