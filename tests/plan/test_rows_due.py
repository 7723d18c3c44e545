"""Rows with more tools due at once than may be past their limit: the wheel must stop in time, whatever that costs."""

from __future__ import annotations

import numpy as np
import pytest

from tests.plan.makers import make_outlook, make_site, window
from wearplan.plan.answers.impossible import row_clash
from wearplan.plan.carry_out.choose import search
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Model
from wearplan.plan.optimise import solve
from wearplan.plan.proposal import draft as drafted
from wearplan.plan.proposal import plan_of
from wearplan.plan.records import Wishes
from wearplan.site.records import Costs


def due_task(*, may_be_over: int = 1) -> Model:
    """Three of a row of four nearly worn out, all else fresh, and late tools too cheap to stop for."""
    windows = tuple(window(f"w{i}", 320.0 + 60.0 * i, 332.0 + 60.0 * i) for i in range(9))
    site = make_site(
        discs=24, gauge=2, scrapers=8, may_be_over=may_be_over, windows=windows, caps={},
        costs=Costs(standstill_per_hour=3000.0, late_tool=50.0, late_tool_per_m=0.1),
    )  # fmt: skip
    worn = dict.fromkeys(range(101, 109), 1.0) | {101: 29.0, 102: 28.9, 103: 28.8}
    outlook = make_outlook(site, draws=40, wear_now_mm=worn, mm_per_100m=4.0, wear_sd=0.05)
    return task(site, outlook, Wishes())[0]


def test_the_plan_stops_before_too_many_of_a_row_are_over() -> None:
    model = due_task()
    problem = model.path_problem()
    found = search(model, gap=1e-6, time_limit_s=20.0, whole=False)
    assert found.finished
    assert found.gap <= 1e-6
    free = search(due_task(may_be_over=3), gap=1e-6, time_limit_s=20.0, whole=False)
    assert found.model_cost > free.model_cost
    assert model.cands.driven_m[found.stops[0]] < 400.0
    whole = solve(problem, gap=1e-6, method="arc model", time_limit_s=60.0)
    assert found.model_cost == pytest.approx(whole.cost, rel=1e-5)


def test_a_plan_that_breaks_a_row_says_which_and_where() -> None:
    model = due_task()
    free = search(due_task(may_be_over=3), gap=1e-6, time_limit_s=20.0, whole=False)
    clash = row_clash(model, free.stops, free.visits)
    assert clash is not None
    assert clash.rule == "row"
    assert "Of row S1 no more than 1 may be past the limit at once." in clash.sentence
    assert set(clash.positions) <= {101, 102, 103, 104}
    assert row_clash(model, *_kept(model)) is None


def _kept(model: Model) -> tuple[tuple[int, ...], np.ndarray]:
    found = search(model, gap=1e-6, time_limit_s=20.0, whole=False)
    return found.stops, found.visits


def test_without_a_plan_that_keeps_the_rows_one_is_given_and_the_row_is_said() -> None:
    """No stop is allowed before the row is over: by a forbidden candidate, which no relaxed cap knows of."""
    model = due_task()
    early = tuple(int(n) for n in np.flatnonzero(model.cands.driven_m < 400.0) if n)
    none = search(model, gap=1e-6, time_limit_s=20.0, forbidden=early)
    assert not none.possible
    found = search(model, gap=1e-6, time_limit_s=20.0, forbidden=early, rows_or_not=True)
    assert found.possible
    assert found.without_rows
    plan = plan_of(drafted(model, found), Wishes(), ())
    assert plan.status == "impossible"
    assert plan.expected_cost is not None
    assert plan.why_impossible is not None
    assert "Of row S1" in plan.why_impossible.sentence
