"""The meeting sheet: what it must carry, whatever the browser."""

from __future__ import annotations

import html
import re
from dataclasses import replace

import pytest

from wearplan import history
from wearplan.history import Calendar
from wearplan.report.answers import Answers
from wearplan.report.approval import NOT_APPROVED
from wearplan.report.cautions import lettered_cautions
from wearplan.report.four import Before, changed, on_wheel, order_now, tools_in_places
from wearplan.report.paper.meeting import meeting_html
from wearplan.report.plan_text import stop_cautions
from wearplan.report.reaches import reach_words, stop_reaches


@pytest.fixture(scope="module")
def sheet(answers: Answers) -> str:
    return made(answers)


def made(answers: Answers, before: Before | None = None) -> str:
    site = answers.site
    rings = history.clean_rings(site)
    lives = history.lives(site, history.measure_exposure(site, rings))
    return meeting_html(answers, current=history.current_lives(lives), calendar=Calendar(site, rings), before=before)


def words(sheet: str) -> str:
    told = re.sub(r"<(style|title|desc)>.*?</\1>", " ", sheet, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", told)).replace("\xa0", " ").split())


def test_it_carries_the_four_answers_in_the_words_of_the_first_screen(answers: Answers, sheet: str) -> None:
    told = words(sheet)
    assert answers.plan is not None
    assert answers.demand is not None
    site = answers.site
    calendar = Calendar(site)
    current = history.current_lives(history.lives(site))
    for answer in (on_wheel(site, answers.outlook, current), order_now(answers.demand)):
        assert answer.lead in told
        for line in answer.lines:
            assert line in told
    assert reach_words(stop_reaches(answers.plan, calendar)[0]) in told
    assert tools_in_places(answers.plan.stops[0]) in told
    assert "Changed first look: nothing to compare with" in told


def test_every_caution_stands_in_full_once_and_its_letter_at_the_stop(answers: Answers, sheet: str) -> None:
    plan = answers.plan
    assert plan is not None
    told, lettered = words(sheet), lettered_cautions(plan)
    for group in lettered.groups:
        for line in group.lines:
            assert told.count(line.replace("\xa0", " ")) == 1 or line.startswith("Planning estimate"), line
    for stop, letters, own in zip(plan.stops, lettered.letters, lettered.own, strict=True):
        lines = [line for group in lettered.groups if group.letter in letters.split() for line in group.lines]
        for caution in stop_cautions(stop):
            assert caution in lines or caution in own or _figures_aside(caution, lines, stop.window), caution


def _figures_aside(caution: str, lines: list[str], window: str) -> bool:
    """Whether the caution is one of those told once for several stops, its own figures among theirs."""
    cut = rf"{re.escape(window)}|\d+(?:\.\d+)?"
    pattern = r".+?".join(re.escape(part) for part in re.split(cut, caution))
    return any(re.match(pattern, line) and all(each in line for each in re.findall(cut, caution)) for line in lines)


def test_no_pressure_stands_without_its_standing(answers: Answers) -> None:
    plan = answers.plan
    assert plan is not None
    bare = replace(
        plan,
        stops=tuple(
            replace(stop, pressure_source=None, mode="compressed air", pressure_bar=1.4) for stop in plan.stops
        ),
    )
    told = words(made(replace(answers, plan=bare)))
    for found in re.finditer(r"compressed air, 1\.4 bar", told):
        assert told[found.end() :].lstrip().startswith(f"({NOT_APPROVED})"), told[found.start() : found.end() + 60]
    assert told.count("compressed air, 1.4 bar") >= len(bare.stops) + 2, "in the box, at each stop, over the changes"


def test_tables_and_pictures_are_named_and_nothing_is_fetched(sheet: str) -> None:
    assert len(sheet.encode()) < 100_000
    assert sheet.count("<table") == sheet.count("<caption") >= 4
    assert sheet.count("<svg") == len(re.findall(r"<svg[^>]*><title>[^<]+</title><desc>[^<]+</desc>", sheet)) >= 8
    assert not re.findall(r"(?:https?:)?//(?!www\.w3\.org/2000/svg)[\w.]+", sheet)
    assert "<script" not in sheet
    assert "<th scope=col" in sheet
    ids = re.findall(r'id="([^"]+)"', sheet)
    assert len(ids) == len(set(ids)), "hatches of the pictures do not clash"


def test_units_differ_by_hatch_and_carry_their_code(answers: Answers, sheet: str) -> None:
    ground = answers.site.ground()
    assert ground is not None
    assert len(set(re.findall(r'<pattern id="h\d"[^>]*>(.*?)</pattern>', sheet))) == len(ground.units)
    for unit in ground.units:
        assert f">{unit.code}" in sheet


def test_codes_stand_on_a_plain_ground_of_their_own(sheet: str) -> None:
    """Ink on white whatever lies beneath: a plate just before the letters, and no line drawn over them."""
    plate = r'<rect[^>]*fill="#fff" stroke="none"></rect>'
    strips = re.findall(r'<svg[^>]*aria-label="Ground and stops.*?</svg>', sheet)
    assert strips
    for strip in strips:
        codes = re.findall(rf'{plate}<text font-weight="bold"', strip)
        assert len(codes) == strip.count('<text font-weight="bold"') > 0
        after = strip[strip.index(re.search(rf'{plate}<text font-weight="bold"', strip)[0]) :]  # type: ignore[index]
        assert "stroke-dasharray" not in after


def test_what_changed_since_the_last_kept_forecast(answers: Answers) -> None:
    plan = answers.plan
    assert plan is not None
    before = Before(
        when="2026-11-17", what="the forecast kept on", face_m=answers.outlook.face_m - 42.0,
        stop_m=plan.stops[0].driven_m - 1.5, places=(), cost=(plan.expected_cost or 0.0) + 1000.0,
    )  # fmt: skip
    told = words(made(answers, before))
    assert "Changed since the forecast kept on 2026-11-17" in told
    assert "42 m driven" in told
    assert "stop 1: " in told
    assert "1 000 less" in told


def test_what_the_store_does_otherwise_is_told_with_its_cause(answers: Answers) -> None:
    assert answers.plan is not None
    assert answers.demand is not None
    moved = ("Since 2026-11-01, disc-a: order 12 to 20. Because: the pace is 9 m a day (order 12 to 20).",)
    demand = replace(answers.demand, moved=moved)
    face = answers.outlook.face_m
    first = changed(answers.site, answers.plan, face, None, demand)
    assert first.lines == moved
    same = Before(when="yesterday", what="your last look", face_m=face, same=True)
    again = changed(answers.site, answers.plan, face, same, demand)
    assert (again.lead, again.lines) == ("nothing but the day", moved)
    assert changed(answers.site, answers.plan, face, same).lead == "nothing"
    assert moved[0] in words(made(replace(answers, demand=demand)))


def test_what_faults_forbid_is_said_in_its_box(answers: Answers) -> None:
    told = words(made(replace(answers, plan=None, demand=None)))
    assert "Next stop not given" in told
    assert "Order now not given" in told


def test_a_long_plan_names_what_the_annex_holds(answers: Answers) -> None:
    plan = answers.plan
    assert plan is not None
    long = replace(plan, stops=tuple(replace(plan.stops[0]) for _ in range(13)))
    told = words(made(replace(answers, plan=long)))
    assert "5 more stops in the annex" in told
