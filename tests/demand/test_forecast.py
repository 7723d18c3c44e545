"""From tools used at stops to dates, orders and the words about them."""

from __future__ import annotations

import csv
import io
import re
import shutil
import tomllib
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from wearplan.demand import DriveUse, expected_rates, forecast
from wearplan.demand.answer import with_pace
from wearplan.demand.dates import last_logged_day
from wearplan.demand.part_worn import all_again, part_worn_again
from wearplan.demand.shared_store import one_store
from wearplan.plan import Use, UseDraws
from wearplan.report.tables.demand import orders_table, stop_use_table, wish_table
from wearplan.site import load
from wearplan.site.records import OnOrder, Pace, PartWorn, Stock, Stores

SAMPLE = Path(__file__).parents[2] / "sample_wheel"
TODAY = date(2026, 11, 20)
DRAWS = 400


@pytest.fixture(scope="module")
def site():
    found = load(SAMPLE).site
    kind = replace(found.wheel.tool_types[0], code="d", lead_time_days=70, rebuild_price=None, rebuild_days=None)
    stock = Stock(
        tool_type="d",
        on_hand=14,
        on_order=(OnOrder(quantity=20, due=TODAY + timedelta(days=10), due_doubt_days=10),),
    )
    return replace(
        found,
        wheel=replace(found.wheel, tool_types=(kind,)),
        pace=Pace(advance_m_per_day=12.0, advance_doubt=0.2, working_days_per_week=6),
        stores=Stores(stock=(stock,)),
    )


def use_at(counts_by_m: dict[float, int], *, seed: int = 1, doubt: float = 0.2) -> UseDraws:
    rng = np.random.default_rng(seed)
    places = tuple(counts_by_m)
    zero = np.zeros((DRAWS, len(places)), dtype=int)
    return UseDraws(
        draws=DRAWS,
        stops_m=places,
        dates=tuple(None for _ in places),
        uses=tuple(
            Use(
                driven_m=at,
                chainage_m=at,
                stop=index,
                date=None,
                tool_type="d",
                counts=rng.poisson(mean, DRAWS),
            )
            for index, (at, mean) in enumerate(counts_by_m.items())
        ),
        removed_sound={"d": zero},
        removed_late={"d": zero},
        damaged={"d": zero},
        pace_factor=np.exp(doubt * rng.standard_normal(DRAWS) - doubt**2 / 2),
        changes=np.zeros((DRAWS, len(places), 1), dtype=bool),
        places=("1",),
        tool_types=("d",),
    )


def drive(site, counts_by_m, **options) -> DriveUse:
    stops = [
        SimpleNamespace(driven_m=at, hours=24.0, chainage_m=at, window=f"w{index}", changes=())
        for index, at in enumerate(counts_by_m)
    ]
    return DriveUse(site=site, plan=SimpleNamespace(stops=stops), use=use_at(counts_by_m, **options), face_m=1000.0)


NEED = {1300.0: 12, 1900.0: 12, 2500.0: 14, 2900.0: 8}


def test_periods_add_up_to_the_use(site):
    one = drive(site, NEED)
    demand = forecast([one], as_of=TODAY)
    used = sum(entry.counts.sum() for entry in one.use.uses) / DRAWS
    months = sum(period.expected_used for period in demand.periods)
    assert dict(demand.totals)["d"].p50 == pytest.approx(used, abs=2)
    assert months == pytest.approx(used, rel=1e-9)


def asked(demand) -> dict[str, int]:
    """Tools to ask for before the next look, by way."""
    return {action.what: action.quantity for action in demand.actions if action.gets_tools}


def test_fourteen_on_hand_and_twenty_due_give_or_take_ten_days(site):
    """70 days of lead time: what is wanted after that is ordered or foreseen, and nothing before it is missing."""
    demand = forecast([drive(site, NEED)], as_of=TODAY)
    first = demand.orders[0]
    assert first.what == "order"
    assert first.comes >= first.order_by + timedelta(days=70)
    assert all(action.order_by >= TODAY for action in demand.orders)
    (basis,) = demand.basis
    assert basis.short < 0.2
    assert basis.beyond_help < 0.3
    bought = sum(action.quantity for action in demand.orders)
    expected = sum(NEED.values()) - 34
    assert expected <= bought <= expected + 12


def test_what_is_asked_for_moves_with_the_pace_and_the_page_says_so(site):
    demand = with_pace([drive(site, NEED)], as_of=TODAY)
    faster = forecast([drive(site, NEED)], as_of=TODAY, pace=1.25)
    slower = forecast([drive(site, NEED)], as_of=TODAY, pace=0.75)
    assert faster.orders[0].needed_by < demand.orders[0].needed_by < slower.orders[0].needed_by
    hasty = with_pace([drive(stocked(site, on_hand=4), NEED)], as_of=TODAY)
    page = orders_table(hasty).html().replace("\xa0", " ")
    assert "A faster drive is at the same stops earlier" in page
    assert re.search(r"d: .* now; a quarter faster, .*; a quarter slower, ", page)


