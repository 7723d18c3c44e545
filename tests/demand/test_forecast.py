"""From tools used at stops to dates, orders and the words about them."""

from __future__ import annotations

import csv
import io
import shutil
import tomllib
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from wearplan.demand import DriveUse, expected_rates, forecast, why_moved
from wearplan.demand.answer import with_pace
from wearplan.demand.part_worn import all_again, part_worn_again
from wearplan.demand.shared_store import one_store
from wearplan.plan import Use, UseDraws
from wearplan.report.bodies import plain_data
from wearplan.report.tables.demand import orders_table, stop_use_table
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


def test_the_first_order_moves_with_the_pace_and_the_page_says_so(site):
    """14 on hand, 20 due in ten days give or take ten, 70 days of lead time."""
    demand = with_pace([drive(site, NEED)], as_of=TODAY)
    faster = forecast([drive(site, NEED)], as_of=TODAY, pace=1.25)
    slower = forecast([drive(site, NEED)], as_of=TODAY, pace=0.75)
    assert faster.orders[0].order_by < demand.orders[0].order_by < slower.orders[0].order_by
    assert (demand.orders[0].needed_by - demand.orders[0].order_by).days == 77  # lead time and one review period
    page = orders_table(demand).html().replace("\xa0", " ")
    for words, found in (("faster", faster.orders[0]), ("slower", slower.orders[0])):
        when = f"now ({found.order_by})" if found.now else f"by {found.order_by}"
        assert f"a quarter {words}, {found.quantity} {when}, since needed from {found.needed_by}" in page
    assert "A faster drive is at the same stops earlier" in page
    assert "lead time 70 days" in page


def test_more_on_the_shelf_never_brings_an_order_forward(site):
    last = date.min
    for on_hand in (0, 7, 14, 21, 28):
        stock = replace(site.stores.stock[0], on_hand=on_hand)
        demand = forecast([drive(replace(site, stores=Stores(stock=(stock,))), NEED)], as_of=TODAY)
        first = demand.orders[0].order_by if demand.orders else date.max
        assert first >= last
        last = first


def test_shortage_only_grows_with_time_and_orders_end_it(site):
    demand = forecast([drive(site, NEED)], as_of=TODAY)
    chances = [entry.probability for entry in demand.shortage]
    assert chances == sorted(chances)
    ordered = sum(order.quantity for order in demand.orders)
    one = drive(site, NEED)
    total = np.sum([entry.counts for entry in one.use.uses], axis=0)
    covered = (total <= 14 + 20 + ordered).mean()
    assert covered >= demand.service - 1e-9


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


def test_why_an_order_moved(site):
    before = plain_data(forecast([drive(site, NEED)], as_of=TODAY))
    assert why_moved(forecast([drive(site, NEED)], as_of=TODAY), before) == ()
    fewer = replace(site, stores=Stores(stock=(replace(site.stores.stock[0], on_hand=4),)))
    (sentence,) = why_moved(forecast([drive(fewer, NEED)], as_of=TODAY), before)
    assert "earlier" in sentence
    assert "the shelf went from 14 to 4" in sentence


def test_an_order_that_moved_with_the_pace_alone_says_so(site):
    before = plain_data(forecast([drive(site, NEED)], as_of=TODAY))
    faster = forecast([drive(site, NEED)], as_of=TODAY, pace=1.25)
    (sentence,) = why_moved(faster, before)
    assert f": needed from {faster.orders[0].needed_by}, not {before['orders'][0]['needed_by']}" in sentence


def test_a_spreadsheet_gets_the_day_where_people_read_now(site):
    fewer = replace(site, stores=Stores(stock=(replace(site.stores.stock[0], on_hand=0, on_order=()),)))
    demand = forecast([drive(fewer, NEED)], as_of=TODAY)
    table = orders_table(demand)
    assert f"now ({TODAY})" in table.text(100)
    days = [row["order_by"] for row in csv.DictReader(io.StringIO(table.csv()))]
    assert days == [order.order_by.isoformat() for order in demand.orders]


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
