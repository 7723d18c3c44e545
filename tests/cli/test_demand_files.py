"""What people carry away: purchase request, budget and calendar, under names that stay the same."""

from __future__ import annotations

import csv
import io

import icalendar
import openpyxl
import pytest

from tests.demand.test_forecast import NEED, TODAY, drive, site, stocked
from wearplan.cli.commands.demand import _write_out
from wearplan.demand import forecast

__all__ = ["site"]


@pytest.fixture
def written(site, tmp_path):
    one = drive(stocked(site, on_hand=2), NEED)
    demand = forecast([one], as_of=TODAY)
    for stop in one.plan.stops:
        stop.date = TODAY
    for _ in range(2):  # the next week's files take the place of this week's
        _write_out(tmp_path / "out", [(one.site, None, one.plan)], demand)
    return tmp_path / "out", demand


def test_names_stay_the_same(written):
    folder, _ = written
    assert sorted(path.name for path in folder.iterdir()) == [
        "budget.csv", "budget.xlsx", "purchase-request.csv", "purchase-request.xlsx", "store.ics",
    ]  # fmt: skip


def test_the_purchase_request_says_all_a_buyer_needs(written):
    folder, demand = written
    rows = list(csv.DictReader(io.StringIO((folder / "purchase-request.csv").read_text(encoding="utf-8"))))
    wanted = [action for action in demand.actions if action.gets_tools]
    assert len(rows) == len(wanted) > 0
    for row, action in zip(rows, wanted, strict=True):
        assert int(row["quantity"]) == action.quantity
        assert float(row["unit_price"]) * action.quantity == pytest.approx(action.cost)
        assert row["order_by"] == action.order_by.isoformat()
        assert row["way"] == {"order": "ordinary", "hurry": "hurried"}[action.what]
        assert row["currency"] == demand.currency
        assert row["drive"]
        assert row["reason"]


def test_the_workbook_holds_numbers_and_dates(written):
    folder, demand = written
    book = openpyxl.load_workbook(folder / "purchase-request.xlsx")
    sheet = book[book.sheetnames[1]]
    heads = [cell.value for cell in sheet[3]]
    values = dict(zip(heads, [cell.value for cell in sheet[4]], strict=True))
    action = next(action for action in demand.actions if action.gets_tools)
    assert values["quantity"] == action.quantity
    assert values["order by"].date() == action.order_by


def test_the_budget_adds_up_to_what_is_paid(written):
    folder, demand = written
    rows = list(csv.DictReader(io.StringIO((folder / "budget.csv").read_text(encoding="utf-8"))))
    assert sum(float(row["payments"]) for row in rows) == pytest.approx(
        sum(entry.payments for entry in demand.budget), rel=1e-3
    )
    now = sum(action.cost for action in demand.orders if not action.later)
    assert sum(entry.orders for entry in demand.budget) >= now


def test_the_calendar_carries_stops_orders_deliveries_and_the_next_look(written):
    folder, _ = written
    read = icalendar.Calendar.from_ical((folder / "store.ics").read_bytes())
    titles = [str(event["SUMMARY"]) for event in read.walk("VEVENT")]
    assert sum("planned stop at" in title for title in titles) == len(NEED)
    assert any(title.startswith(("order", "hurry")) for title in titles)
    assert any(title == "20 d due" for title in titles)
    assert "look at the store again" in titles
