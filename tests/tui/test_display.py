"""Metric or US display, and the table of actions."""

from __future__ import annotations

import pytest

from tests.tui.small import small_site
from wearplan.report.tables.table import Band, Column, Table
from wearplan.tui.actions import ACTIONS, NAMES, TASKS, actions_of, bindings_of, key_words
from wearplan.tui.display import Display
from wearplan.tui.stockform import as_typed, edits_of, read_form

US = Display(us=True)


def test_the_same_length_in_both() -> None:
    assert Display().wear(25.4, unit=True) == "25.4 mm"
    assert US.wear(25.4, unit=True) == "1.00 in"
    assert US.wear_mm(1.0) == 25.4
    assert Display().chainage(2345.6) == "2+345.6"
    assert US.chainage(304.8) == "10+00.0"
    assert US.pressure(1.0) == "15 psi"
    assert US.length(100.0) == "328 ft"


def test_sentences_are_turned_and_metric_ones_left() -> None:
    text = "23 stands at 25.4 mm (limit 50.8 mm) at 0+304.8; 1.0 bar, 100 m on"
    assert Display().words(text) == text
    assert US.words(text) == "23 stands at 1.00 in (limit 2.00 in) at 10+00.0; 15 psi, 328 ft on"
    assert US.words("25.4 to 50.8 mm") == "1.00 to 2.00 in"
    assert US.words("mm per 1,000 m³ and 350 m³") == "mm per 1,000 m³ and 350 m³"


def test_tables_are_turned_by_their_units() -> None:
    table = Table(
        title="x",
        columns=(
            Column(key="wear_mm", head="wear mm", form="fixed1"),
            Column(key="mm_per_km", head="mm per km", form="sig"),
            Column(key="n", head="n", form="int"),
        ),
        rows=((25.4, Band(1.0, 2.0, None), 3), (None, Band(1.0, 1.0, 1.0), 4)),
    )
    turned = US.table(table)
    assert turned.rows[0][0] == pytest.approx(1.0)
    assert turned.rows[0][1].p50 == pytest.approx(2 * 1.609344 / 25.4)
    assert turned.rows[0][1].p95 is None
    assert turned.rows[0][2] == 3
    assert turned.rows[1][0] is None
    assert [column.head for column in turned.columns] == ["wear in", "in per mile", "n"]
    assert Display().table(table) is table


def test_no_key_of_a_screen_is_given_twice() -> None:
    everywhere = {key for action in actions_of("app") for key in action.key.split(",")}
    for task in [*TASKS, "life", "entry"]:
        keys = [key for action in actions_of(task) for key in action.key.split(",")]
        assert len(keys) == len(set(keys)), task
        clash = {key for key in keys if key in everywhere} - {"escape", "f1", "question_mark"}
        assert not clash, (task, clash)


def test_every_action_has_a_name_a_help_and_a_binding() -> None:
    assert len(NAMES) == len(ACTIONS)
    for action in ACTIONS:
        assert action.help.endswith((".", "!")), action.name
        assert len(action.label) <= 20, action.name
    for where in {action.where for action in ACTIONS}:
        assert {binding.id for binding in bindings_of(where)} == {action.name for action in actions_of(where)}
    assert key_words("ctrl+p") == "Ctrl+P"
    assert key_words("f1,question_mark") == "F1 or ?"


def test_keys_that_do_not_always_arrive_are_not_used() -> None:
    for action in ACTIONS:
        for key in action.key.split(","):
            assert key not in ("ctrl+i", "ctrl+m", "ctrl+h", "ctrl+j", "ctrl+b", "ctrl+o", "ctrl+enter", "shift+enter")


def test_stock_as_typed_and_back() -> None:
    stock = small_site().stores.stock[0]  # type: ignore[union-attr]
    typed = as_typed(stock)
    assert typed["on_order"] == "6 due 2026-07-01"
    found, wrong = read_form(typed)
    assert wrong == []
    assert found["on_hand"] == 4
    assert found["on_order"][0]["quantity"] == 6
    assert edits_of("disc-17", typed, typed, known=True) == []
    changed = {**typed, "on_hand": "9", "on_order": ""}
    edits = edits_of("disc-17", typed, changed, known=True)
    assert [edit.where[-1] for edit in edits] == ["on_hand", "on_order"]


@pytest.mark.parametrize(
    "typed",
    [
        {"on_hand": "many"},
        {"on_hand": "-1"},
        {"on_hand": "3", "on_order": "twenty"},
        {"on_hand": "3", "on_order": "20 due 2027-02-30"},
        {"on_hand": "3", "part_worn": "7.0"},
        {"on_hand": ""},
    ],
)
def test_what_is_no_stock_gets_a_sentence(typed: dict[str, str]) -> None:
    assert len(read_form(typed)[1]) == 1
