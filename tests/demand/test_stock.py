"""The shelf by itself: arrivals, returns, rebuilt tools, and what the wished chance asks for."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson, truncnorm

from tests.demand.stock_theory import poisson_stock
from wearplan.demand.orders import held, order_plan
from wearplan.demand.stock import arrival_day, rebuilt_fitted, sound_cores, works_returns


def missing_of(use, on_hand=0):
    return np.maximum.accumulate(np.maximum(np.cumsum(use, axis=1) - on_hand, 0), axis=1)


def test_chance_of_running_short_is_the_poisson_tail():
    """With Poisson use and nothing coming in, the shelf runs short when use exceeds it: a closed form."""
    use = np.random.default_rng(7).poisson(0.1, size=(20_000, 60))
    simulated = (missing_of(use, 8)[:, -1] > 0).mean()
    exact = 1 - poisson.cdf(8, 6.0)
    assert simulated == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 20_000))


def test_held_tools_are_the_poisson_stock():
    use = np.random.default_rng(8).poisson(0.1, size=(20_000, 20))
    assert held(missing_of(use), service=0.95, lead_time_days=19)[-1] == poisson_stock(mean=2, service=0.95)


def test_a_line_that_holds_on_every_day_is_not_the_quantile_of_each_day():
    missing = missing_of(np.random.default_rng(9).poisson(0.3, size=(2000, 80)))
    each = np.quantile(missing, 0.95, axis=0, method="inverted_cdf")
    line = held(missing, service=0.95, lead_time_days=0)
    assert (missing > each).any(axis=1).mean() > 0.10
    assert 0.03 < (missing > line).any(axis=1).mean() <= 0.05


def test_todays_order_brings_the_stock_up_to_the_poisson_quantile_of_lead_time_and_review():
    """Periodic review with Poisson demand: order up to the quantile of demand over lead time and review period."""
    rate, on_hand = 0.2, 4
    use = np.random.default_rng(1).poisson(rate, size=(20_000, 38))
    first = order_plan(
        held(missing_of(use, on_hand), service=0.95, lead_time_days=37), lead_time_days=30, review_days=7
    )[0]
    assert first.order_day == 0
    assert first.quantity == pytest.approx(poisson.ppf(0.95, rate * 38) - on_hand, abs=1)  # days 0 to 37


def test_rebuilt_tools_come_back_and_are_used_first():
    use, coming = np.zeros((1, 40), dtype=int), np.zeros((1, 40), dtype=int)
    use[0, [0, 20]] = 4
    coming[0, 14] = 4
    assert rebuilt_fitted(use, coming)[0].nonzero()[0].tolist() == [20]
    assert rebuilt_fitted(use, coming)[0, 20] == 4


def test_rebuilt_and_new_add_up():
    rng = np.random.default_rng(3)
    use, coming = rng.poisson(0.3, size=(200, 120)), rng.poisson(0.2, size=(200, 120))
    fitted = rebuilt_fitted(use, coming)
    assert (fitted >= 0).all()
    assert (fitted <= use).all()
    assert (np.cumsum(fitted, axis=1) <= np.cumsum(coming, axis=1)).all()


def test_cores_keep_their_own_luck():
    """One worn tool more at the end of a draw changes nothing of those before it."""
    removed = np.zeros((50, 30), dtype=np.int64)
    removed[:, 5] = 6
    more = removed.copy()
    more[:, 20] = 3
    one, two = (sound_cores(table, 0.6, np.random.default_rng(4)) for table in (removed, more))
    assert (one[:, :15].sum(axis=1) <= 6).all()
    assert one.sum() / removed.sum() == pytest.approx(0.6, abs=0.08)
    assert sound_cores(removed, 0.0, np.random.default_rng(4)).sum() == 0
    assert two.sum() > one.sum() * 1.1


def test_orders_cover_the_need_and_keep_their_lead_time_and_review():
    need = np.zeros(200, dtype=int)
    need[100:], need[150:] = 4, 7
    first, second = order_plan(need, lead_time_days=70, review_days=7)
    assert (first.needed_day, first.quantity, first.order_day) == (100, 4, 23)
    assert (second.needed_day, second.quantity) == (150, 3)
    assert order_plan(need, lead_time_days=70, review_days=14)[0].order_day == 16
    # what falls within one review period of the first goes into its order, what falls on the day after does not
    near = np.zeros(200, dtype=int)
    near[100:], near[106:], near[107:] = 1, 2, 3
    assert [order.quantity for order in order_plan(near, lead_time_days=70, review_days=7)] == [2, 1]
    assert order_plan(near, lead_time_days=70, review_days=7.4)[0].quantity == 3


def test_an_arrival_is_never_in_the_past_and_a_return_within_the_turnround():
    late = arrival_day(due_day=-3, due_doubt_days=10, draws=500, rng=np.random.default_rng(2))
    assert (late >= 0).all()
    back = works_returns(in_rebuild=6, rebuild_days=14, draws=300, days=60, rng=np.random.default_rng(2))
    assert (back[:, 1:15].sum(axis=1) == 6).all()


def test_an_order_overdue_comes_by_what_is_left_of_its_doubt():
    """Ten days overdue, give or take ten: a normal distribution cut off at today."""
    days = arrival_day(due_day=-10, due_doubt_days=10, draws=40_000, rng=np.random.default_rng(5))
    left = truncnorm(a=(-0.5 + 10) / 10, b=np.inf, loc=-10, scale=10)
    for day in (0, 3, 8):
        assert (days <= day).mean() == pytest.approx(left.cdf(day + 0.5), abs=0.01)


def test_one_long_overdue_without_a_doubt_may_take_as_long_again():
    days = arrival_day(due_day=-40, due_doubt_days=0, draws=4000, rng=np.random.default_rng(5))
    assert 3 < np.median(days) < 15
    assert np.quantile(days, 0.95) > 20
    assert (arrival_day(due_day=12, due_doubt_days=0, draws=3, rng=np.random.default_rng(1)) == 12).all()


def test_days_are_whole_and_half_a_day_is_none():
    """A due day and a turnround are rounded to the nearest day."""
    assert (
        works_returns(in_rebuild=200, rebuild_days=2.4, draws=5, days=9, rng=np.random.default_rng(1))[:, 3:].sum() == 0
    )
    assert (
        works_returns(in_rebuild=200, rebuild_days=2.6, draws=5, days=9, rng=np.random.default_rng(1))[:, 3].sum() > 0
    )
