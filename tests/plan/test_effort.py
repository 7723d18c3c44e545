"""Effort is counted, so that a slow machine finds the same plan; the clock is a stop button and says so."""

from __future__ import annotations

import itertools
import time
from dataclasses import replace

import numpy as np
import pytest

from tests.plan.makers import air_window, make_outlook, make_site
from wearplan.plan import Plan, Wishes, propose
from wearplan.plan.carry_out.costing import Costed
from wearplan.plan.carry_out.shift import clearly_better

PATIENT = Wishes(time_limit_s=1e9)


def planned(wishes: Wishes = PATIENT) -> Plan:
    windows = tuple(air_window(f"w{i}", 350.0 + 100.0 * i, 356.0 + 100.0 * i) for i in range(5))
    site = make_site(discs=20, windows=windows, neighbour_step_mm=14.0)
    return propose(site, make_outlook(site, draws=60, wear_now_mm=15.0), wishes=wishes)


def test_the_plan_under_a_clock_that_races_is_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    usual = planned()
    ticks = itertools.count(0.0, 30.0)
    monkeypatch.setattr(time, "perf_counter", lambda: next(ticks))
    raced = planned()
    assert next(ticks) > 3000.0
    assert raced.stops == usual.stops
    assert raced.expected_cost == usual.expected_cost
    assert raced.tradeoff == usual.tradeoff
    assert raced.deferral == usual.deferral
    assert [p.expected_cost for p in raced.comparison] == [p.expected_cost for p in usual.comparison]


def test_a_clock_that_pressed_stop_is_named() -> None:
    hurried = planned(replace(PATIENT, time_limit_s=0.0))
    assert any("The clock stopped the search after 0 s" in said for said in hurried.remarks)
    assert not any("clock" in said for said in planned().remarks)


def test_of_two_plans_over_the_cap_on_entries_the_one_with_fewer_is_better() -> None:
    none = np.zeros((0, 2), dtype=bool)
    many, fewer = (Costed(stops=(), visits=none, cost=np.inf, entries=n) for n in (9, 7))
    kept = replace(many, cost=5.0, entries=12)
    assert clearly_better(fewer, many)
    assert not clearly_better(many, fewer)
    assert clearly_better(kept, fewer)
    assert not clearly_better(fewer, kept)
