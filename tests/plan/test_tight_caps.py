"""Tight caps on entries under pressure, counted whole: a plan or a proof, as every choice of stops and visits says."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from tests.plan.makers import AIR, FREE, air_window, make_outlook, make_site, window
from wearplan.plan.carry_out.choose import search
from wearplan.plan.carry_out.costing import costed
from wearplan.plan.carry_out.filled import fewest_entries
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Model
from wearplan.plan.records import Wishes
from wearplan.site.records import Costs


def small_task(seed: int) -> Model:
    """Four tools, three windows of one ring, most of them under pressure; caps that make some tools go. One
    work place, where hours add up: with more, the model shares them evenly, though no change can be split.
    """
    rng = np.random.default_rng(seed)
    count = 3
    at = 330.0 + np.sort(rng.uniform(0.0, 500.0, count))
    made = [(air_window if rng.random() < 0.75 else window)(f"w{i}", x, x + 0.5) for i, x in enumerate(at)]
    site = make_site(
        discs=4, gauge=1, windows=tuple(made), end_m=900.0,
        costs=Costs(standstill_per_hour=float(rng.uniform(100.0, 900.0)), late_tool=9000.0),
        caps={"gauge": 0.25, "face": 0.35}, rows=(replace(AIR, places=1), replace(FREE, places=1)),
    )  # fmt: skip
    worn = {number: float(rng.uniform(0.0, 16.0)) for number in range(1, 5)}
    outlook = make_outlook(site, draws=40, seed=seed, mm_per_100m=float(rng.uniform(3.0, 6.0)), wear_now_mm=worn)
    return task(site, outlook, Wishes())[0]


@cache
def every_plan(seed: int) -> list[tuple[int, float]]:
    """(entries under pressure, cost as carried out) of every plan of a small task that keeps the caps."""
    model = small_task(seed)
    problem = model.path_problem()
    found = []
    for size in range(model.stops + 1):
        for stops in itertools.combinations(model.cands.stops, size):
            patterns = [*itertools.product((False, True), repeat=size)]
            of_place = []
            for p in range(model.places):
                kept = []
                for pattern in patterns:
                    nodes = [0, *(n for n, served in zip(stops, pattern, strict=True) if served), model.stops + 1]
                    if all(np.isfinite(problem.interval_cost[p, s, t]) for s, t in itertools.pairwise(nodes)):
                        kept.append(pattern)
                of_place.append(kept)
            for choice in itertools.product(*of_place):
                visits = np.zeros((model.places, size + 2), dtype=bool)
                visits[:, 1:-1] = np.array(choice, dtype=bool).reshape(model.places, size)
                whole = costed(model, stops, visits)
                found.append((whole.entries, whole.cost))
    return found


@pytest.mark.parametrize("seed", range(20))
def test_a_plan_or_a_proof(seed: int) -> None:
    free = small_task(seed)
    plans = every_plan(seed)
    fewest = min(entries for entries, _ in plans)
    for most in range(max(0, fewest - 2), fewest + 3):
        model = replace(free, max_entries=most)
        found = search(model, gap=1e-6, polish=True, rows_or_not=True)
        if most < fewest:
            assert not found.possible
            assert found.finished, "shown, not only not found"
            assert found.clash is not None
        else:
            assert found.possible
            plan = costed(model, found.stops, found.visits)
            least = min(cost for entries, cost in plans if entries <= most)
            assert math.isfinite(plan.cost)
            assert plan.entries <= most
            assert least - 1e-6 <= plan.cost <= least * 1.03


def test_some_of_them_are_tight() -> None:
    assert sum(min(entries for entries, _ in every_plan(seed)) > 0 for seed in range(20)) >= 10


def test_the_fewest_entries_shown_are_never_more_than_a_plan_takes_and_mostly_as_many() -> None:
    tasks = [small_task(seed) for seed in range(20)]
    fewest = np.array([min(entries for entries, _ in every_plan(seed)) for seed in range(20)])
    shown = np.array([fewest_entries(model, model.path_problem()).at_least for model in tasks])
    assert (shown <= fewest).all()
    assert (shown == fewest).mean() >= 0.8