def stocked(site, **changes):
    return replace(site, stores=Stores(stock=(replace(site.stores.stock[0], **changes),)))


def test_more_on_the_shelf_never_costs_more_to_go_on_with(site):
    costs = []
    for on_hand in (0, 7, 14, 21, 28):
        demand = forecast([drive(stocked(site, on_hand=on_hand), NEED)], as_of=TODAY)
        costs.append(demand.basis[0].cost)
    assert costs == sorted(costs, reverse=True)


def test_shortage_only_grows_with_time_and_what_is_done_lessens_it(site):
    demand = forecast([drive(site, NEED)], as_of=TODAY)
    chances = [entry.probability for entry in demand.shortage]
    assert chances == sorted(chances)
    assert all(entry.probability_if_ordered <= entry.probability + 1e-9 for entry in demand.shortage)
    assert demand.shortage[-1].probability_if_ordered < 0.2 < demand.shortage[-1].probability


def test_what_must_be_asked_now_says_the_day_and_a_spreadsheet_gets_it(site):
    demand = forecast([drive(stocked(site, on_hand=0, on_order=()), NEED)], as_of=TODAY)
    assert demand.actions[0].what == "hurry"
    assert demand.actions[0].late
    rows = list(csv.DictReader(io.StringIO(orders_table(demand).csv())))
    assert {row["order_by"] for row in rows} >= {action.order_by.isoformat() for action in demand.actions}
    assert rows[0]["quantity"] == str(demand.actions[0].quantity)


def test_same_folder_seed_and_date_give_the_same_answer(site):
    one, two = (forecast([drive(site, NEED)], as_of=TODAY, seed=3) for _ in range(2))
    assert one == two


def test_one_type_does_not_move_another(site):
    """Another type in the store changes no draw of the first one."""
    other = replace(site.wheel.tool_types[0], code="e", rebuild_price=100.0, rebuild_days=14.0)
    stock = replace(site.stores.stock[0], tool_type="e", on_hand=3, in_rebuild=5)
    both = replace(
        site,
        wheel=replace(site.wheel, tool_types=(other, *site.wheel.tool_types)),
        stores=Stores(stock=(stock, *site.stores.stock)),
    )
    alone, beside = (forecast([drive(one, NEED)], as_of=TODAY) for one in (site, both))
    assert [a for a in beside.orders if a.tool_type == "d"] == list(alone.orders)
    assert [b for b in beside.basis if b.tool_type == "d"] == list(alone.basis)


def test_a_lead_time_longer_than_the_drive_cannot_help_and_says_so(site):
    """200 days of lead time with some 100 days of drive left: hurried, or nothing; never the ordinary way."""
    kind = replace(site.wheel.tool_types[0], lead_time_days=200.0)
    slow = replace(stocked(site, on_hand=4, on_order=()), wheel=replace(site.wheel, tool_types=(kind,)))
    short = {1300.0: 6, 1600.0: 6, 1900.0: 6}
    end = replace(slow, drive=replace(slow.drive, end_chainage_m=slow.drive.start_chainage_m + 2000.0))
    demand = forecast([drive(end, short)], as_of=TODAY)
    assert all(action.what != "order" for action in demand.orders)
    assert any("it cannot help on this drive any more" in sentence for sentence in demand.warnings)
    assert asked(demand).get("hurry", 0) > 0


def test_twelve_overdue_since_october_count_as_coming_any_day_and_are_named(site):
    overdue = OnOrder(quantity=12, due=date(2026, 10, 16))
    demand = forecast([drive(stocked(site, on_order=(overdue,)), NEED)], as_of=TODAY)
    (sentence,) = (said for said in demand.warnings if "still on order" in said)
    assert sentence.startswith("d: 12 were due on 2026-10-16, 35 days ago, and are still on order")
    one = replace(overdue, quantity=1)
    again = forecast([drive(stocked(site, on_order=(one,)), NEED)], as_of=TODAY)
    assert any("1 was due on 2026-10-16" in said for said in again.warnings)


