"""The work pack: what to change and bring, the cautions of the stop, blank lines for those who approve."""

from __future__ import annotations

import csv
import html
import io
import math
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from wearplan import history
from wearplan.plan import Clash, read_by
from wearplan.report.paper.pack import APPROVE, HOLD_POINTS, pack_cautions, pack_html, pack_markdown, write_pack
from wearplan.report.plan_text import stop_cautions
from wearplan.report.tables.pack import bring_table, schedule_table, tools_table, unseen_table
from wearplan.report.words import chainage_text, count_text, marked

READER = {"name": "A. Reader", "at": datetime(2026, 11, 20, 6, 30, tzinfo=UTC)}


@pytest.fixture(scope="module")
def current(answers):
    return history.current_lives(history.lives(answers.site))


@pytest.fixture(scope="module")
def written(answers, current, tmp_path_factory):
    folder = tmp_path_factory.mktemp("pack")
    paths = write_pack(
        answers.site, answers.outlook, answers.plan, current, folder, read_by=read_by(answers.plan, **READER)
    )
    return {path.name: path.read_text(encoding="utf-8") for path in paths}


def test_all_papers_are_there(written):
    assert set(written) == {"pack.md", "pack.html", "tools.csv", "bring.csv", "sheet.csv", "sheet.md", "sheet.html"}
    assert "http" not in written["pack.html"] + written["sheet.html"]


def test_cautions_are_exactly_those_of_the_plan(answers, written):
    stop = answers.plan.stops[0]
    told = pack_cautions(answers.plan, stop)
    assert told[: len(stop.cautions)] == stop_cautions(stop)
    texts = {caution.text for caution in (*stop.cautions, *answers.plan.cautions)}
    assert all(any(line.startswith(text) for text in texts) for line in told)
    for line in told:
        assert f"<li>{html.escape(line)}</li>" in written["pack.html"]
        assert f"- {marked(line)}" in written["pack.md"]


def test_hold_points_and_approvals_are_left_blank(written):
    for words in HOLD_POINTS:
        assert f"<tr><td>{html.escape(words)}</td><td></td><td></td></tr>" in written["pack.html"]
        assert f"| {words} |  |  |" in written["pack.md"]
    for words in APPROVE:
        assert f"<tr><td>{html.escape(words)}</td><td></td><td></td><td></td></tr>" in written["pack.html"]
    assert "This is no approval." in written["pack.html"]
    assert "A. Reader, 2026-11-20 06:30 UTC" in written["pack.md"]


def test_nothing_calls_the_place_safe_or_the_entry_approved(written):
    text = (written["pack.html"] + written["pack.md"]).lower()
    for words in ("safe to", "is safe", "approved for entry", "proven safe", "will hold", "optimal", "go ahead"):
        assert words not in text


def test_without_a_reader_there_is_no_pack(answers):
    with pytest.raises(ValueError, match="who has read"):
        read_by(answers.plan, name="  ", at=READER["at"])
    with pytest.raises(ValueError, match="no stop"):
        write_pack(
            answers.site,
            answers.outlook,
            replace(answers.plan, stops=()),
            {},
            None,
            read_by=read_by(answers.plan, **READER),
        )


def test_tools_and_what_to_bring_agree(answers, current):
    stop = answers.plan.stops[0]
    rows = list(csv.DictReader(io.StringIO(tools_table(stop, current).csv())))
    assert len(rows) == len(stop.changes)
    for row, change in zip(rows, stop.changes, strict=True):
        assert row["places"] == ", ".join(map(str, change.positions))
        assert row["serial"] == (current[change.positions[0]].serial or "")
        assert float(row["wear_mm_p50"]) == pytest.approx(change.wear_mm.p50)
        assert row["why"] == change.sentence
    bring = list(csv.DictReader(io.StringIO(bring_table(stop, answers.site).csv())))
    taken = [change for change in stop.changes if change.from_position is None]
    assert sum(int(row["planned"]) for row in bring) == len(taken)
    for row in bring:
        assert int(row["spares"]) == max(1, math.ceil(0.1 * int(row["planned"])))
        assert int(row["bring"]) == int(row["planned"]) + int(row["spares"])
        assert row["on_hand"] == "1"


