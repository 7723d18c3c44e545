"""The sheet goes into the chamber blind and comes back as the inspection that was meant."""

from __future__ import annotations

import csv
import html
import io
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from wearplan import history
from wearplan.report.paper.chamber import (
    CARE,
    HEAD_ROWS,
    sheet_csv,
    sheet_html,
    sheet_markdown,
    sheet_rows,
    walking_order,
)
from wearplan.site.sheets.filled import read_filled_sheet

NOW = datetime(2026, 11, 20, 6, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def current(answers):
    return history.current_lives(history.lives(answers.site))


@pytest.fixture(scope="module")
def rows(answers, current):
    return sheet_rows(answers.site, current, face_m=answers.outlook.face_m)


def fill(text, values):
    """Fill boxes of a CSV sheet by place and column; head rows by name."""
    lines = list(csv.reader(io.StringIO(text)))
    header = next(index for index, line in enumerate(lines) if line[0] == "place")
    keys = lines[header]
    for line in lines[:header]:
        line[1] = values.get(line[0], "")
    for line in lines[header + 1 :]:
        for key, value in values.get(int(line[0]), {}).items():
            line[keys.index(key)] = value
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(lines)
    return out.getvalue()


@pytest.mark.parametrize(("silent_m", "last"), [(300.0, "5"), (340.0, "<10")])
def test_a_line_proved_after_the_stop_does_not_hide_what_was_measured_there(answers, current, silent_m, last):
    """The sheet gives what a person finds when following it back; a sensor still whole further on is news."""
    place, life = next((number, life) for number, life in current.items() if life.readings)
    read = replace(life.readings[-1], driven_m=300.0, wear_mm=5.0, worst_mm=5.0, below_mm=None, above_mm=None)
    silent = replace(read, driven_m=silent_m, source="sensor silence", wear_mm=None, worst_mm=None, below_mm=10.0)
    heard = {**current, place: replace(life, readings=(read, silent))}
    (row,) = sheet_rows(answers.site, heard, face_m=answers.outlook.face_m, only=[place])
    assert row.last_wear == last


def test_what_is_filled_comes_back_and_nothing_else(answers, rows, tmp_path):
    first, second, third, fourth = (row.position.number for row in rows[:4])
    face = answers.site.drive.chainage_m(answers.outlook.face_m)
    values = {
        "chainage_m": f"{face:.1f}",
        "started_at": "2026-11-19T22:10:00+01:00",
        "mode": "free air",
        first: {"wear_mm": "9.5"},
        second: {"wear_mm": "<1"},
        third: {"wear_mm": "9/10.5/9", "condition": "even"},
        fourth: {"not_read": "not reached"},
    }
    path = tmp_path / "sheet.csv"
    path.write_text(fill(sheet_csv(rows), values), encoding="utf-8")
    filled = read_filled_sheet(path, answers.site, now=NOW)
    assert filled.faults == ()
    found = {entry.position: entry for entry in filled.inspection.measurements}
    assert set(found) == {first, second, third, fourth}
    assert found[first].wear_mm == 9.5
    assert found[second].wear_below_mm == 1.0
    assert found[third].points_mm == (9.0, 10.5, 9.0)
    assert found[fourth].not_read == "not reached"
    assert filled.inspection.fittings == ()


def test_an_empty_sheet_says_nothing(answers, rows, tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_text(sheet_csv(rows), encoding="utf-8")
    filled = read_filled_sheet(path, answers.site, now=NOW)
    assert filled.inspection is None or filled.inspection.measurements == ()


def test_it_is_blind_unless_asked(answers, rows, current):
    assert not any(row.expected for row in rows)
    for text in (sheet_csv(rows), sheet_markdown(answers.site, rows), sheet_html(answers.site, rows)):
        assert "expected" not in text.lower().replace("expected_", "expected")
    seen = sheet_rows(answers.site, current, face_m=answers.outlook.face_m, outlook=answers.outlook)
    assert all(row.expected for row in seen)
    assert "expected mm" in sheet_html(answers.site, seen)


def test_walking_order_by_arm_then_radius_or_by_radius(answers):
    places = [replace(p, arm="BA"[p.number % 2]) for p in answers.site.wheel.positions]
    walked = [(p.arm, p.track_radius_mm) for p in walking_order(places)]
    assert walked == sorted(walked)
    radii = [p.track_radius_mm for p in walking_order(places, by="radius")]
    assert radii == sorted(radii)


def test_only_the_places_asked_for(answers, current, rows):
    number = rows[3].position.number
    (row,) = sheet_rows(answers.site, current, face_m=answers.outlook.face_m, only=[number])
    assert row.position.number == number


def test_head_rows_and_serials(answers, rows, current):
    text = sheet_csv(rows)
    assert text.splitlines()[: len(HEAD_ROWS)] == [f"{key}," for key in HEAD_ROWS]
    serials = {row.position.number: row.serial for row in rows}
    assert serials == {number: life.serial for number, life in current.items() if number in serials}


def test_a_hostile_serial_runs_nowhere(answers, rows):
    row = replace(rows[0], serial="=cmd|'/c x'!A1", last_wear="<b>1</b>")
    page = sheet_html(answers.site, [row])
    assert "<b>" not in page
    assert html.escape("=cmd|'/c x'!A1") in page
    assert "'=cmd" in sheet_csv([row])
    assert "<b>" not in sheet_markdown(answers.site, [row])


def test_the_caution_stands_in_every_form(answers, rows):
    for text in (sheet_csv(rows), sheet_markdown(answers.site, rows), html.unescape(sheet_html(answers.site, rows))):
        assert "not an entry permit" in text
        assert "not approved, planning only" in text
    assert sheet_csv(rows).splitlines()[len(HEAD_ROWS)].split(",", 1)[1].find(CARE) > 0