def test_a_log_forty_days_old_is_told_and_the_drive_has_gone_on(site):
    """The first stop, some 35 days ahead at the last log, counts as due today."""
    logged = last_logged_day(site)
    one = drive(site, NEED, doubt=0.0)
    fresh = forecast([one], as_of=logged)
    old = forecast([one], as_of=logged + timedelta(days=40))
    assert fresh.log_days == 0
    assert old.log_days == 40
    assert not any("the last log is of" in said for said in fresh.warnings)
    assert any(f"the last log is of {logged}, 40 days before" in said for said in old.warnings)
    assert "the last log is 40 days old" in orders_table(old).title
    # dates of use stay where the pace puts them; only what should be passed falls on today
    assert old.periods[-1].month == fresh.periods[-1].month
    assert not any("the last log is of" in said for said in forecast([one], as_of=logged + timedelta(14)).warnings)


def test_an_order_that_is_not_needed_is_an_action_with_its_money(site):
    demand = forecast([drive(stocked(site, on_hand=60), NEED)], as_of=TODAY)
    (action,) = (action for action in demand.asks if action.what == "cancel")
    assert action.quantity == 20
    assert action.sure
    price = site.wheel.tool_types[0].price
    assert action.cost == 20 * price
    assert action.text.startswith(f"ask to cancel 20 d of order due {TODAY + timedelta(days=10)}")
    assert action in demand.actions


def test_the_plan_and_the_store_are_led_into_each_other(site):
    one = drive(site, NEED)
    stops = [
        SimpleNamespace(**{**vars(stop), "changes": (SimpleNamespace(place="1", fitted="new", from_position=None),)})
        for stop in one.plan.stops
    ]
    demand = forecast([replace(one, plan=SimpleNamespace(stops=stops))], as_of=TODAY)
    (row,) = demand.bridge
    assert row.planned == 4
    assert row.planned + row.measured + row.damaged - row.again == pytest.approx(row.from_store)
    assert row.rebuilt + row.new == pytest.approx(row.from_store)
    assert row.from_store == pytest.approx(sum(period.expected_used for period in demand.periods))


def test_money_and_wish_are_shown_where_they_disagree(site):
    demand = forecast([drive(stocked(site, on_hand=0), NEED)], as_of=TODAY)
    (row,) = demand.disagreements
    assert row.by_cost != row.by_wish
    assert row.cost > 0
    assert row.wish_cost > 0
    assert "the wish" in wish_table(demand).text(120)


def test_a_drive_that_ends_leaves_its_share_to_the_other(site):
    """Two drives on one store, one of which ends soon: what is bought follows the one that goes on."""
    soon = {1100.0: 4}
    ends = replace(site, name="ends", drive=replace(site.drive, end_chainage_m=site.drive.start_chainage_m + 1150.0))
    both = forecast([drive(site, NEED), drive(ends, soon, seed=2)], as_of=TODAY)
    alone = forecast([drive(site, NEED)], as_of=TODAY)
    more = sum(o.quantity for o in both.orders) - sum(o.quantity for o in alone.orders)
    assert 2 <= more <= 7
    assert both.orders[0].drives == f"{site.name} and ends"
    assert both.budget[-1].month >= alone.budget[-1].month


def test_two_drives_draw_on_one_store(site):
    other = replace(site, name="second drive")
    both = forecast([drive(site, NEED), drive(other, NEED, seed=2)], as_of=TODAY)
    alone = forecast([drive(site, NEED)], as_of=TODAY)
    assert sum(o.quantity for o in both.orders) > sum(o.quantity for o in alone.orders) + 30
    assert {entry.drive for entry in both.at_stops} == {site.name, "second drive"}
    assert "drive" in [column.key for column in stop_use_table(both).columns]
    assert "drive" not in [column.key for column in stop_use_table(alone).columns]
    # the same stock row seen from two folders is one shelf
    assert both.stock_lines[0].p50[0] == alone.stock_lines[0].p50[0]


def test_a_serial_is_counted_once(site):
    shelf = (PartWorn(serial="D-1", wear_mm=7.0), PartWorn(serial="D-2", wear_mm=3.0))
    first = replace(site, stores=Stores(stock=(replace(site.stores.stock[0], part_worn=shelf),)))
    second = replace(site, stores=Stores(stock=(replace(site.stores.stock[0], part_worn=shelf[:1]),)))
    joined = one_store([first, second])
    assert [tool.serial for tool in joined.stock["d"].part_worn] == ["D-1", "D-2"]


def test_a_shelf_tool_that_two_plans_count_on_is_given_away_once(site):
    plan = SimpleNamespace(
        stops=[SimpleNamespace(changes=(SimpleNamespace(place="3", fitted="part-worn", from_position=None),))]
    )
    use = replace(use_at({1300.0: 1}), changes=np.ones((DRAWS, 1, 1), dtype=bool), places=("3",), tool_types=("d",))
    first, second = all_again([(site, plan, use), (site, plan, use)], {"d": 1})
    assert (len(first), len(second)) == (1, 0)
    assert [len(part) for part in all_again([(site, plan, use)] * 2, {"d": 2})] == [1, 1]


