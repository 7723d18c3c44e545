"""Chainage into dates, against counting days by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.history.small import START, make_site, read, ring, stop
from wearplan.history import Calendar
from wearplan.site.records import Pace

PACE = Pace(advance_m_per_day=12.0, working_days_per_week=6, holidays=(date(2025, 2, 26),))
SITE = make_site(400, pace=PACE)  # the last ring is finished on Tuesday 25 February 2025


def by_hand(start, days, week=6, holidays=PACE.holidays):
    """The working day so many working days on."""
    day = start
    while day.weekday() >= week or day in holidays:
        day += timedelta(days=1)
    for _ in range(days):
        day += timedelta(days=1)
        while day.weekday() >= week or day in holidays:
            day += timedelta(days=1)
    return day


@given(st.floats(0.1, 400), st.floats(0.3, 3.0))
def test_ahead_of_the_face_only_working_days_count(metres, factor):
    calendar = Calendar(SITE)
    days = int(metres / (12.0 * factor) + 1e-12)
    assert calendar.date_at(600.0 + metres, factor) == by_hand(date(2025, 2, 25), days)


def test_a_holiday_and_a_sunday_are_skipped():
    calendar = Calendar(SITE)
    assert calendar.start == date(2025, 2, 25)
    assert calendar.date_at(600.0) == date(2025, 2, 25)
    assert calendar.date_at(612.0) == date(2025, 2, 27)
    assert calendar.date_at(636.0) == date(2025, 3, 1)
    assert calendar.date_at(648.0) == date(2025, 3, 3)


def test_behind_the_face_the_log_speaks():
    calendar = Calendar(SITE)
    assert calendar.date_at(150.0) == (START + timedelta(hours=300)).date()


def test_one_clock_gone_wild_does_not_move_the_rest():
    rows = tuple(ring(n, finished_at=START + timedelta(days=9000)) if n == 200 else ring(n) for n in range(1, 401))
    wild = Calendar(replace(SITE, rings=rows))
    assert wild.start == date(2025, 2, 25)
    assert wild.date_at(450.0) == Calendar(SITE).date_at(450.0)


def test_arrays_and_standstill():
    calendar = Calendar(SITE)
    dates = calendar.dates_at(np.array([600.0, 700.0, 800.0]), np.array([[1.0], [2.0]]))
    assert dates.shape == (2, 3)
    assert (np.diff(dates, axis=1) >= np.timedelta64(0, "D")).all()
    assert calendar.date_at(700.0, hours_lost=72.0) > calendar.date_at(700.0)


def test_without_a_log_an_inspection_or_today_starts_the_clock():
    site = make_site(0, stop(40, read(5, 3.0)))
    assert Calendar(site).start == site.inspections[0].started_at.date()
    assert Calendar(make_site(0), today=date(2026, 1, 5)).start == date(2026, 1, 5)
    assert Calendar(SITE, today=date(2026, 1, 5)).date_at(612.0) == date(2026, 1, 6)


def test_draws_of_the_pace_have_the_sites_doubt():
    draws = Calendar(SITE).pace_draws(20_000)
    assert draws.mean() == pytest.approx(1.0, abs=0.01)
    assert draws.std() == pytest.approx(0.2, abs=0.01)


def test_seven_day_weeks_and_no_holidays_are_plain_days():
    site = make_site(400, pace=Pace(advance_m_per_day=10.0, working_days_per_week=7))
    assert Calendar(site).date_at(900.0) == date(2025, 2, 25) + timedelta(days=30)