def test_a_tool_moved_from_another_place_is_not_brought(answers):
    stop = answers.plan.stops[0]
    first, *rest = stop.changes
    moved = replace(first, action="move", fitted="part-worn", from_position=99)
    counts = [
        sum(row[1] for row in bring_table(replace(stop, changes=(change, *rest)), answers.site).rows)
        for change in (first, moved)
    ]
    assert counts[1] == counts[0] - 1


def test_the_printed_table_has_boxes_instead_of_reasons(answers, current, written):
    stop = answers.plan.stops[0]
    keys = [column.key for column in tools_table(stop, current, print_out=True).columns]
    assert keys[-2:] == ["new_serial", "done"]
    assert "why" not in keys
    for change in stop.changes:
        assert html.escape(change.sentence) in written["pack.html"]


def test_schedule_adds_up_and_unseen_places_are_listed(answers, written):
    stop = answers.plan.stops[0]
    rows = schedule_table(stop).rows
    assert rows[-1][2] == pytest.approx(stop.hours)
    assert sum(row[1] for row in rows) == pytest.approx(stop.hours)
    unseen = replace(stop, not_seen_since=((4, None, None), (7, 1234.5, "a-1")))
    assert [row[1] for row in unseen_table(unseen).rows] == ["never", "1+234.5"]
    assert chainage_text(stop.chainage_m) in written["pack.html"]
    assert count_text(stop.cost) in written["pack.md"]


def test_pressure_without_a_source_says_so(answers):
    stop = replace(answers.plan.stops[0], mode="compressed air", pressure_bar=1.5, pressure_source=None)
    reader = read_by(answers.plan, **READER)
    assert "not approved, planning only" in pack_markdown(answers.site, answers.plan, stop, reader)
    free = replace(stop, mode="free air", pressure_bar=0.0)
    assert "source of the pressure" not in pack_markdown(answers.site, answers.plan, free, reader)


def test_hostile_names_stay_words_in_the_pack(answers):
    name = "<b onmouseover=x>*n*</b>"
    stop = replace(answers.plan.stops[0], window=name)
    site = replace(answers.site, name=name)
    reader = read_by(answers.plan, name="<i>x</i>", at=READER["at"])
    page = pack_html(site, answers.plan, stop, reader)
    assert "<b " not in page
    assert "<i>" not in page
    text = pack_markdown(site, answers.plan, stop, reader)
    assert "<b" not in text
    assert "*n*" not in text.replace("\\*n\\*", "")


def test_a_plan_that_breaks_the_rules_says_so_first(answers, current):
    stop = answers.plan.stops[0]
    clash = Clash(rule="cap", places=("48",), positions=(48,), from_m=0.0, to_m=1.0, from_chainage_m=0.0,
                  to_chainage_m=1.0, sentence="The tool at 48 would pass its limit.")  # fmt: skip
    broken = replace(answers.plan, status="impossible", why_impossible=clash)
    reader = read_by(broken, **READER)
    for text in (
        pack_markdown(answers.site, broken, stop, reader, current),
        pack_html(answers.site, broken, stop, reader, current),
    ):
        said = "This plan does not keep the rules of the site. The tool at 48 would pass its limit."
        assert 0 <= text.find(said) < text.find("The stop")
    assert "does not keep the rules" not in pack_markdown(answers.site, answers.plan, stop, reader, current)


def test_what_the_plan_says_of_itself_goes_with_the_pack(answers, current):
    stop = answers.plan.stops[0]
    stopped = replace(answers.plan, remarks=("The search was stopped: the plan is the best until then.",))
    reader = read_by(stopped, **READER)
    for made in (pack_markdown, pack_html):
        assert stopped.remarks[0] in made(answers.site, stopped, stop, reader, current)
