"""The caution and the standing of a pressure go with the stops in every form."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import replace

from wearplan.report.approval import NOT_APPROVED
from wearplan.report.bodies import plan_body
from wearplan.report.plan_text import plan_text
from wearplan.report.reaches import reach_words, stop_reaches
from wearplan.report.tables.plan import plan_tables, stops_table, sturdy_table


def with_source(plan, source):
    return replace(plan, stops=tuple(replace(stop, pressure_source=source) for stop in plan.stops))


def test_every_form_says_not_approved_where_no_source_is_recorded(answers):
    plan = with_source(answers.plan, None)
    table = stops_table(plan, answers.site)
    for text in (table.text(100), table.text(60), table.csv(), table.markdown(), table.html()):
        flat = " ".join(text.replace("\xa0", " ").split())
        assert NOT_APPROVED in flat
        assert "not an entry permit" in flat
    rows = list(csv.reader(io.StringIO(table.csv())))
    assert rows[0][-1] == "approval"
    assert all(row[-1].startswith(NOT_APPROVED) for row in rows[1:])
    assert all(stop["approval"] == NOT_APPROVED for stop in plan_body(plan)["stops"])
    assert "not an entry permit" in plan_body(plan)["caution"]


def test_a_recorded_source_is_named_and_not_doubted(answers):
    table = stops_table(with_source(answers.plan, "stability note 7"), answers.site)
    assert NOT_APPROVED not in table.text(160)
    assert "source: stability note 7" in table.text(160)
    assert "not an entry permit" in " ".join(table.text(160).split())


def test_the_answer_says_how_far_off_the_stop_is(answers):
    from wearplan.history import Calendar

    calendar = Calendar(answers.site)
    reaches = stop_reaches(answers.plan, calendar)
    assert [reach.day for reach in reaches] == [stop.date for stop in answers.plan.stops]
    assert reach_words(reaches[0]) in " ".join(plan_text(answers.plan, answers.site).split())
    first = calendar.reach(calendar.face_m + 6.0)
    pace = answers.site.pace.advance_m_per_day
    assert first.hours == 24.0 * 6.0 / pace
    assert first.hours_early <= first.hours <= first.hours_late
    assert calendar.reach(calendar.face_m - 10.0).rings == 0
    assert reach_words(calendar.reach(calendar.face_m)) == "at the face"


def test_the_first_lines_carry_answer_reason_passing_and_caution(answers):
    plan = answers.plan
    first = " ".join(" ".join(plan_text(plan, answers.site, width=100).splitlines()[:25]).split())
    assert first.startswith("Next stop: ")
    assert plan.stops[0].reason.split(":")[0] in first
    assert f"If it is passed: next {next(d for d in plan.deferral if d.ahead_m > 0).window}" in first
    assert first.index("If it is passed") < first.index("! Planning estimate.")
    for caution in plan.stops[0].cautions:
        if caution.code in ("water-estimate", "pressure-not-approved"):
            assert caution.text[:40] in first


def test_a_narrow_table_still_says_which_pressure_nobody_approved(answers):
    for source, count in ((None, len(answers.plan.stops)), ("note 7", 0)):
        plan = with_source(answers.plan, source)
        for width in (78, 98, 118, 158):
            assert stops_table(plan, answers.site).text(width).count("not appr.") == count, width
    assert all(row["approval"] for row in plan_body(answers.plan)["exposure"])


def test_every_table_that_names_a_mode_or_a_pressure_carries_the_caution(answers) -> None:
    """In all four writings; CSV, which has no notes, in its last column."""
    site, plan = answers.site, answers.plan
    named = [
        table
        for table in (*plan_tables(plan, site), sturdy_table((), site))
        if re.search(r"\b(mode|bar|band|under pressure)\b", " ".join(column.head for column in table.columns))
    ]
    assert {table.title for table in named} >= {"Proposed stops", "People's work by mode and band of pressure"}
    assert len(named) >= 5
    for table in named:
        last = [row[-1] for row in csv.reader(io.StringIO(table.csv()))]
        assert last[0] in ("approval", "caution"), table.title
        assert all("not an entry permit" in cell for cell in last[1:]), table.title
        if table.rows:
            for text in (table.text(100), table.markdown(), table.html()):
                assert "not an entry permit" in " ".join(text.split()), table.title
