"""Stock theory against published figures (Snyder & Shen, Fundamentals of Supply Chain Theory)."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson

from wearplan.demand.orders import needs, order_plan
from wearplan.demand.stock import arrival_days, play_shelf, works_returns
from wearplan.demand.theory import newsvendor_poisson, poisson_stock, reorder_point_poisson


@pytest.mark.parametrize(
    ("mean", "holding", "shortage", "stock", "cost"),
    [(50, 0.18, 0.70, 56, 1.797235211809178), (6, 1, 4, 8, 3.5701069457709416)],
)
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


def shelf_of(use, *, on_hand, rng, arrivals=None, returns=None, share=0.0, days=None):
    zero = np.zeros_like(use)
    return play_shelf(
        use=use,
        rebuildable=use,
        on_hand=on_hand,
        arrivals=zero if arrivals is None else arrivals,
        returns=zero if returns is None else returns,
        rebuildable_share=share,
        rebuild_days=days,
        rng=rng,
    )


def test_chance_of_running_short_is_the_poisson_tail():
    """With Poisson use and nothing coming in, the shelf runs short when use exceeds it: a closed form."""
    rng = np.random.default_rng(7)
    use = rng.poisson(0.1, size=(20_000, 60))
    shelf = shelf_of(use, on_hand=8, rng=rng)
    simulated = (shelf.missing[:, -1] > 0).mean()
    exact = 1 - poisson.cdf(8, 6.0)
    assert simulated == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 20_000))


def test_needed_tools_are_the_poisson_stock():
    rng = np.random.default_rng(8)
    use = rng.poisson(0.1, size=(20_000, 20))
    missing = shelf_of(use, on_hand=0, rng=rng).missing
    found = needs(missing, of_site=0.95, of_money=0.95, lead_time_days=19)
    assert found.site[-1] == found.money[-1] == poisson_stock(mean=2, service=0.95)


def test_a_line_that_holds_on_every_day_is_not_the_quantile_of_each_day():
    rng = np.random.default_rng(9)
    missing = shelf_of(rng.poisson(0.3, size=(2000, 80)), on_hand=0, rng=rng).missing
    each = np.quantile(missing, 0.95, axis=0, method="inverted_cdf")
    found = needs(missing, of_site=0.95, of_money=0.95, lead_time_days=0)
    assert np.array_equal(found.money, each)
    assert (missing > each).any(axis=1).mean() > 0.10
    assert 0.03 < (missing > found.site).any(axis=1).mean() <= 0.05


def test_rebuilt_tools_come_back_and_are_used_first():
    use = np.zeros((1, 40), dtype=int)
    use[0, [0, 20]] = 4
    shelf = shelf_of(use, on_hand=10, rng=np.random.default_rng(1), share=1.0, days=14.0)
    assert shelf.used_rebuilt[0, 20] == 4
    assert shelf.used_new[0].tolist() == [4, *[0] * 39]
    assert shelf.level[0, -1] == 10


def test_used_new_and_rebuilt_add_up():
    rng = np.random.default_rng(3)
    use = rng.poisson(0.3, size=(200, 120))
    shelf = shelf_of(use, on_hand=5, rng=rng, share=0.6, days=9.0)
    assert np.array_equal(shelf.used_new + shelf.used_rebuilt, use)
    assert (shelf.used_rebuilt >= 0).all()
    assert (shelf.used_new >= 0).all()


def test_orders_cover_the_need_and_keep_their_lead_time():
    use = np.zeros((50, 200), dtype=int)
    use[:, 100] = 6
    use[:, 150] = 3
    shelf = shelf_of(use, on_hand=2, rng=np.random.default_rng(1))
    need = needs(shelf.missing, of_site=0.9, of_money=0.9, lead_time_days=70).both
    first, second = order_plan(need, lead_time_days=70, review_days=7)
    assert (first.needed_day, first.quantity, first.order_day) == (100, 4, 23)
    assert (second.needed_day, second.quantity) == (150, 3)


def test_an_arrival_is_never_in_the_past_and_a_return_within_the_turnround():
    rng = np.random.default_rng(2)
    late = arrival_days(quantity=20, due_day=-3, due_doubt_days=10, draws=500, days=90, rng=rng)
    assert (late.sum(axis=1) == 20).all()
    back = works_returns(in_rebuild=6, rebuild_days=14, draws=300, days=60, rng=rng)
    assert (back[:, 1:15].sum(axis=1) == 6).all()
