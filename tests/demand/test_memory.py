"""Forecasts kept, read back, played again, and told apart by their true causes."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from tests.demand.test_forecast import NEED, TODAY, drive, site, stocked
from wearplan.demand import forecast
from wearplan.demand.hindsight import used_since
from wearplan.demand.memory.kept import from_json, keep, kept_in, last_before, read, to_json, write
from wearplan.demand.memory.score import scores
from wearplan.demand.memory.since import State, _difference, since
from wearplan.report.tables.look_back import scores_table
from wearplan.site.records import OnOrder

__all__ = ["site"]


@pytest.fixture(scope="module")
def before(site):
    one = drive(site, NEED)
    demand = forecast([one], as_of=TODAY)
    return keep(one, demand)


def test_a_kept_forecast_reads_back_and_plays_again(site, before):
    again = from_json(json.loads(json.dumps(to_json(before))))
    assert to_json(again) == to_json(before)
    assert again.stores == before.stores
    told = forecast([again.drive_use(site)], as_of=TODAY)
    assert told.basis[0].cost == pytest.approx(forecast([drive(site, NEED)], as_of=TODAY).basis[0].cost, rel=1e-3)


def test_nothing_changed_says_nothing(site, before):
    demand = forecast([drive(site, NEED)], as_of=TODAY)
    assert since(before, drive(site, NEED), demand) == ()


def test_a_delivery_ten_days_later_is_the_cause_named(site, before):
    order = replace(site.stores.stock[0].on_order[0], due=TODAY + timedelta(days=20))
    tight = stocked(site, on_hand=2)
    one = drive(tight, NEED)
    kept = keep(one, forecast([one], as_of=TODAY))
    later = drive(stocked(tight, on_order=(order,)), NEED)
    (sentence,) = since(kept, later, forecast([later], as_of=TODAY))
    assert f"the delivery of 20 due {TODAY + timedelta(days=10)} comes 10 days later (" in sentence
    assert "have passed" not in sentence
    assert "wear read" not in sentence


def test_each_cause_is_told_by_itself(site, before):
    changed = stocked(site, on_hand=4)
    kind = replace(changed.wheel.tool_types[0], price=4000.0)
    now = drive(replace(changed, wheel=replace(changed.wheel, tool_types=(kind,))), NEED)
    (sentence,) = since(before, now, forecast([now], as_of=TODAY))
    assert "on hand 14 to 4 (" in sentence
    assert "price 3200 to 4000 (" in sentence
    assert sentence.index("on hand 14 to 4") < sentence.index("price 3200")


def test_more_wear_and_other_stops_are_told(site, before):
    more = drive(site, {1300.0: 12, 1900.0: 12, 2400.0: 20, 2900.0: 12})
    (sentence,) = since(before, more, forecast([more], as_of=TODAY))
    assert "use to the end 45.8 to 55.7" in sentence
    assert "wear read since and the rates learnt from it" in sentence
    assert "other stops" in sentence


def test_a_new_order_and_one_gone_are_told(site, before):
    stock = stocked(site, on_order=(OnOrder(quantity=7, due=TODAY + timedelta(days=30)),))
    now = drive(stock, NEED)
    (sentence,) = since(before, now, forecast([now], as_of=TODAY))
    assert f"20 tools due {TODAY + timedelta(days=10)} no longer on order" in sentence
    assert f"7 tools due {TODAY + timedelta(days=30)} newly on order" in sentence


def test_what_is_news():
    """Half a tool of use, three points of chance or any other quantity; money alone from 3 % and 500 on."""
    base = State(use=20.0, short=0.10, cost=10_000.0, hurry=2, order=3, foreseen=4)
    assert _difference(base, base, "EUR") == ""
    assert _difference(base, replace(base, use=20.49, short=0.129, cost=10_499.0), "EUR") == ""
    assert _difference(base, replace(base, use=20.5), "EUR") == "use to the end 20.0 to 20.5"
    assert _difference(base, replace(base, short=0.131), "EUR") == "chance of being short 10 to 13 %"
    assert _difference(base, replace(base, hurry=3), "EUR") == "hurry 2 to 3"
    assert _difference(base, replace(base, cost=10_500.0), "EUR") == "EUR 500 more"
    dear = replace(base, cost=100_000.0)
    assert _difference(dear, replace(dear, cost=97_100.0), "EUR") == ""
    assert _difference(dear, replace(dear, cost=97_000.0), "EUR") == "EUR 3 000 less"


def test_files_are_kept_once_each_and_merge(tmp_path, before):
    (tmp_path / "site.toml").write_text("", encoding="utf-8")
    one = write(before, tmp_path)
    assert write(before, tmp_path) == one
    two = write(replace(before, made_on=TODAY + timedelta(days=7)), tmp_path)
    assert one.name.startswith(TODAY.isoformat())
    assert sorted(path.name for path in (tmp_path / "forecasts").iterdir()) == sorted([one.name, two.name])
    assert one.stat().st_size < 60_000
    (tmp_path / "forecasts" / "2026-01-01-damaged.json").write_text("{", encoding="utf-8")
    found = kept_in(tmp_path)
    assert [kept.made_on for kept in found] == [TODAY, TODAY + timedelta(days=7)]
    assert last_before(found, TODAY + timedelta(days=3)).made_on == TODAY
    assert last_before(found).made_on == TODAY + timedelta(days=7)
    assert last_before(found, date(2026, 1, 1)) is None


def test_what_is_no_kept_forecast_is_refused(tmp_path):
    path = tmp_path / "x.json"
    for text in ("[]", '{"answer": "plan"}', '{"answer": "kept demand", "format": 1}'):
        path.write_text(text, encoding="utf-8")
        with pytest.raises(ValueError, match=r"not a forecast kept|damaged"):
            read(path)


def test_kept_forecasts_are_held_against_use(site, before):
    """Only stops passed since count, and only tools put on since."""
    face_m = before.face_m + 1000.0
    rows = scores(site, [before], face_m=face_m)
    (row,) = (row for row in rows if row.tool_type == "d")
    told = before.use["counts:d"][:, :2].sum(axis=1)
    assert row.foretold.p50 == np.median(told)
    assert row.used == used_since(site, before.face_m).get("d", 0)
    assert row.inside == (row.foretold.p05 <= row.used <= row.foretold.p95)
    assert f"holds {sum(r.inside for r in rows)} of {len(rows)}" in scores_table(rows).notes[0]
    assert scores(site, [before], face_m=before.face_m) == ()
