"""Orders in dates: none in the past, hurry said plainly, holding weighed, simulation against closed forms."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import poisson, truncnorm

from wearplan.demand.one_type import Counts, TypePart, play_type
from wearplan.demand.orders import hurry_share, needs, order_plan
from wearplan.demand.stock import arrival_days
from wearplan.demand.theory import newsvendor_poisson
from wearplan.demand.weighing import weigh
from wearplan.site.records import OnOrder, Stock, Stores, ToolType

START = date(2026, 11, 20)
KIND = ToolType(code="d", kind="disc", wear_limit_mm=20.0, price=1000.0, lead_time_days=30.0)
STORES = Stores(no_stockout_probability=0.95, review_days=7.0, holding_per_year=0.15, hurry_factor=1.6)


def played(use, *, kind=KIND, on_hand=0, stores=STORES, on_order=(), rebuildable=None) -> TypePart:
    zero = np.zeros_like(use)
    part = play_type(
        kind,
        Stock(tool_type="d", on_hand=on_hand, on_order=tuple(on_order)),
        stores,
        Counts(store=use, moved=zero, damage=zero, rebuildable=zero if rebuildable is None else rebuildable),
        START,
        np.random.default_rng(5),
    )
    assert part is not None
    return part


def poisson_use(rate, *, draws=4000, days=120, seed=1):
    return np.random.default_rng(seed).poisson(rate, size=(draws, days))


def test_todays_order_brings_the_stock_up_to_the_poisson_quantile_of_lead_time_and_review():
    """Periodic review with Poisson demand: order up to the quantile of demand over lead time and review period."""
    rate, on_hand, service = 0.2, 4, 0.95
    missing = np.maximum(np.cumsum(poisson_use(rate, draws=20_000, days=38), axis=1) - on_hand, 0)
    need = needs(missing, of_site=0.5, of_money=service, lead_time_days=30).money
    first = order_plan(need, lead_time_days=30, review_days=7)[0]
    assert first.order_day == 0
    up_to = poisson.ppf(service, rate * 38)  # days 0 to 37
    assert first.quantity == pytest.approx(up_to - on_hand, abs=1)


def test_hurried_purchases_cost_the_poisson_loss():
    """Missing before an order of today comes in: E[(D - S)+] of Poisson demand over the lead time."""
    rate, on_hand = 0.2, 4
    part = played(poisson_use(rate, draws=20_000, days=38), on_hand=on_hand)
    order = part.orders()[0]
    demand = np.arange(200)
    loss = float(np.sum(poisson.pmf(demand, rate * 30) * np.maximum(demand - on_hand, 0)))
    assert order.late
    assert order.missing_before == pytest.approx(loss, rel=0.03)
    assert order.hurry_cost == pytest.approx(loss * KIND.price * 0.6, rel=0.03)
    assert order.short_before == pytest.approx(1 - poisson.cdf(on_hand, rate * 30), abs=0.01)
    assert order.hurried == pytest.approx(poisson.ppf(part.weighed.of_money, rate * 30) - on_hand, abs=1)


def test_nobody_orders_in_the_past_and_now_is_one_row():
    use = np.zeros((40, 200), dtype=int)
    use[:, [3, 12, 20, 36, 90]] = 2
    orders = played(use, on_hand=1).orders()
    assert [order.now for order in orders] == [True, False]
    now = orders[0]
    assert now.order_by == START
    assert now.comes == START + timedelta(days=30)
    assert (now.quantity, now.hurried, now.late) == (
        7,
        5,
        True,
    )  # days 3, 12 and 20 come before day 30; day 36 does not
    assert now.needed_by == START + timedelta(days=3)
    assert orders[1].order_by == START + timedelta(days=90 - 37)
    assert not orders[1].late


@settings(max_examples=30, deadline=None)
@given(
    rate=st.floats(0.01, 0.5),
    on_hand=st.integers(0, 20),
    lead=st.integers(0, 80),
    review=st.integers(1, 30),
    seed=st.integers(0, 1000),
)
def test_orders_keep_the_wanted_chance_from_when_they_can_come_in(rate, on_hand, lead, review, seed):
    use = poisson_use(rate, draws=200, seed=seed)
    stores = replace(STORES, review_days=float(review))
    part = played(use, kind=replace(KIND, lead_time_days=float(lead)), on_hand=on_hand, stores=stores)
    orders = part.orders()
    assert all(order.order_by >= START for order in orders)
    assert sum(order.now for order in orders) <= 1
    after = [entry.probability_if_ordered for entry in part.shortage() if entry.probability_if_ordered is not None]
    assert all(chance <= 1 - part.weighed.of_site + 1e-9 for chance in after)
    bare = [entry.probability for entry in part.shortage()]
    assert bare == sorted(bare)
    assert sum(order.quantity for order in orders) <= part.shelf.missing[:, -1].max()


def test_what_is_ordered_is_what_the_budget_says():
    part = played(poisson_use(0.2), on_hand=4)
    assert part.money()["orders"].sum() == pytest.approx(sum(order.cost for order in part.orders()))
    assert part.money()["hurry"].sum() == pytest.approx(part.orders()[0].hurry_cost)
    spent = sum(period.expected_spend for period in part.periods())
    assert part.money()["tools_used"].sum() == pytest.approx(spent)


def test_money_asks_for_the_newsvendor_chance():
    use = np.zeros((400, 120), dtype=int)
    use[:, 19::20] = 1  # every twentieth day
    found = weigh(KIND, STORES, use)
    assert found.days_held == pytest.approx(20.0)
    hold, hurry = 1000 * 0.15 * 20 / 365, 600.0
    assert found.of_money == pytest.approx(hurry / (hurry + hold))
    few = weigh(KIND, STORES, use[:50])
    assert few.of_money == 1 - 2 / 50  # no more than the draws can tell
    # the same ratio sizes the stock in the closed form
    stock, _ = newsvendor_poisson(mean=5, holding=hold, shortage=hurry)
    assert poisson.cdf(stock, 5) >= found.of_money > poisson.cdf(stock - 1, 5)


@pytest.mark.parametrize(
    ("stores", "words"),
    [
        (replace(STORES, hurry_factor=1.0), "the site's wish: money alone would do with fewer"),
        (replace(STORES, no_stockout_probability=0.5), "money: at some date up to "),
    ],
)
def test_what_holds_is_said(stores, words):
    assert played(poisson_use(0.2, draws=100), stores=stores).basis().what_holds.startswith(words)


def test_the_site_is_never_undercut():
    assert hurry_share(price=1.0, holding_per_year=0.5, hurry_factor=1.1, days_held=365) == pytest.approx(0.5 / 0.6)
    part = played(poisson_use(0.2, draws=100), stores=replace(STORES, hurry_factor=1.01))
    assert part.weighed.of_money < 0.95
    assert part.needed.both[-1] == part.needed.site[-1] > part.needed.money[-1]


def test_a_week_more_of_lead_time():
    use = np.zeros((50, 200), dtype=int)
    use[:, [20, 40, 100]] = 3
    part = played(use, on_hand=3)
    week = part.lead_time()
    assert week is not None
    # with the review, today's order covers up to day 44 instead of 37: the use of day 40 joins
    assert week.extra_quantity == 3
    assert week.extra_hurry == 0.0
    later = played(use, on_hand=3, kind=replace(KIND, lead_time_days=35.0)).lead_time()
    assert later is not None
    assert later.extra_hurry == pytest.approx(3 * 600.0)
    assert later.extra_holding == 0.0  # the use is certain, so no reserve


def test_an_order_overdue_comes_by_what_is_left_of_its_doubt():
    """The doubt is a normal distribution of which the days that have passed are cut off."""
    rng = np.random.default_rng(3)
    for due in (0, -8, 15):
        came = arrival_days(quantity=5, due_day=due, due_doubt_days=10, draws=20_000, days=120, rng=rng)
        mean, sd = truncnorm.stats((-0.5 - due) / 10, np.inf, loc=due, scale=10, moments="mv")
        assert came.argmax(axis=1).mean() == pytest.approx(mean, abs=4 * np.sqrt(sd / 20_000) + 0.03)
    sure = arrival_days(quantity=5, due_day=-4, due_doubt_days=0, draws=10, days=30, rng=rng)
    assert (sure[:, 0] == 5).all()


def test_an_order_on_the_way_that_nobody_needs_is_named():
    use = np.zeros((40, 90), dtype=int)
    use[:, 20] = 2
    due = OnOrder(quantity=10, due=START + timedelta(days=10))
    assert played(use, on_hand=5, on_order=[due]).order_not_needed
    assert not played(use, on_hand=1, on_order=[due]).order_not_needed
