"""The sample drive is solved to the end, with its rows."""

from __future__ import annotations

from pathlib import Path

from wearplan.plan.carry_out.choose import search
from wearplan.plan.carry_out.costing import costed
from wearplan.plan.carry_out.whole_bound import bound_of_whole
from wearplan.plan.model.asked import task
from wearplan.plan.model.rows import Rows
from wearplan.plan.records import Wishes
from wearplan.site import load
from wearplan.wear import learn, look_ahead

SAMPLE = Path(__file__).parents[2] / "sample_wheel"


def test_the_sample_has_no_gap_and_its_plan_keeps_the_rows() -> None:
    site = load(SAMPLE).site
    assert site is not None
    model, _ = task(site, look_ahead(site, learn(site), draws=150), Wishes())
    assert len(model.rows) == 14
    found = search(model, gap=1e-6, time_limit_s=20.0, polish=True)
    assert found.finished
    assert found.gap <= 1e-6
    assert Rows.at(model.rows, model.nodes_at(found.stops)).kept(found.visits)
    cost = costed(model, found.stops, found.visits).cost
    assert bound_of_whole(model, model.path_problem(), cost) > 0.99 * cost
