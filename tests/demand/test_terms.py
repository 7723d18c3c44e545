"""Terms from stores.toml: what the site says, what is taken for want of a word, and what the form keeps."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from wearplan.demand.decide.options import TAKEN, payment_days, terms_of
from wearplan.site import load
from wearplan.site.records import OnOrder, Stock, Stores
from wearplan.tui.stockform import as_typed, edits_of, read_form

SAMPLE = Path(__file__).parents[2] / "sample_wheel"


@pytest.fixture(scope="module")
def site():
    return load(SAMPLE).site


def test_what_is_not_said_is_taken_and_told(site):
    kind = site.wheel.tool_types[0]
    terms = terms_of(kind, Stock(tool_type=kind.code, on_hand=0), Stores(), site)
    assert terms.hurry_days == round(TAKEN.hurry_lead_share * kind.lead_time_days)
    assert terms.left_value == TAKEN.left_over_share * kind.price
    assert terms.leave_once == site.stops.costs.late_tool
    assert len(terms.said) == 6
    assert payment_days(Stores()) == TAKEN.payment_days


def test_every_key_is_read_from_the_folder_and_nothing_is_taken_then(site, tmp_path):
    folder = shutil.copytree(SAMPLE, tmp_path / "s")
    path = folder / "stores.toml"
    text = path.read_text(encoding="utf-8")
    text = text.replace(
        "hurry_factor = 1.6",
        "hurry_factor = 1.6\nleft_over_share = 0.5\norder_cost = 80.0\ncancel_share = 0.1\nexpedite_share = 0.2\n"
        "payment_days = 45.0",
    )
    text = text.replace(
        'tool_type = "disc-17"\non_hand = 14',
        'tool_type = "disc-17"\non_hand = 14\nhurry_days = 12.0\nhurry_price = 4000.0\nminimum_order = 10\n'
        'order_multiple = 5\nmissing_cost = 9000.0\nborrow = [{ lender = "north drive", quantity = 3, cost = 50.0 }]',
    )
    text = text.replace("due_doubt_days = 10.0", 'due_doubt_days = 10.0, number = "17", cancel_share = 0.0')
    path.write_text(text, encoding="utf-8")
    loaded = load(folder)
    assert not [fault for fault in loaded.faults if fault.file == "stores.toml"]
    stores = loaded.site.stores
    row, kind = stores.stock[0], loaded.site.wheel.tool_types[0]
    terms = terms_of(kind, row, stores, loaded.site)
    assert terms.said == ()
    assert (terms.hurry_days, terms.hurry_price, terms.order_cost) == (12, 4000.0, 80.0)
    assert (terms.minimum, terms.multiple, terms.rounded(11)) == (10, 5, 15)
    assert (terms.leave_once, terms.leave_per_day) == (9000.0, 0.0)
    assert (terms.cancel_share, terms.expedite_cost) == (0.1, 0.2 * kind.price)
    assert [(way.days, way.price, way.first) for way in terms.borrow] == [(2, kind.price + 50.0, 3)]
    assert (row.on_order[0].number, row.on_order[0].cancel_share) == ("17", 0.0)
    assert payment_days(stores) == 45


def test_the_form_keeps_what_an_order_is_called():
    order = OnOrder(quantity=20, due=date(2027, 1, 18), due_doubt_days=10.0, number="PO 17/b", cancel_share=0.1)
    stock = Stock(tool_type="d", on_hand=3, on_order=(order, replace(order, number=None, cancel_share=None)))
    typed = as_typed(stock)
    assert typed["on_order"] == "20 due 2027-01-18 +-10 cancel 10 % no PO 17/b; 20 due 2027-01-18 +-10"
    found, wrong = read_form(typed)
    assert not wrong
    assert found["on_order"][0] == {
        "quantity": 20, "due": date(2027, 1, 18), "due_doubt_days": 10.0, "cancel_share": 0.1, "number": "PO 17/b",
    }  # fmt: skip
    assert edits_of("d", typed, typed, True) == []
