"""Parts of the plan's text on demand, and numbers that two headlines share."""

from __future__ import annotations

from dataclasses import replace

import pytest

from wearplan.cli.commands import plan as command
from wearplan.plan import PLANNING_ESTIMATE
from wearplan.report.answers import Answers
from wearplan.report.four import tools_in_places
from wearplan.report.plan_text import SECTIONS, caution_lines, headline, plan_text
from wearplan.report.tables.plan import stops_table


def test_the_command_offers_the_sections_there_are() -> None:
    assert command.SECTIONS == SECTIONS


@pytest.mark.parametrize("name", SECTIONS)
def test_every_section_says_what_the_plan_is_not(answers: Answers, name: str) -> None:
    assert answers.plan is not None
    text = " ".join(plan_text(answers.plan, answers.site, sections=(name,)).split())
    assert PLANNING_ESTIMATE.text in text


def test_all_sections_together_are_the_whole_text(answers: Answers) -> None:
    assert answers.plan is not None
    whole = plan_text(answers.plan, answers.site, reasons=True)
    assert plan_text(answers.plan, answers.site, sections=SECTIONS) == whole
    assert plan_text(answers.plan, answers.site, sections=("cautions",)) != whole
    alone = plan_text(answers.plan, answers.site, sections=("cautions",), width=4000)
    for _, told in caution_lines(answers.plan):
        assert all(caution in alone for caution in told)


def test_tools_and_places_are_told_apart_where_a_housing_takes_several(answers: Answers) -> None:
    plan = answers.plan
    assert plan is not None
    stop = plan.stops[0]
    assert tools_in_places(stop) == f"{len(stop.changes)} tool{'s' if len(stop.changes) != 1 else ''}"
    twin = replace(stop.changes[0], positions=(901, 902))
    both = replace(plan, stops=(replace(stop, changes=(twin, *stop.changes[1:])), *plan.stops[1:]))
    tools = len(stop.changes) + 1
    said = tools_in_places(both.stops[0])
    assert said.startswith(f"{tools} tools in ")
    assert said in " ".join(headline(both, answers.site))
    assert any("more tools than places" in note for note in stops_table(both, answers.site).notes)
