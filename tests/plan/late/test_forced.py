"""A tool that is sure to fail on a stretch without a place to stop: plan, price and played drive stop there once."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plan.makers import DISC, forced_stop, keep_out, make_outlook, make_site, window
from wearplan.plan import propose
from wearplan.plan.model.asked import task
from wearplan.plan.play.foresight import draw_costs
from wearplan.plan.play.play import play
from wearplan.plan.play.policies import Planned
from wearplan.plan.play.worlds import worlds
from wearplan.plan.records import Wishes
from wearplan.report.plan_text import headline
from wearplan.site.records import Costs

ALONE = Wishes(deferral=False, tradeoff=False, comparison=False)
HOURS, STAND, FEE = 120.0, 1500.0, 18000.0


def drive(worn: dict[int, float], end_m: float = 760.0, discs: int = 6):  # type: ignore[no-untyped-def]
    """Six discs; places to stop at 310 and 700 m, the way between them kept out."""
    site = make_site(
        discs=discs, gauge=min(1, discs - 1), end_m=end_m, caps={}, keep_outs=(keep_out(330.0, 690.0),),
        windows=(window("before", 308.0, 312.0), window("after", 700.0, 704.0)),
        forced_stops=(forced_stop(0.0, end_m, HOURS),),
        costs=Costs(standstill_per_hour=STAND, late_tool=FEE, late_tool_per_m=60.0),
    )  # fmt: skip
    outlook = make_outlook(site, draws=200, mm_per_100m=3.0, rate_sd=0.02, life_sd=0.02, step_mm=0.02, wear_sd=0.05,
                           wear_now_mm=worn)  # fmt: skip
    return site, outlook


def test_a_disc_sure_to_fail_in_the_middle_stops_the_drive_once() -> None:
    """The first place to stop is forbidden, so nothing can be done about it: it is priced, said and played alike."""
    site, outlook = drive({4: 28.0})
    wishes = Wishes(deferral=False, tradeoff=False, comparison=False, forbidden_windows=("before",))
    plan = propose(site, outlook, wishes=wishes)
    assert plan.forced_stops == pytest.approx(1.0, abs=0.02)
    price = 3200.0
    assert plan.parts.late == pytest.approx(FEE + HOURS * STAND + price, rel=0.02)
    assert "4 between" in plan.forced_sentence
    assert plan.forced_sentence in headline(plan, site)
    model, _ = task(site, outlook, wishes)
    stops = tuple(
        n for n in model.cands.stops if any(abs(s.driven_m - model.cands.driven_m[n]) < 1e-6 for s in plan.stops)
    )
    visits = np.zeros((model.places, len(stops) + 2), dtype=bool)
    played = play(worlds(model, draws=200, seed=1), Planned(where=stops, model=model, visits=visits))
    assert (played.forced_stops == 1).all()
    assert (played.late_tools == 1).all()
    taken = played.forced_late.sum(axis=0)
    assert (taken[:, 3] == 1).all()
    assert taken.sum() == len(taken)
    assert played.late_cost.mean() == pytest.approx(plan.parts.late, rel=0.02)


def test_with_a_place_to_stop_before_it_is_changed_there_and_nothing_is_forced() -> None:
    site, outlook = drive({4: 28.0})
    plan = propose(site, outlook, wishes=ALONE)
    assert plan.stops[0].window == "before"
    assert 4 in [n for c in plan.stops[0].changes for n in c.positions]
    assert plan.forced_stops < 0.02
    assert plan.forced_sentence == ""


def test_a_gauge_disc_just_below_its_limit_before_a_keep_out() -> None:
    """1 mm below its wear limit of 25 mm, and the keep-out ahead: past the damage limit of 32 mm only far behind it."""
    site, outlook = drive({6: 24.0})
    wishes = Wishes(deferral=False, tradeoff=False, comparison=False, forbidden_windows=("before",))
    forced = propose(site, outlook, wishes=wishes)
    # 12 mm of wear lie ahead of it until the window behind the keep-out.
    assert forced.forced_stops == pytest.approx(1.0, abs=0.05)
    free = propose(site, outlook, wishes=ALONE)
    assert 6 in [n for c in free.stops[0].changes for n in c.positions]
    assert free.expected_cost is not None
    assert forced.expected_cost is not None
    assert free.expected_cost < forced.expected_cost


@pytest.mark.parametrize("noticed_after_m", [None, 25.0])
def test_a_gauge_disc_one_mm_below_its_limit_and_160_m_of_keep_out_ahead(noticed_after_m: float | None) -> None:
    """4.8 mm of wear lie ahead of it within the keep-out: it stops the drive there once, or is changed before."""
    disc = replace(DISC, damage_limit_mm=None)
    site = make_site(
        discs=6, gauge=1, end_m=500.0, caps={}, keep_outs=(keep_out(320.0, 480.0),), disc=disc,
        windows=(window("before", 308.0, 312.0), window("after", 481.0, 485.0)),
        forced_stops=(forced_stop(0.0, 500.0, HOURS),),
        costs=Costs(
            standstill_per_hour=STAND, late_tool=FEE, late_tool_per_m=60.0, noticed_after_m=noticed_after_m
        ),
    )  # fmt: skip
    outlook = make_outlook(
        site, draws=200, mm_per_100m=3.0, rate_sd=0.02, life_sd=0.02, step_mm=0.02, wear_sd=0.05,
        wear_now_mm={6: 24.0},
    )  # fmt: skip
    kept_out = replace(ALONE, forbidden_windows=("before",))
    plan = propose(site, outlook, wishes=kept_out)
    fee = FEE + (60.0 * noticed_after_m if noticed_after_m else 0.0)
    assert plan.forced_stops == pytest.approx(1.0, abs=0.02)
    assert plan.parts.late == pytest.approx(fee + HOURS * STAND + disc.price, rel=0.02)
    assert any(("25 m" if noticed_after_m else "at once") in line for line in plan.model_holds if "noticed" in line)
    model, _ = task(site, outlook, kept_out)
    drawn = worlds(model, draws=200, seed=1)
    played = play(drawn, Planned(where=(), model=model, visits=np.zeros((model.places, 0), dtype=bool)))
    assert (played.forced_stops == 1).all()
    assert (played.forced_late.sum(axis=0)[:, 5] == 1).all()
    assert played.late_cost.mean() == pytest.approx(plan.parts.late, rel=0.02)
    fresh = np.stack([drawn.fitted_at(m)[0] for m in range(len(drawn.mesh_m))])
    assert float(draw_costs(drawn, 0, fresh[:, 0])[:, 0, -1].sum()) == pytest.approx(played.cost[0], rel=1e-3)
    free = propose(site, outlook, wishes=ALONE)
    assert [s.window for s in free.stops] == ["before"]
    assert [n for c in free.stops[0].changes for n in c.positions] == [6]
    assert free.forced_stops < 0.02


def test_foresight_counts_every_tool_that_passes_as_the_play_does() -> None:
    """One disc, changed only where it is late: each draw costs alike, played and by the intervals of foresight."""
    site, outlook = drive({1: 28.0}, end_m=9000.0, discs=1)
    model, _ = task(site, outlook, ALONE)
    drawn = worlds(model, draws=12, seed=1)
    visits = np.zeros((model.places, 0), dtype=bool)
    played = play(drawn, Planned(where=(), model=model, visits=visits))
    assert played.late_tools.mean() > 3.0
    fresh = np.stack([drawn.fitted_at(m)[0] for m in range(len(drawn.mesh_m))])
    for d in range(12):
        told = float(draw_costs(drawn, d, fresh[:, d])[:, 0, -1].sum())
        assert told == pytest.approx(played.cost[d], rel=1e-4)