def test_a_serial_on_two_wheels_is_named(site):
    both = one_store([site, replace(site, name="copy")])
    assert any("stand on two wheels at once" in remark for remark in both.remarks)
    assert not any("two wheels" in remark for remark in one_store([site]).remarks)


def test_differing_stock_is_named_not_added(site):
    second = replace(site, name="B", stores=Stores(stock=(replace(site.stores.stock[0], on_hand=9),)))
    joined = one_store([site, second])
    assert joined.stock["d"].on_hand == 14
    (remark,) = (remark for remark in joined.remarks if "differs" in remark)
    assert "9 on hand" in remark
    assert "14 on hand" in remark


def test_rates_are_carried_over_with_their_source(site):
    from wearplan import wear

    fit = wear.learn(load(SAMPLE).site)
    text = expected_rates(load(SAMPLE).site, fit)
    assert text.startswith("# Source: readings of ")

    unit = text.split("# unit ")[1]
    rates = tomllib.loads(unit[unit.index("expected_rate") :])["expected_rate"]
    assert {"kind", "mm_per_km", "factor"} == set(rates[0])
    assert all(rate["factor"] >= 1.25 for rate in rates)  # what differs between drives is never left out
    own = expected_rates(load(SAMPLE).site, fit, between_drives=1.0)
    assert "joined with 1 " in own


def test_carried_rates_are_read_by_the_next_folder(site, tmp_path):
    from wearplan import wear

    fit = wear.learn(load(SAMPLE).site)
    text = expected_rates(load(SAMPLE).site, fit)
    folder = shutil.copytree(SAMPLE, tmp_path / "next")
    ground = sorted((folder / "ground").iterdir())[-1]
    code = fit.units[0]
    block = next(part for part in text.split("# unit ") if part.startswith(code)).split("\n", 1)[1]
    lines = ground.read_text(encoding="utf-8").splitlines()
    at = next(index for index, line in enumerate(lines) if line.split("#")[0].strip() == f'code = "{code}"')
    unit = next(i for i in range(at, len(lines)) if i + 1 == len(lines) or lines[i + 1].startswith("["))
    kept = [line for line in lines[at : unit + 1] if not line.startswith("expected_rate")]
    ground.write_text("\n".join([*lines[:at], *kept, block, *lines[unit + 1 :]]) + "\n", encoding="utf-8")
    loaded = load(folder)
    assert [fault for fault in loaded.faults if "ground" in fault.file] == []
    found = next(each for each in loaded.site.ground().units if each.code == code)
    carried = {rate["kind"]: rate["mm_per_km"] for rate in tomllib.loads(block)["expected_rate"]}
    assert {rate.kind: rate.mm_per_km for rate in found.expected_rate} == carried


def test_part_worn_tools_fitted_again_take_none_from_the_store_and_spare_the_works_a_core(site):
    """The plan moves a tool from place 10 to place 1 and takes one from the shelf for place 3."""
    at = 1300.0
    stock = replace(site.stores.stock[0], part_worn=(PartWorn(serial="D-9", wear_mm=6.0),))
    site = replace(site, stores=Stores(stock=(stock,)))
    use = use_at({at: 0})
    rng = np.random.default_rng(4)
    changes = rng.random((DRAWS, 1, 3)) < (0.9, 0.6, 0.8)
    total = changes.sum(axis=2)
    use = replace(
        use,
        uses=(replace(use.uses[0], counts=total[:, 0]),),
        removed_sound={"d": total},
        changes=changes,
        places=("1", "10", "3"),
        tool_types=("d", "d", "d"),
    )
    moved = SimpleNamespace(place="1", fitted="part-worn", from_position=10)
    shelf = SimpleNamespace(place="3", fitted="part-worn", from_position=None)
    new = SimpleNamespace(place="10", fitted="new", from_position=None)
    stop = SimpleNamespace(driven_m=at, hours=24.0, chainage_m=at, window="w", changes=(moved, shelf, new))
    parts = list(part_worn_again(site, SimpleNamespace(stops=[stop]), use))
    assert [part.from_place for part in parts] == [True, False]
    both = changes[:, 0, 0] & changes[:, 0, 1]
    assert np.array_equal(parts[0].fitted, both)
    demand = forecast([DriveUse(site=site, plan=SimpleNamespace(stops=[stop]), use=use, face_m=1000.0)], as_of=TODAY)
    expected = (total[:, 0] - both - changes[:, 0, 2]).mean()
    assert sum(period.expected_used for period in demand.periods) == pytest.approx(expected)
    assert demand.at_stops[0].used.p50 == np.median(total[:, 0] - both - changes[:, 0, 2])
    assert not any("fits nowhere" in remark for remark in demand.remarks)
