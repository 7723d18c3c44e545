"""A few layouts drawn at random, in four languages; the study of the same name draws hundreds."""

from __future__ import annotations

import pytest

from tests.studies.take_layouts import judge
from wearplan.take.files.book import Cell
from wearplan.take.find.values import day_of
from wearplan.take.find.words import meaning_of


@pytest.mark.parametrize("seed", [1000, 1001, 1002, 1003, 1004, 1005])
def test_an_office_is_taken_in_as_it_was_meant(seed):
    assert judge(seed) == 0


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("07 Mar 2025", "2025-03-07"), ("7. März 2025", "2025-03-07"), ("Mar 4, 2025", "2025-03-04"),
        ("4 de marzo de 2025", "2025-03-04"), ("1er août 2025", "2025-08-01"), ("7 Dezember 2024 06:15", "2024-12-07"),
    ],
)  # fmt: skip
def test_months_in_words(text, day):
    assert day_of(Cell(text)).date().isoformat() == day


def test_no_month_is_guessed():
    with pytest.raises(ValueError, match="no date"):
        day_of(Cell("3 xyz 2025"))


@pytest.mark.parametrize(
    ("head", "meaning"),
    [
        ("Bahnradius [mm]", "radius"), ("Kontrolldatum", "date"), ("Schneidradumdrehungen", "turns"),
        ("bis Stat. (m)", "end_chainage"), ("Resto (mm)", "remaining"), ("Height left (mm)", "remaining"),
        ("N.º útil", "place"), ("Werkzeugtyp", "type"),
    ],
)  # fmt: skip
def test_compounds_and_short_words(head, meaning):
    assert meaning_of(head) == meaning
