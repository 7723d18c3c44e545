"""Every stop has its word of care; nothing in it is a green light or a figure to work by."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from tests.plan.makers import AIR, air_window, make_outlook, make_site, window
from wearplan.plan import JURISDICTIONS, Wishes, cautions_for, jurisdiction_of, propose, read_by
from wearplan.plan.ahead.terms import terms_of
from wearplan.plan.care.cautions import jurisdiction_cautions, water_estimate
from wearplan.site.records import Section

GREEN = re.compile(
    r"\b(safe|approved for entry|may enter|will hold|cleared|stay time|minutes at|decompress\w*)\b", re.IGNORECASE
)


def codes(cautions: object) -> set[str]:
    return {c.code for c in cautions}  # type: ignore[attr-defined]


def test_free_air_has_its_cautions_too() -> None:
    found = cautions_for(make_site(), window("shaft", 0, 1))
    assert {"planning-estimate", "ground-fall", "gas", "isolation", "confined", "count"} <= codes(found)
    assert not {"air-procedure", "fire"} & codes(found)


def test_compressed_air_adds_its_own_and_unknown_rules_are_said() -> None:
    site = make_site()
    found = cautions_for(site, air_window("a", 0, 1, 1.0))
    assert {"air-procedure", "air-loss", "fire", "repeat", "jurisdiction-unknown"} <= codes(found)
    found = cautions_for(replace(site, jurisdiction="DE"), air_window("a", 0, 1, 1.0))
    law = next(c for c in found if c.code == "law-medical-lock")
    assert law.source is not None
    assert "17(1)" in law.source
    assert "buzer.de" not in law.source
    assert law.as_read is not None
    assert "Check the text in force" in law.text


@pytest.mark.parametrize("code", [None, "XX", *[j.code for j in JURISDICTIONS]])
@pytest.mark.parametrize("bar", [0.05, 0.8, 1.4, 3.5, 4.5])
def test_no_green_light_and_no_figure_to_work_by(code: str | None, bar: float) -> None:
    for caution in jurisdiction_cautions(code, pressure_bar=bar):
        assert not GREEN.search(caution.text), caution.text
    assert jurisdiction_cautions(code, pressure_bar=bar)


def test_a_figure_that_is_second_hand_or_of_an_older_text_is_no_number() -> None:
    """Japan's ceiling of 2001, California's ceiling and days of notice, Ontario's notice, Brazil's ceiling."""
    for code, numbers in (("JP", r"4 bar|0\.4|4\.0"), ("US-CA", r"50|7 days"), ("CA-ON", r"14"), ("BR", r"3\.4|24 h")):
        text = " ".join(c.text for c in jurisdiction_cautions(code, pressure_bar=1.3))
        assert not re.search(numbers, text), code
        assert "unknown" in text, code


def test_swiss_law_as_read() -> None:
    found = {c.code: c for c in jurisdiction_cautions("CH", pressure_bar=0.8)}
    assert "0.7 bar" in found["law-medical-lock"].text
    assert "4 weeks" in found["law-notice"].text
    assert "law-medical-lock" not in {c.code for c in jurisdiction_cautions("CH", pressure_bar=0.5)}


def test_what_was_not_read_is_worded_without_its_number() -> None:
    """British thresholds of application and medical lock were not read at the source: their numbers must not appear."""
    text = " ".join(c.text for c in jurisdiction_cautions("GB", pressure_bar=1.4))
    assert "unknown" in text
    assert not re.search(r"0\.15|0\.7\b|1\.0 bar", text)
    assert not re.search(r"3\.6", " ".join(c.text for c in jurisdiction_cautions("DE", pressure_bar=4.0)))


def test_thresholds_carry_clause_and_address() -> None:
    for jurisdiction in JURISDICTIONS:
        for threshold in jurisdiction.thresholds:
            assert threshold.clause
            assert threshold.address
            assert threshold.as_written
    assert jurisdiction_of("gb") is jurisdiction_of("GB")
    assert jurisdiction_of("") is None
    assert jurisdiction_of("nowhere") is None


def test_the_ceiling_is_named_above_it_only() -> None:
    assert "law-ceiling" not in codes(jurisdiction_cautions("GB", pressure_bar=3.4))
    assert "law-ceiling" in codes(jurisdiction_cautions("GB", pressure_bar=3.5))


def test_water_head_is_an_estimate_that_fills_no_field() -> None:
    section = Section(from_chainage_m=0, to_chainage_m=1, from_m=0, to_m=1, water_head_m=14.0)
    said = water_estimate(section)
    assert said is not None
    assert said.text.startswith("Estimate only, not a pressure to work at")
    assert "1.4 bar" in said.text
    assert water_estimate(None) is None


def test_unapproved_pressure_and_rows_are_planning_only() -> None:
    site = make_site(rows=(replace(AIR, document=None, approved_by=None),))
    bare = air_window("a", 0, 1, 1.0, pressure_source=None)
    found = cautions_for(site, bare, terms=terms_of(site.stops, bare))
    assert {"pressure-not-approved", "row-not-approved"} <= codes(found)


def test_every_stop_of_a_plan_carries_cautions() -> None:
    site = make_site(windows=(window("s", 400, 406), air_window("b", 600, 606, 1.0)), jurisdiction="DE")
    plan = propose(site, make_outlook(site), wishes=Wishes(deferral=False, tradeoff=False, comparison=False))
    assert plan.stops
    for stop in plan.stops:
        assert "planning-estimate" in codes(stop.cautions)
        assert "isolation" in codes(stop.cautions)
        assert not any(GREEN.search(c.text) for c in stop.cautions)
    assert "planning-estimate" in codes(plan.cautions)


def test_read_by_needs_a_name_a_zone_and_a_stop() -> None:
    site = make_site(windows=(window("s", 400, 406),))
    plan = propose(site, make_outlook(site), wishes=Wishes(deferral=False, tradeoff=False, comparison=False))
    now = datetime(2026, 1, 1, 7, 0, tzinfo=UTC)
    assert read_by(plan, name="  A.  Person ", at=now).name == "A. Person"
    for name, at in (("", now), ("x" * 90, now), ("A", datetime(2026, 1, 1)), ("a\x1b[31m", now)):
        with pytest.raises(ValueError):
            read_by(plan, name=name, at=at)
    with pytest.raises(ValueError, match="no stop"):
        read_by(replace(plan, stops=()), name="A", at=now)
