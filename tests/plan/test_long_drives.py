"""Drives with more rings than can be weighed one by one: what is read between rings, and the bound for all of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plan.makers import air_window, make_outlook, make_site, window
from wearplan.plan import Wishes, propose
from wearplan.plan.carry_out.choose import search
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Model
from wearplan.plan.model.refine import AllRings, refined
from wearplan.plan.optimise.between import Cells

ALL = Wishes(deferral=False, tradeoff=False, comparison=False)
FEW = replace(ALL, max_candidates=22)


def drive(*, scrapers: int = 0, hazard: float = 0.1):
    """Eight windows of nine rings (12 m) each, tools of mixed wear."""
    windows = tuple(
        (air_window if i % 3 == 1 else window)(f"w{i}", 420.75 + 120.0 * i, 420.75 + 120.0 * i + 12.5)
        for i in range(8)
    )
    site = make_site(discs=14, gauge=2, scrapers=scrapers, windows=windows, end_m=1500.0)
    worn = {p.number: 3.0 + (7.0 * k) % 13.0 for k, p in enumerate(site.wheel.positions)}
    return site, make_outlook(site, mm_per_100m=3.5, wear_now_mm=worn, draws=60, hazard_per_km=hazard)


def both(**over: float) -> tuple[Model, Model]:
    """The task with the ends of the windows, and with every ring."""
    site, outlook = drive(**over)
    few, every = (task(site, outlook, wishes)[0] for wishes in (FEW, ALL))
    assert few.cands.every is not None
    assert every.cands.every is None
    assert (few.stops, every.stops) == (16, 64)
    return few, every


def test_costs_read_between_rings_are_those_worked_out() -> None:
    few, every = both()
    read = AllRings(few, few.cands.every).model(np.arange(every.stops + 2))
    assert np.array_equal(read.cands.ring, every.cands.ring)
    ahead = np.triu_indices(every.stops + 1, 1, every.stops + 2)
    for name in ("late_cost", "tool_cost", "look_cost", "over", "passes", "mean_wear_mm"):
        told, true = (getattr(m.inter, name)[..., ahead[0], ahead[1]] for m in (read, every))
        # Against what an interval may cost at all: 18,000 a late tool.
        scale = {"over": 1.0, "passes": 1.0, "mean_wear_mm": 25.0}.get(name, 18_000.0)
        assert np.abs(told - true).max() < 4e-3 * scale, name
        assert np.abs(told - true).mean() < 3e-4 * scale, name


@pytest.mark.parametrize("scrapers", [0, 4])
def test_no_plan_at_any_ring_costs_less_than_the_bound(scrapers: int) -> None:
    few, every = both(scrapers=scrapers)
    fine = refined(few)
    assert fine.solved is not None
    exact = search(every, gap=1e-6, whole=False)
    assert exact.finished
    assert fine.solved.lower_bound <= exact.model_cost * (1 + 1e-5)
    assert fine.solved.lower_bound >= exact.model_cost * 0.98
    # The plan found among the rings that count, told at what it costs there.
    assert fine.solved.cost == pytest.approx(exact.model_cost, rel=3e-3)
    assert fine.solved.cost >= exact.model_cost * (1 - 1e-4)
    assert fine.model.stops < every.stops


def test_cells_allow_what_a_ring_between_may() -> None:
    """Rings 0, 4, 8 of one window and 0, 1 of another: nothing lies between the last two."""
    cells = Cells.of(np.array([0, 0, 4, 8, 0, 1, 1]), np.array([-1, 0, 0, 0, 1, 1, -1]))
    assert cells.after.tolist() == [0, 2, 3, 3, 4, 5]
    assert cells.before.tolist() == [0, 1, 1, 2, 4, 5, 6]


def test_a_plan_says_that_rings_were_read_between_and_tells_the_gap_against_all() -> None:
    site, outlook = drive()
    plan = propose(site, outlook, wishes=FEW)
    every = propose(site, outlook, wishes=ALL)
    assert any("64 rings lie in windows ahead" in remark for remark in plan.remarks)
    assert plan.gap is not None
    assert plan.lower_bound <= every.model_cost * (1 + 1e-5)
    assert plan.expected_cost == pytest.approx(every.expected_cost, rel=5e-3)


@pytest.mark.parametrize("asked", [{"forced_m": (425.25,)}, {"forced_windows": ("w3",)}, {"margin": "1.1"}])
def test_wishes_hold_where_rings_are_read_between(asked: dict[str, object]) -> None:
    site, outlook = drive(scrapers=4)
    plan, every = (propose(site, outlook, wishes=replace(w, priced=False, **asked)) for w in (FEW, ALL))  # type: ignore[arg-type]
    assert plan.candidates < every.candidates
    assert plan.status == every.status == "least_cost"
    assert plan.lower_bound <= every.model_cost * (1 + 1e-6)
    assert plan.expected_cost == pytest.approx(every.expected_cost, rel=1e-3)
    for wanted in asked.get("forced_m", ()):  # type: ignore[attr-defined]
        assert any(abs(stop.driven_m - wanted) <= 0.75 for stop in plan.stops)
