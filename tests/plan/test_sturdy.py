"""Plans with something in hand: dearer, and with fewer places past a cap in harder ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plan.makers import make_outlook, make_site, window
from wearplan.plan import propose
from wearplan.plan.answers.sturdy import sturdy
from wearplan.plan.model.asked import task
from wearplan.plan.records import MARGINS, Wishes
from wearplan.report.tables.plan import sturdy_table

ALONE = Wishes(deferral=False, tradeoff=False, comparison=False)
SITE = make_site(
    discs=10, gauge=3, caps={"gauge": 0.2, "face": 0.3}, end_m=1300.0,
    windows=tuple(window(f"w{k}", 360.0 + 70.0 * k, 363.0 + 70.0 * k) for k in range(12)),
)  # fmt: skip
OUTLOOK = make_outlook(SITE, draws=60, mm_per_100m=7.0, rate_sd=0.15)


def test_margins_cost_more_and_keep_more() -> None:
    found = {each.margin: each for each in sturdy(SITE, OUTLOOK, ALONE)}
    assert list(found) == list(MARGINS)
    least = found[""]
    assert least.extra_cost == 0.0
    for name in ("half", "1.1", "1.2"):
        assert found[name].extra_cost >= -0.002 * least.expected_cost
        assert found[name].past_as_expected <= least.past_as_expected
    assert found["1.2"].extra_cost > 0.0
    assert found["1.1"].past_in_harder[0] <= least.past_in_harder[0]
    assert found["1.2"].past_in_harder[1] < least.past_in_harder[1]
    assert "least cost" in sturdy_table(tuple(found.values()), SITE).text(100)


@pytest.mark.parametrize("margin", ["half"])
def test_a_margin_can_be_put_in_force(margin: str) -> None:
    """The plan made with the wish is the one the table tells of, its chances told as they are expected."""
    plan = propose(SITE, OUTLOOK, wishes=replace(ALONE, margin=margin, gap=1e-3))
    row = next(each for each in sturdy(SITE, OUTLOOK, ALONE) if each.margin == margin)
    assert plan.expected_cost == pytest.approx(row.expected_cost, rel=0.01)
    assert plan.wishes.margin == margin
    assert len(plan.stops) == len(row.stops_chainage_m)


def test_what_is_held_against_the_caps() -> None:
    plain, _ = task(SITE, OUTLOOK, ALONE)
    half, _ = task(SITE, OUTLOOK, replace(ALONE, margin="half"))
    harder, _ = task(SITE, OUTLOOK, replace(ALONE, margin="1.1"))
    assert (plain.breaks <= half.breaks).all()
    assert (plain.breaks <= harder.breaks).all()
    assert half.breaks.sum() > plain.breaks.sum()
    assert harder.breaks.sum() > plain.breaks.sum()
    assert np.array_equal(harder.inter.over, plain.inter.over)
    part = harder.only([0, 3, 7])
    assert part.breaks.shape == part.inter.over.shape
