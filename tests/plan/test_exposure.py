"""People's work counted by mode and band; pressures and heads that do not go together are asked about."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest

from tests.plan.makers import AIR, FREE, air_window, make_outlook, make_site, window
from wearplan.ground.water import APART_BAR, doubts, head_bar
from wearplan.plan import cautions_for, propose
from wearplan.plan.ahead.terms import inside_terms_of, terms_of
from wearplan.plan.care.cautions import jurisdiction_cautions
from wearplan.plan.care.exposure import band_of, exposures
from wearplan.plan.records import Wishes
from wearplan.report.bodies import plan_body
from wearplan.report.plan_text import exposure_words
from wearplan.site.records import Site, Window

HIGH = replace(AIR, up_to_pressure_bar=2.0)
ROWS = (AIR, HIGH, FREE)


def with_head(site: Site, head_m: float | None) -> Site:
    ground = site.grounds[-1]
    sections = tuple(replace(s, water_head_m=head_m) for s in ground.sections)
    return replace(site, grounds=(replace(ground, sections=sections),))


@pytest.mark.parametrize(
    ("place", "band"),
    [
        (window("shaft", 0, 1), "free air"),
        (air_window("low", 0, 1, 0.9), "compressed air, up to 1.2 bar"),
        (air_window("at the edge", 0, 1, 1.2), "compressed air, up to 1.2 bar"),
        (air_window("high", 0, 1, 1.3), "compressed air, over 1.2 to 2 bar"),
        (air_window("bare", 0, 1, 1.3, pressure_source=None), "compressed air, pressure not approved"),
        (window("bare shaft", 0, 1, pressure_source=""), "free air, pressure not approved"),
    ],
)
def test_bands_are_the_sites_own_rows(place: Window, band: str) -> None:
    site = make_site(rows=ROWS)
    assert site.stops is not None
    assert band_of(terms_of(site.stops, place), site.stops.entry_rows) == band


def test_nobody_in_the_chamber_is_in_no_band() -> None:
    site = make_site(rows=ROWS)
    assert site.stops is not None
    assert "nobody" in band_of(inside_terms_of(site.stops, air_window("low", 0, 1, 0.9)), site.stops.entry_rows)


def test_a_plan_counts_every_stop_once_and_the_head_moves_nothing() -> None:
    windows = (
        window("shaft", 380.0, 384.0), air_window("low", 460.0, 464.0, 0.9), air_window("high", 540.0, 544.0, 1.6),
        air_window("bare", 620.0, 624.0, 1.6, pressure_source=None), window("end", 760.0, 764.0),
    )  # fmt: skip
    site = with_head(make_site(rows=ROWS, windows=windows), 30.0)
    wishes = Wishes(forced_windows=tuple(w.name for w in windows), deferral=False, tradeoff=False, comparison=False)
    plan = propose(site, make_outlook(site, mm_per_100m=7.0, draws=30), wishes=wishes)
    found = exposures(plan.stops)
    assert [e.band for e in found] == [
        "free air", "compressed air, up to 1.2 bar", "compressed air, over 1.2 to 2 bar",
        "compressed air, pressure not approved",
    ]  # fmt: skip
    assert [e.stops for e in found] == [2, 1, 1, 1]
    assert sum(e.entries for e in found) == sum(s.entries for s in plan.stops)
    assert sum(e.person_hours for e in found) == pytest.approx(sum(s.person_hours for s in plan.stops))
    under = [e for e in found if e.mode == "compressed air"]
    assert sum(e.person_hours for e in under) == pytest.approx(plan.person_hours_under_pressure)
    body = json.loads(json.dumps(plan_body(plan)))
    assert [e["band"] for e in body["exposure"]] == [e.band for e in found]
    assert [s["exposure_band"] for s in body["stops"]] == [s.exposure_band for s in plan.stops]
    assert "over 1.2 to 2 bar" in exposure_words(plan.stops)


def test_head_and_approved_pressure_far_apart_are_asked_about() -> None:
    near, far = air_window("near", 400, 410, 1.6), air_window("far", 500, 510, 1.1)
    bare = air_window("bare", 600, 610, 1.1, pressure_source=None)
    site = with_head(make_site(rows=ROWS, windows=(window("shaft", 350, 360), near, far, bare)), 17.0)
    asked = doubts(site)
    assert [d.window.name for d in asked] == ["far"]
    bar = head_bar(site.grounds[-1].sections[0])
    assert bar is not None
    assert abs(bar - 1.6) <= APART_BAR < abs(bar - 1.1)
    assert "1.1 bar" in asked[0].sentence
    assert "1.7 bar" in asked[0].sentence
    section = site.grounds[-1].sections[0]
    assert "pressure-asked" in {c.code for c in cautions_for(site, far, section=section)}
    assert "pressure-asked" not in {c.code for c in cautions_for(site, near, section=section)}
    assert not doubts(with_head(site, None))


def test_free_air_meets_no_estimate_of_a_pressure() -> None:
    site = with_head(make_site(rows=ROWS), 17.0)
    section = site.grounds[-1].sections[0]
    assert "water-estimate" in {c.code for c in cautions_for(site, air_window("a", 0, 1, 1.0), section=section)}
    free = cautions_for(site, window("shaft", 0, 1), section=section)
    assert "water-estimate" not in {c.code for c in free}
    assert not any("bar" in c.text for c in free)


def test_the_day_of_notice_is_told_where_a_clause_that_was_read_gives_days() -> None:
    def notice(code: str, first_on: date | None) -> str:
        cautions = jurisdiction_cautions(code, pressure_bar=1.0, first_on=first_on)
        return next(c.text for c in cautions if c.code == "law-notice")

    first = date(2026, 12, 20)
    assert "2026-12-06" in notice("GB", first)
    assert "2026-11-22" in notice("CH", first)
    assert "2026-11-20" in notice("ES", first)
    assert "2026" not in notice("GB", None)
    # Second-hand days carry no date.
    for code in ("US-CA", "CA-ON", "CA-MB", "BE"):
        assert "2026" not in notice(code, first)


def test_only_the_first_stop_under_pressure_of_the_drive_tells_the_day() -> None:
    windows = (air_window("one", 400.0, 404.0), air_window("two", 600.0, 604.0))
    site = replace(make_site(rows=ROWS, windows=windows), jurisdiction="GB")
    wishes = Wishes(forced_windows=("one", "two"), deferral=False, tradeoff=False, comparison=False)
    plan = propose(site, make_outlook(site, draws=30), wishes=wishes)
    told = [next(c.text for c in s.cautions if c.code == "law-notice") for s in plan.stops]
    assert plan.stops[0].date is not None
    assert "counted back 14 days" in told[0]
    assert "counted back" not in told[1]
