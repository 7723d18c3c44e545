"""The search against every set of stops, on many small drives drawn at random."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from tests.plan.makers import air_window, forced_stop, make_outlook, make_site, window
from wearplan.plan.carry_out.choose import search
from wearplan.plan.carry_out.costing import arcs_of
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Model
from wearplan.plan.optimise import paths, served_before
from wearplan.plan.records import Wishes
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


def row_least(arcs: np.ndarray, over: np.ndarray, most: int, nodes: list[int]) -> float:
    """Least cost of a row's members together: every choice of whom to serve at each stop, all kept that may still
    win. ``arcs`` and ``over`` (M, N+1, N+2).
    """
    members = range(len(arcs))
    reached = {(0,) * len(arcs): 0.0}  # where each member was last served -> least cost
    for n in nodes[1:]:
        ways: dict[tuple[int, ...], float] = {}
        at_end = n == nodes[-1]
        for last, cost in reached.items():
            if sum(over[m, last[m], n] for m in members) > most:
                continue
            for served in [(True,) * len(arcs)] if at_end else itertools.product((False, True), repeat=len(arcs)):
                money = cost + sum(arcs[m, last[m], n] for m in members if served[m])
                to = tuple(n if served[m] else last[m] for m in members)
                if money < ways.get(to, math.inf):
                    ways[to] = money
        reached = ways
    return min(reached.values(), default=math.inf)


def by_brute_force(model: Model, *, with_rows: bool = True) -> float:
    """Least cost of the exact model over all sets of stops, or inf; without the rows a bound."""
    problem = model.path_problem()
    forced = set(model.forced)
    over = model.inter.over > model.cap[:, None, None] + 1e-9
    for p, s, t in zip(*np.nonzero(model.spared), strict=True):
        over[p, s, : t + 1] = False
    rows = [(list(m), model.allowed_over(c)) for c, m in model.ahead.rows.items() if 0 < model.allowed_over(c) < len(m)]
    in_rows = [p for members, _ in rows for p in members]
    alone = np.setdiff1d(np.arange(len(problem.interval_cost)), in_rows)
    sets = []
    for size in range(model.stops + 1):
        for chosen in itertools.combinations(model.cands.stops, size):
            if not forced <= set(chosen):
                continue
            if any((b.weight[list(chosen)].sum() if chosen else 0.0) > b.at_most + 1e-9 for b in problem.budgets):
                continue
            nodes = [0, *chosen, model.stops + 1]
            opened = problem.stop_cost[list(chosen)].sum() if chosen else 0.0
            sets.append((path_least(problem.interval_cost, nodes) + float(opened), float(opened), nodes))
    sets.sort(key=lambda each: each[0])
    if not with_rows:
        return sets[0][0] if sets else math.inf
    best = math.inf
    for bound, opened, nodes in sets:
        if bound >= best:
            break
        cost = opened + path_least(problem.interval_cost[alone], nodes)
        cost += sum(row_least(problem.interval_cost[who], over[who], most, nodes) for who, most in rows)
        best = min(best, cost)
    return best


@pytest.mark.parametrize("seed", range(60))
def test_search_equals_brute_force(seed: int) -> None:
    model = small_task(seed)
    found = search(model, gap=1e-7, time_limit_s=20.0, whole=False)
    least = by_brute_force(model)
    assert found.model_cost == pytest.approx(least, rel=1e-6)
    assert found.lower_bound == pytest.approx(least, rel=1e-6)


def row_task(seed: int) -> Model:
    """Rows of scrapers worn unevenly, dear stops and cheap late tools: it pays to run them late, but for the row."""
    rng = np.random.default_rng(1000 + seed)
    at = np.sort(rng.uniform(320.0, 900.0, int(rng.integers(3, 6))))
    windows = tuple(window(f"w{i}", x, x + 1.5, setup_hours=float(rng.uniform(2.0, 20.0))) for i, x in enumerate(at))
    site = make_site(
        discs=3,
        gauge=1,
        scrapers=8,
        may_be_over=int(rng.integers(1, 4)),
        windows=windows,
        costs=Costs(standstill_per_hour=1500.0, late_tool=float(rng.uniform(200.0, 1500.0)), late_tool_per_m=2.0),
        forced_stops=(forced_stop(0.0, 2000.0, 0.0),),
        caps={"gauge": 0.3, "face": float(rng.uniform(0.05, 0.4))},
    )
    worn = {number: float(rng.uniform(0.0, 18.0)) for number in range(101, 109)}
    outlook = make_outlook(site, draws=40, seed=seed, mm_per_100m=float(rng.uniform(3.0, 9.0)), wear_now_mm=worn)
    return task(site, outlook, Wishes())[0]


@pytest.mark.parametrize("seed", range(30))
def test_rows_that_bind_equal_brute_force(seed: int) -> None:
    model = row_task(seed)
    found = search(model, gap=1e-7, time_limit_s=20.0, whole=False)
    least = by_brute_force(model)
    assert found.model_cost == pytest.approx(least, rel=1e-6)
    assert found.lower_bound == pytest.approx(least, rel=1e-6)


def test_rows_do_bind_there() -> None:
    dearer = [by_brute_force(m) > by_brute_force(m, with_rows=False) * (1 + 1e-6) for m in map(row_task, range(30))]
    assert sum(dearer) >= 10


@pytest.mark.parametrize("seed", range(60, 72))
def test_forced_stops_and_caps_on_entries_equal_brute_force(seed: int) -> None:
    free = small_task(seed)
    ring = float(free.cands.driven_m[1 + seed % free.stops])
    model = small_task(seed, forced_m=(ring,), max_entries=1 + seed % 3)
    found = search(model, gap=1e-7, time_limit_s=20.0, whole=False)
    least = by_brute_force(model)
    if math.isinf(least):
        assert not found.possible
    else:
        assert found.model_cost == pytest.approx(least, rel=1e-6)
        assert set(model.forced) <= set(found.stops)


@pytest.mark.parametrize("seed", range(0, 60, 7))
def test_the_plan_keeps_every_cap_it_could_keep(seed: int) -> None:
    model = small_task(seed)
    found = search(model, gap=1e-4, time_limit_s=20.0)
    relaxed = {r.tool for r in model.relaxed}
    who, start, end = arcs_of(model.nodes_at(found.stops), found.visits)
    for p, s, t in zip(who, start, end, strict=True):
        if p not in relaxed and not model.free_rows[p]:
            assert model.inter.over[p, s, t] <= model.cap[p] + 1e-6
    nodes = model.nodes_at(found.stops)
    last = served_before(found.visits)
    for code, members in model.ahead.rows.items():
        for k in range(1, len(nodes)):
            over = [model.inter.over[p, nodes[last[p, k]], nodes[k]] > model.cap[p] + 1e-6 for p in members]
            assert sum(o for o, p in zip(over, members, strict=True) if p not in relaxed) <= model.allowed_over(code)
