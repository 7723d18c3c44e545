"""Deciding one type: what is asked for, when, in which quantities, and what is asked of orders on the way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearplan.demand.decide.on_way import change_orders
from wearplan.demand.decide.supply import OnWay, Supply
from wearplan.demand.decide.terms import Mode, Terms
from wearplan.demand.decide.units import Stops, need_of, none_cost, unit_cost
from wearplan.demand.decide.works import last_sent

DRAWS = 300
TERMS = Terms(
    price=1000.0, lead_days=60, hurry_price=1600.0, hurry_days=15, left_value=300.0, holding_per_day=0.4,
    leave_once=9000.0, leave_per_day=50.0, wait_per_day=40_000.0, look_days=7, expedite_days=10, expedite_cost=300.0,
)  # fmt: skip


def supply(use_by_day, *, on_hand=0, terms=TERMS, on_way=(), end=200, sent=None) -> Supply:
    """Stops on fixed days with counts by draw (or one number for all)."""
    days = 260
    use = np.zeros((DRAWS, days), dtype=np.int64)
    for day, counts in use_by_day.items():
        use[:, day] = counts
    stops = Stops.of(np.tile(sorted(use_by_day), (DRAWS, 1)), np.full(DRAWS, end), days)
    return Supply(
        on_hand=on_hand, use=use, returns=np.zeros_like(use), sent=np.zeros_like(use) if sent is None else sent,
        works_days=14, rebuild_price=400.0, on_way=tuple(on_way), stops=stops, terms=terms,
    )  # fmt: skip


def asked(found) -> dict[str, int]:
    return {ask.mode.name: ask.quantity for ask in found.decide().asks}


def coming(quantity, day) -> OnWay:
    return OnWay(quantity=quantity, day=np.full(DRAWS, day), due_day=day)


def test_each_tool_goes_the_way_that_still_reaches_its_stop():
    """Five wanted on day 20, four on day 63, three on day 150: hurry, order now, wait."""
    found = supply({20: 5, 63: 4, 150: 3}).decide()
    assert {ask.mode.name: ask.quantity for ask in found.asks} == {"hurry": 5, "order": 4}
    hurry = next(ask for ask in found.asks if ask.mode.name == "hurry")
    assert hurry.by_day == 5  # 15 days before day 20: asked for then, no day lies on the shelf
    later = [ask for ask in found.foreseen if ask.mode.name == "order"]
    assert [ask.quantity for ask in later] == [3]
    assert 80 <= later[0].by_day <= 90
    assert not found.short.any()


def test_nothing_is_ordered_that_comes_after_the_last_stop():
    far = replace(TERMS, lead_days=200)
    assert asked(supply({20: 5, 90: 3}, terms=far)) == {"hurry": 5}
    nowhere = replace(TERMS, lead_days=200, hurry_days=120)
    found = supply({20: 5, 90: 3}, terms=nowhere).decide()
    assert found.asks == ()
    assert found.beyond_help == 8


def test_what_is_missing_for_a_while_is_not_bought_twice():
    """Five are short at the stop of day 20; twelve come on day 25 anyway: a hurried tool of day 30 is in vain."""
    late = replace(TERMS, hurry_days=30)
    assert asked(supply({20: 5, 40: 3}, on_way=[coming(12, 25)], terms=late)) == {}
    # where one can come in time it is bought, although it is left over later
    assert asked(supply({20: 5, 40: 3}, on_way=[coming(12, 25)])) == {"hurry": 5}


def test_a_minimum_of_ten_is_kept_or_avoided():
    ten = replace(TERMS, minimum=10)
    assert asked(supply({63: 9}, terms=ten)) == {"order": 10}
    few = supply({63: 2}, terms=ten).decide()
    assert few.asks == ()  # two hurried ones later are cheaper than ten
    assert [(ask.mode.name, ask.quantity) for ask in few.foreseen] == [("hurry", 2)]
    fours = supply({63: 9}, terms=replace(TERMS, multiple=4)).decide()
    # the ninth is cheaper hurried later than with three that nobody needs
    assert [(ask.mode.name, ask.quantity) for ask in (*fours.asks, *fours.foreseen)] == [("order", 8), ("hurry", 1)]


def test_orders_near_in_time_are_one_where_that_is_cheaper():
    wants = {64: 2, 76: 2}
    alone = supply(wants, terms=replace(TERMS, order_cost=0.0)).decide()
    assert [ask.quantity for ask in alone.asks] == [2]
    joined = supply(wants, terms=replace(TERMS, order_cost=500.0)).decide()
    assert [ask.quantity for ask in joined.asks] == [4]


def test_borrowing_comes_before_hurrying_as_far_as_it_goes():
    lent = replace(TERMS, hurry_days=4, borrow=(Mode(name="borrow", days=2, price=1100.0, first=2),))
    assert asked(supply({6: 5}, terms=lent)) == {"hurry": 3, "borrow": 2}


def test_what_a_shortage_costs_is_the_cheaper_of_leaving_and_waiting():
    found = supply({20: 1, 50: 0}, end=100)
    need = need_of(found.level, found.stops)
    # comes on day 30, ten days late: left to the next stop on day 50 at 9,000 and 30 days; waiting would be 400,000
    cost = unit_cost(need, TERMS, comes=30, price=1000.0)[0, 0]
    assert cost == pytest.approx(1000.0 + 9000.0 + 30 * 50.0 + 0.4 * (100 - 30 - 50) + 0.4 * 0 - 0, abs=20.0)
    waits = unit_cost(need, replace(TERMS, wait_per_day=100.0), comes=30, price=1000.0)[0, 0]
    assert waits < 1000.0 + 10 * 100.0 + 50.0
    assert none_cost(need, TERMS)[0, 0] == pytest.approx(9000.0 + 80 * 50.0)


def test_an_order_that_is_not_needed_is_cancelled_and_one_too_late_brought_forward():
    changed, what, firm = change_orders(supply({20: 3}, on_hand=5, on_way=[coming(20, 60)]))
    assert [(each.what, each.quantity) for each in what] == [("cancel", 20)]
    assert what[0].sure
    assert firm
    assert what[0].saves == pytest.approx(20 * (1000 - 250 - 300) + 20 * 0.4 * 141, rel=0.01)
    assert changed.on_way[0].quantity == 0
    _, what, _ = change_orders(supply({20: 3}, on_way=[coming(6, 30)], terms=replace(TERMS, hurry_price=4000.0)))
    assert [(each.what, each.day) for each in what] == [("expedite", 10)]


def test_an_order_wanted_much_later_is_put_off():
    dear = replace(TERMS, holding_per_day=5.0, cancel_share=1.0)
    _, what, _ = change_orders(supply({150: 6}, on_way=[coming(6, 30)], terms=dear))
    assert [each.what for each in what] == ["defer"]
    assert 30 < what[0].day <= 150


def test_an_order_that_is_needed_is_left_alone():
    _, what, _ = change_orders(supply({40: 6}, on_way=[coming(6, 30)]))
    assert what == ()


def test_worn_tools_that_come_back_too_late_are_not_sent():
    sent = np.zeros((DRAWS, 260), dtype=np.int64)
    sent[:, 20] = 4
    sent[:, 160] = 4
    found, what = last_sent(supply({20: 4, 60: 4, 160: 4}, on_hand=4, sent=sent, end=200))
    assert what is not None
    assert 60 < what.day <= 160
    assert what.spared == 4.0  # back on day 174, after the last stop
    assert what.saves == pytest.approx(4 * (400.0 - 300.0))
    assert found.send_until == what.day


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 500), on_hand=st.integers(0, 8), lead=st.integers(1, 120), hurry=st.integers(1, 40),
    once=st.floats(0, 20_000), left=st.floats(0, 900),
)  # fmt: skip
def test_the_decision_is_never_dearer_than_waiting_and_more_stock_never_costs_more_to_buy(
    seed, on_hand, lead, hurry, once, left
):
    rng = np.random.default_rng(seed)
    wants = {int(day): rng.poisson(2.0, DRAWS) for day in np.sort(rng.choice(np.arange(5, 190), 4, replace=False))}
    terms = replace(TERMS, lead_days=lead, hurry_days=min(hurry, lead), leave_once=once, left_value=left)
    bare, more = (supply(wants, on_hand=n, terms=terms).decide() for n in (on_hand, on_hand + 2))
    assert bare.cost.mean() <= bare.cost_of_waiting + 1e-6
    assert more.cost.mean() <= bare.cost.mean() + 1e-6
    assert all(ask.quantity > 0 for ask in bare.asks)
