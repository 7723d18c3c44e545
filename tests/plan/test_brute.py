"""The search against every set of stops, on many small drives drawn at random."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from tests.plan.makers import air_window, forced_stop, make_outlook, make_site, window
from wearplan.plan.model import Model
from wearplan.plan.optimise import paths
from wearplan.plan.proposal import task
from wearplan.plan.records import Wishes
from wearplan.plan.search import search, worst_over
from wearplan.site.records import Costs


def small_task(seed: int, **wishes: object) -> Model:
    """Three to five windows of one or two rings, housings, a row, caps, sometimes a forced-stop stretch."""
    rng = np.random.default_rng(seed)
    windows = []
    at = 330.0
    for i in range(int(rng.integers(3, 6))):
        at += float(rng.uniform(40.0, 130.0))
        width = float(rng.choice([1.0, 3.0]))
        make = window if rng.random() < 0.5 else air_window
        windows.append(make(f"w{i}", at, at + width, setup_hours=float(rng.uniform(5.0, 40.0))))
    site = make_site(
        discs=int(rng.integers(4, 9)),
        gauge=int(rng.integers(1, 3)),
        scrapers=4 * int(rng.integers(0, 2)),
        housings=int(rng.integers(0, 2)),
        may_be_over=int(rng.integers(0, 4)),
        windows=tuple(windows),
        end_m=float(at + rng.uniform(60.0, 200.0)),
        costs=Costs(
            standstill_per_hour=float(rng.uniform(300.0, 3000.0)),
            late_tool=float(rng.uniform(2000.0, 30000.0)),
            late_tool_per_m=float(rng.uniform(0.0, 200.0)),
        ),
        forced_stops=(forced_stop(500.0, 600.0, 40.0),) if rng.random() < 0.4 else (),
        caps={"gauge": 0.08, "face": 0.3} if rng.random() < 0.6 else {},
    )
    outlook = make_outlook(
        site,
        draws=40,
        seed=seed,
        mm_per_100m=float(rng.uniform(3.0, 9.0)),
        wear_now_mm=float(rng.uniform(1.0, 14.0)),
        hazard_per_km=float(rng.choice([0.0, 0.4])),
    )
    return task(site, outlook, Wishes(**wishes))[0]  # type: ignore[arg-type]


def path_least(arcs: np.ndarray, nodes: list[int]) -> float:
    part = np.ascontiguousarray(np.moveaxis(arcs[:, nodes[:-1]][:, :, nodes], 0, 2))
    part[np.arange(len(nodes) - 1)[:, None] >= np.arange(len(nodes))[None, :]] = np.inf
    return float(paths.forward(part)[-1].sum())


def by_brute_force(model: Model, freed: np.ndarray | None) -> float:
    """Least cost of the exact model over all sets of stops, or inf."""
    problem = model.path_problem(freed=freed)
    forced = set(model.forced)
    best = math.inf
    for size in range(model.stops + 1):
        for chosen in itertools.combinations(range(model.stops), size):
            if not forced <= set(chosen):
                continue
            if any((b.weight[list(chosen)].sum() if chosen else 0.0) > b.at_most + 1e-9 for b in problem.budgets):
                continue
            nodes = [0, *[n + 1 for n in chosen], model.stops + 1]
            cost = path_least(problem.interval_cost, nodes) + (problem.stop_cost[list(chosen)].sum() if chosen else 0.0)
            best = min(best, float(cost))
    return best


@pytest.mark.parametrize("seed", range(60))
def test_search_equals_brute_force(seed: int) -> None:
    model = small_task(seed)
    found = search(model, gap=1e-7, time_limit_s=20.0, whole=False)
    relaxed = by_brute_force(model, model.free_rows)
    assert found.lower_bound <= relaxed + 1e-4 * abs(relaxed) + 1e-6
    if not found.relaxed:
        assert found.model_cost == pytest.approx(relaxed, rel=1e-6)
        return
    # Rows bound: between the relaxation and the least cost with the best choice of tools that may be over.
    assert found.model_cost >= relaxed - 1e-6 * abs(relaxed)
    best = math.inf
    members = next(iter(model.ahead.rows.values()))
    code = next(iter(model.ahead.rows))
    for spared in itertools.combinations(members, model.allowed_over(code)):
        freed = model.free_rows.copy()
        freed[[p for p in members if p not in spared]] = False
        best = min(best, by_brute_force(model, freed))
    assert found.model_cost >= best - 1e-6 * abs(best)
    assert found.model_cost <= best * 1.02 + 1e-6


@pytest.mark.parametrize("seed", range(60, 72))
def test_forced_stops_and_caps_on_entries_equal_brute_force(seed: int) -> None:
    free = small_task(seed)
    ring = float(free.cands.driven_m[int(seed % free.stops)])
    model = small_task(seed, forced_m=(ring,), max_entries=1 + seed % 3)
    found = search(model, gap=1e-7, time_limit_s=20.0, whole=False)
    least = by_brute_force(model, model.free_rows)
    if math.isinf(least):
        assert not found.possible
    elif not found.relaxed:
        assert found.model_cost == pytest.approx(least, rel=1e-6)
        assert set(model.forced) <= set(found.stops)


@pytest.mark.parametrize("seed", range(0, 60, 7))
def test_the_plan_keeps_every_cap_it_could_keep(seed: int) -> None:
    model = small_task(seed)
    found = search(model, gap=1e-4, time_limit_s=20.0)
    relaxed = {r.tool for r in model.relaxed}
    worst = worst_over(model, found.stops, found.visits)
    for p in range(model.places):
        if p not in relaxed and not model.free_rows[p]:
            assert worst[p] <= model.cap[p] + 1e-6
    for code, members in model.ahead.rows.items():
        over = sum(worst[p] > model.cap[p] + 1e-6 for p in members if p not in relaxed)
        assert over <= model.allowed_over(code)
