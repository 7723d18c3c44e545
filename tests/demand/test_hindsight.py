"""Looking back: what past plans would have ordered against what was used."""

from __future__ import annotations

import pytest

from tests.simulate import World
from wearplan.demand import demand_in_hindsight
from wearplan.report.tables.look_back import held_words, hindsight_table


@pytest.fixture(scope="module")
def site():
    return World(3, places=16, length_m=1200.0, window_every_m=120.0, wear_scale=2.5).site


@pytest.fixture(scope="module")
def past(site):
    said = []
    found = demand_in_hindsight(site, stops=2, draws=60, progress=lambda what, share: said.append(share))
    assert said == sorted(said)
    assert len(said) == 2
    return found


def test_used_is_what_the_records_say(site, past):
    assert past
    for stop in {entry.inspection_id for entry in past}:
        at = next(one.driven_m for one in site.inspections if one.id == stop)
        later = [
            fitting
            for one in site.inspections
            if one.driven_m > at
            for fitting in one.fittings
            if fitting.action == "change" and not fitting.damaged
        ]
        edges = {place.number: place.housing for place in site.wheel.positions}
        tools = sum(1 for fitting in later if edges[fitting.position] is None)
        assert sum(entry.used for entry in past if entry.inspection_id == stop) >= tools > 0


def test_the_order_covers_the_wanted_share_of_what_was_foretold(past):
    for entry in past:
        assert entry.would_have_ordered >= entry.foretold.p90
        assert entry.enough == (entry.used <= entry.would_have_ordered)
    assert any(entry.foretold.p50 for entry in past)


def test_the_table_counts_how_often_it_was_enough(past):
    table = hindsight_table(past)
    assert len(table.rows) == len(past)
    assert table.notes[0].startswith(f"Enough in {sum(entry.enough for entry in past)} of {len(past)} rows.")
    held = 100 * sum(entry.enough for entry in past) / len(past)
    assert table.notes[1].startswith(f"Held {held:.0f} % where the site asks for 95 %")


def test_what_fell_short_is_told_with_its_causes(past):
    from dataclasses import replace

    one = replace(past[0], used=20, would_have_ordered=12, stops_planned=2, stops_made=4)
    two = replace(past[0], used=3, would_have_ordered=12)
    said = held_words([one, two, two, two])
    bias = (20 + 9) / 4 - (one.foretold.p50 or 0)
    assert said.startswith(
        "Held 75 % where the site asks for 95 %, because in 1 of the 1 that fell short the crew stopped"
    )
    assert f"{abs(bias):.1f} tools a row {'more' if bias > 0 else 'fewer'} were used" in said


def test_without_past_stops_there_is_nothing_to_look_back_on(site):
    from dataclasses import replace

    assert demand_in_hindsight(replace(site, inspections=site.inspections[:1])) == ()
