"""Neighbour step and whole entries with the stops given, against every choice of visits on small wheels."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from tests.plan.makers import air_window, make_outlook, make_site, window
from wearplan.plan.carry_out.choose import whole_visits
from wearplan.plan.carry_out.costing import costed
from wearplan.plan.carry_out.neighbours import keep_step, pairs_broken, wear_after
from wearplan.plan.carry_out.whole import fill_entries
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Model
from wearplan.plan.model.rows import Rows
from wearplan.plan.optimise import paths
from wearplan.plan.records import Wishes
from wearplan.site.records import Costs


def small(seed: int, step_mm: float | None) -> tuple[Model, np.ndarray, np.ndarray]:
    """Four tracks, two stops: the task, its arcs and the plain best visits."""
    rng = np.random.default_rng(seed)
    make = air_window if seed % 2 else window
    site = make_site(
        discs=4,
        gauge=1,
        windows=(make("a", 420.0, 420.5), make("b", 600.0, 600.5)),
        neighbour_step_mm=step_mm,
        caps={},
        end_m=800.0,
        costs=Costs(standstill_per_hour=float(rng.uniform(100, 900)), late_tool=20000.0, late_tool_per_m=100.0),
    )
    outlook = make_outlook(
        site, draws=40, seed=seed, wear_now_mm={n: float(rng.uniform(0, 18)) for n in range(1, 5)}, mm_per_100m=6.0
    )
    model = task(site, outlook, Wishes())[0]
    arcs = model.path_problem().interval_cost
    turned = np.ascontiguousarray(np.moveaxis(arcs, 0, 2))
    turned[np.arange(3)[:, None] >= np.arange(4)[None, :]] = np.inf
    visits = by_node(paths.trace(turned, paths.forward(turned))[1:-1, :-1].T)
    return model, arcs, visits


def by_node(visits: np.ndarray) -> np.ndarray:
    """Visits at two stops by node: nobody is served now and at the end."""
    return np.pad(visits, [(0, 0), (1, 1)])


def cost(arcs: np.ndarray, visits: np.ndarray) -> float:
    money = 0.0
    for p, row in enumerate(visits):
        nodes = [0, *np.flatnonzero(row), 3]
        money += sum(arcs[p, a, b] for a, b in itertools.pairwise(nodes))
    return float(money)


@pytest.mark.parametrize("seed", range(24))
def test_the_neighbour_step_is_kept_at_least_cost(seed: int) -> None:
    step = 7.0
    model, arcs, plain = small(seed, step)
    found = keep_step(model, arcs, plain)
    assert not pairs_broken(model, found, step)
    best = np.inf
    for bits in itertools.product([False, True], repeat=8):
        visits = by_node(np.array(bits).reshape(4, 2))
        if not pairs_broken(model, visits, step):
            best = min(best, cost(arcs, visits))
    assert cost(arcs, found) == pytest.approx(best, rel=1e-6)


def test_without_a_step_nothing_changes() -> None:
    model, arcs, plain = small(3, None)
    assert keep_step(model, arcs, plain) is plain


@pytest.mark.parametrize("seed", range(1, 24, 2))
def test_filling_entries_never_costs_more(seed: int) -> None:
    model, arcs, plain = small(seed, None)
    before = costed(model, (1, 2), plain)
    after = fill_entries(model, arcs, plain, Rows.at((), np.arange(4)))
    assert after.cost <= before.cost + 1e-9
    best = min(
        costed(model, (1, 2), by_node(np.array(bits).reshape(4, 2))).cost
        for bits in itertools.product([False, True], repeat=8)
    )
    assert after.cost >= best - 1e-6
    # Four tools at two stops under pressure: entries are coarse here, and the descent is no full search.
    assert after.cost <= best * 1.2


def test_wear_after_a_stop_by_hand() -> None:
    model, _, _ = small(2, 7.0)
    visits = by_node(np.array([[True, False], [False, False], [False, True], [True, True]]))
    wear = wear_after(model, visits)
    assert (wear[visits] == 0).all()
    assert wear[0, 2] == pytest.approx(float(model.inter.mean_wear_mm[0, 1, 2]))
    assert wear[1, 2] == pytest.approx(float(model.inter.mean_wear_mm[1, 0, 2]))


def test_both_together_keep_the_step() -> None:
    for seed in range(6):
        model, _, plain = small(seed, 7.0)
        visits, _ = whole_visits(model, (1, 2), plain, model.path_problem())
        assert not pairs_broken(model, visits, 7.0)
