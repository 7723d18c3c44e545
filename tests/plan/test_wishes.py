"""A forced window lets the plan choose the ring in it, and a wish costs the difference of the totals shown."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.plan.makers import make_outlook, make_site, window
from wearplan.plan import Plan, propose
from wearplan.plan.records import Wishes

ALONE = Wishes(deferral=False, tradeoff=False, comparison=False)
SITE = make_site(windows=(window("long", 340.0, 400.0), window("mid", 520.0, 560.0), window("far", 700.0, 720.0)))
OUTLOOK = make_outlook(SITE, mm_per_100m=6.0, wear_now_mm=6.0)


def plan_of(**wishes: object) -> Plan:
    return propose(SITE, OUTLOOK, wishes=replace(ALONE, **wishes))  # type: ignore[arg-type]


def test_forcing_a_window_the_plan_uses_changes_nothing() -> None:
    free = plan_of()
    for stop in free.stops:
        again = plan_of(forced_windows=(stop.window,))
        assert [(s.window, s.driven_m) for s in again.stops] == [(s.window, s.driven_m) for s in free.stops]
        assert again.expected_cost == pytest.approx(free.expected_cost)
        assert again.forced_extra_cost == pytest.approx(0.0, abs=1.0)


def test_another_window_is_entered_once_at_the_ring_that_costs_least() -> None:
    free = plan_of()
    other = next(w.name for w in SITE.stops.windows if w.name not in [s.window for s in free.stops])  # type: ignore[union-attr]
    forced = plan_of(forced_windows=(other,))
    assert [s.window for s in forced.stops].count(other) == 1
    assert forced.expected_cost is not None
    assert free.expected_cost is not None
    assert forced.forced_extra_cost == pytest.approx(forced.expected_cost - free.expected_cost, abs=1.0)
    assert forced.forced_extra_cost > 0.0
    at = next(w for w in SITE.stops.windows if w.name == other)  # type: ignore[union-attr]
    middle = plan_of(forced_m=(0.5 * (at.from_m + at.to_m),))
    assert middle.expected_cost is not None
    assert forced.expected_cost <= middle.expected_cost * 1.002


def test_a_window_that_is_not_there_is_said() -> None:
    assert any("'nowhere' cannot be planned" in r for r in plan_of(forced_windows=("nowhere",)).remarks)


def test_not_stopping_at_all_has_its_row() -> None:
    site = make_site(windows=tuple(window(f"w{k}", 400.0 + 150.0 * k, 403.0 + 150.0 * k) for k in range(4)))
    plan = propose(site, make_outlook(site, draws=60), wishes=Wishes(tradeoff=False, comparison=False))
    last = plan.deferral[-1]
    assert last.window == "no stop at all"
    assert last.driven_m == site.drive.length_m
    assert last.breaks
    assert "stop the drive" in last.note
    assert last.extra_cost > 0.0
    assert last.extra_entries == -plan.entries_under_pressure
    assert last.over_damage_probability >= max(row.over_damage_probability for row in plan.deferral[:-1]) - 1e-9
