"""Where the site puts no cost on stops, the cap on entries is kept all the same, by plans that are sparing of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plan.makers import air_window, make_outlook, make_site
from wearplan.plan.carry_out.choose import Found, search
from wearplan.plan.carry_out.costing import costed
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Model
from wearplan.plan.records import Wishes
from wearplan.plan.stopping import StopButton
from wearplan.site.records import Costs


def pressed_task(seed: int, *, hourly: float, most: int | None = None) -> Model:
    """Windows under pressure only, a dozen discs worn unevenly, caps that make some of them go at each stop."""
    rng = np.random.default_rng(seed)
    at = np.sort(rng.uniform(320.0, 900.0, 5))
    site = make_site(
        discs=10,
        gauge=2,
        windows=tuple(air_window(f"w{i}", x, x + 3.0) for i, x in enumerate(at)),
        costs=Costs(standstill_per_hour=hourly, late_tool=9000.0, max_compressed_air_entries=most),
        caps={"gauge": 0.2, "face": 0.3},
    )
    worn = {number: float(rng.uniform(0.0, 18.0)) for number in range(1, 13)}
    outlook = make_outlook(site, draws=40, seed=seed, mm_per_100m=4.0, wear_now_mm=worn)
    return task(site, outlook, Wishes())[0]


def entries_of(model: Model, found: Found) -> int:
    return costed(replace(model, max_entries=None), found.stops, found.visits).entries


@pytest.mark.parametrize("seed", range(8))
def test_free_stops_keep_a_cap_that_dear_ones_keep(seed: int) -> None:
    dear = pressed_task(seed, hourly=3000.0)
    fewest = entries_of(dear, search(dear, gap=1e-3, polish=True))
    free = pressed_task(seed, hourly=0.0, most=fewest)
    found = search(free, gap=1e-3, polish=True, rows_or_not=True)
    assert found.possible
    assert entries_of(free, found) <= fewest


def test_without_a_cap_free_stops_take_more_entries() -> None:
    more = 0
    for seed in range(8):
        dear, free = pressed_task(seed, hourly=3000.0), pressed_task(seed, hourly=0.0)
        more += entries_of(free, search(free, gap=1e-3)) > entries_of(dear, search(dear, gap=1e-3))
    assert more >= 5


def test_the_clock_leaves_time_to_keep_the_cap() -> None:
    """However early the clock stops the search, the plan is put right by the short, counted steps after it."""
    dear = pressed_task(5, hourly=3000.0)
    fewest = entries_of(dear, search(dear, gap=1e-3, polish=True))
    free = pressed_task(5, hourly=0.0, most=fewest)
    button = StopButton(0.0)
    found = search(free, gap=1e-3, polish=True, should_stop=button)
    assert button.pressed_by == "clock"
    assert entries_of(free, found) <= fewest
