"""The life of a tool or a place, with the records that belong to no life."""

from __future__ import annotations

from datetime import UTC, datetime

from wearplan import history
from wearplan.history.tell import Account, Chapter, Line
from wearplan.report.bodies import plain_data
from wearplan.report.tables.life import OTHERS, life_body, life_tables
from wearplan.site.records import Origin


def line(text, at=100.0):
    return Line(
        driven_m=at,
        chainage_m=at + 500,
        ring=7,
        at=datetime(2026, 3, 1, tzinfo=UTC),
        position=3,
        what="read",
        text=text,
        origin=Origin(file="inspections/a.toml", line=12),
    )


def test_records_of_no_life_are_printed_and_in_json():
    chapter = Chapter(life=None, heading="D-1, first life", lines=(line("9.5 mm"),), remarks=("fitted by a guess",))
    account = Account(
        title="place 3", serial=None, position=3, chapters=(chapter,), others=(line("a damaged fitting"),)
    )
    tables = life_tables(account)
    assert [table.title for table in tables] == ["D-1, first life", OTHERS]
    assert "a damaged fitting" in tables[1].text(140)
    assert "inspections/a.toml:12" in tables[1].text(140)
    assert "fitted by a guess" in tables[0].text(140)
    body = plain_data(life_body(account))
    assert [entry["text"] for entry in body["others"]] == ["a damaged fitting"]
    assert body["others"][0]["written_in"] == "inspections/a.toml:12"
    assert body["rests_on"] == ["inspections/a.toml:12"]


def test_without_such_records_there_is_no_such_table(answers):
    place = answers.site.wheel.positions[0].number
    account = history.tell_life(answers.site, position=place)
    tables = life_tables(account)
    assert len(tables) == len(account.chapters) + bool(account.others)
    body = life_body(account)
    assert sum(len(chapter["lines"]) for chapter in body["chapters"]) == sum(
        len(table.rows) for table in tables[: len(account.chapters)]
    )
