"""The decision against published optima and an exact dynamic programme; the closed forms themselves against a book."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson

from tests.demand.exact import small_case, value_of, with_decisions
from tests.demand.stock_theory import newsvendor_poisson, poisson_stock, reorder_point_poisson
from wearplan.demand.decide.terms import Terms
from wearplan.demand.decide.today import decide_today
from wearplan.demand.decide.units import Stops, need_of
from wearplan.demand.decide.wish import wish_of

BOOK = [(50, 0.18, 0.70, 56, 1.797235211809178), (6, 1, 4, 8, 3.5701069457709416)]
"""Mean, holding, shortage, stock, cost: Snyder & Shen, Fundamentals of Supply Chain Theory."""


@pytest.mark.parametrize(("mean", "holding", "shortage", "stock", "cost"), BOOK)
def test_newsvendor(mean, holding, shortage, stock, cost):
    found, expected = newsvendor_poisson(mean=mean, holding=holding, shortage=shortage)
    assert found == stock
    assert expected == pytest.approx(cost, rel=1e-9)


def test_reorder_point_and_quantity():
    r, q, cost = reorder_point_poisson(holding=20, shortage=150, set_up=100, demand_per_year=1.5, lead_time_years=2)
    assert (r, q) == (3, 5)
    assert cost == pytest.approx(107.92358063314975, rel=1e-9)


def test_poisson_stock_at_mean_two():
    # scipy.stats.poisson.ppf(0.95, 2)
    assert poisson_stock(mean=2, service=0.95) == 5


def one_stop(counts, *, day=60, end=80):
    """A single stop at which so many are taken, draw by draw, and nothing on the shelf."""
    draws = len(counts)
    level = np.zeros((draws, end + 1), dtype=np.int64)
    level[:, day:] -= np.asarray(counts, dtype=np.int64)[:, None]
    return need_of(level, Stops.of(np.full((draws, 1), day), np.full(draws, end), end + 1))


def even_poisson(mean, draws):
    """Draws spread evenly over the distribution."""
    return poisson.ppf((np.arange(draws) + 0.5) / draws, mean)


@pytest.mark.parametrize(("mean", "holding", "shortage", "stock", "cost"), BOOK)
def test_one_stop_and_one_chance_to_order_is_the_newsvendor(mean, holding, shortage, stock, cost):
    """One tool too many loses its price less what is left of it; one too few costs more than its price."""
    terms = Terms(
        price=1.0, lead_days=60, hurry_price=1.0, hurry_days=60, left_value=1.0 - holding, leave_once=1.0 + shortage,
        look_days=30,
    )  # fmt: skip
    counts = even_poisson(mean, 4000)
    found = decide_today(one_stop(counts), terms)
    assert [ask.quantity for ask in found.asks] == [stock]
    # what is used is paid in any case: the rest is the book's cost
    assert found.cost.mean() - counts.mean() == pytest.approx(cost, rel=0.01)


def test_the_wish_for_one_stop_is_the_poisson_stock():
    terms = Terms(price=1.0, lead_days=20, hurry_price=2.0, hurry_days=20)
    need = one_stop(even_poisson(2, 4000), day=25)
    wish = wish_of(need, terms, 0.95, decide_today(need, terms).wait)
    assert (wish.hurry, wish.order) == (0, poisson_stock(mean=2, service=0.95))


@pytest.mark.parametrize("seed", [0, 1, 4, 6])
def test_two_modes_of_supply_against_an_exact_programme(seed):
    """Ordinary and hurried orders over a few periods; fifty such cases are run in the study of the store."""
    case = small_case(seed)
    exact, ours = value_of(case), with_decisions(case)
    assert exact - 0.02 * abs(exact) <= ours <= exact + 0.05 * abs(exact)
