"""What to change where the drive stands: in no window, in a keep-out; and what is changed where no cap can be kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from tests.plan.makers import air_window, keep_out, make_outlook, make_site, window
from wearplan.cli.codes import Exit
from wearplan.cli.main import main
from wearplan.plan import Wishes, propose
from wearplan.plan.ahead.here import HERE, NOT_PLANNED
from wearplan.plan.model.asked import task
from wearplan.site.records import Inspection, Site

SAMPLE = Path(__file__).parents[2] / "sample_wheel"
BARE = Wishes(deferral=False, tradeoff=False, comparison=False)
STANDING = replace(BARE, standing=True)
WORN = {12: 24.0, 11: 23.0, 1: 3.0}


def stopped(site: Site, *, mode: str = "compressed air", pressure_bar: float | None = 1.0) -> Site:
    """The site with a stop on record at its face."""
    at = datetime(2026, 6, 1, 12, tzinfo=UTC)
    record = Inspection(
        id="20260601T1200-aaaa", number=1, ring=200, chainage_m=300.0, driven_m=300.0, started_at=at, ended_at=at,
        mode=mode, pressure_bar=pressure_bar,
    )  # fmt: skip
    return replace(site, inspections=(record,))


def test_a_forced_stop_below_the_river_is_planned_from_its_record() -> None:
    site = make_site(windows=(window("b", 520.0, 526.0), window("c", 760.0, 766.0)), keep_outs=(keep_out(250, 350),))
    site = stopped(site)
    plan = propose(site, make_outlook(site, wear_now_mm=WORN), wishes=STANDING)
    first = plan.stops[0]
    assert (first.window, first.driven_m, first.mode, first.pressure_bar) == (HERE, 300.0, "compressed air", 1.0)
    assert {11, 12} <= {n for c in first.changes for n in c.positions}
    assert 1 not in {n for c in first.changes for n in c.positions}
    assert not {"set-up", "lower_level", "air_support", "clean_and_look"} & {step for step, _ in first.schedule}
    assert plan.stops[0].window != propose(site, make_outlook(site, wear_now_mm=WORN), wishes=BARE).stops[0].window


@pytest.mark.parametrize(
    ("site", "word"),
    [
        (make_site(windows=(window("b", 520.0, 526.0),)), "no stop is on record"),
        (stopped(make_site(windows=(window("b", 520.0, 526.0),)), pressure_bar=None), "no pressure"),
        (stopped(make_site(windows=(window("b", 520.0, 526.0),)), pressure_bar=2.4), "up_to_pressure_bar"),
        (stopped(make_site(windows=(window("b", 520.0, 526.0),)), mode="saturation"), "specialist"),
    ],
)
def test_why_nothing_is_planned_where_it_stands(site: Site, word: str) -> None:
    plan = propose(site, make_outlook(site, wear_now_mm=WORN), wishes=STANDING)
    said = [remark for remark in plan.remarks if remark.startswith(NOT_PLANNED)]
    assert len(said) == 1
    assert word in said[0]
    assert all(stop.window == "b" for stop in plan.stops)


def test_the_command_refuses_where_no_stop_is_on_record(capsys) -> None:
    assert main(["plan", str(SAMPLE), "--standing", "--quick"]) == Exit.NO
    assert NOT_PLANNED.strip() in capsys.readouterr().err


def test_where_no_cap_can_be_kept_no_tool_is_changed_twice_in_a_window() -> None:
    """Windows too far apart for every gauge tool, each with seven rings: once allowed, one change in each does."""
    windows = tuple(air_window(f"w{i}", 360.0 + 220.0 * i, 369.0 + 220.0 * i) for i in range(3))
    site = make_site(windows=windows, caps={"gauge": 0.01, "face": 0.01}, end_m=1000.0)
    outlook = make_outlook(site, mm_per_100m=11.0, wear_now_mm=20.0)
    model, _ = task(site, outlook, BARE)
    assert model.relaxed
    assert {(r.tool, r.from_node, r.to_node) for r in model.relaxed} <= set(
        zip(*(each.tolist() for each in np.nonzero(model.spared)), strict=True)
    )
    plan = propose(site, outlook, wishes=BARE)
    assert plan.status == "impossible"
    unkept = {
        (model.cands.term(r.from_node).window.name, n)
        for r in model.relaxed
        if r.from_node
        for n in model.ahead.tools[r.tool].place.positions
    }
    assert len(unkept) > 6
    changed = [(s.window, n) for s in plan.stops for c in s.changes for n in c.positions]
    assert all(changed.count(each) <= 1 for each in unkept)
