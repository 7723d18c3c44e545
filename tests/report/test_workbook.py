"""Tables as a workbook: what can be reckoned with stays so, and nothing in it runs."""

from __future__ import annotations

import io
from datetime import UTC, date, datetime

import pytest

from wearplan.report.tables.table import Band, Column, Table, Worded
from wearplan.report.workbook import workbook

openpyxl = pytest.importorskip("openpyxl")

TABLE = Table(
    title="Stops: ahead / now",
    columns=(
        Column(key="at", head="at"),
        Column(key="cost", head="cost", form="int"),
        Column(key="wear_mm", head="wear mm", form="fixed1"),
        Column(key="by", head="order by"),
        Column(key="note", head="note"),
    ),
    rows=(
        ("1+234.5", 12_000.4, Band(1.0, 2.0, None), Worded(date(2026, 3, 4), "now (2026-03-04)"), "=1+1"),
        ("-0+002.0", None, 3.0, datetime(2026, 3, 4, 5, 6, tzinfo=UTC), "plain"),
    ),
    notes=("what it rests on",),
)


@pytest.fixture(scope="module")
def book():
    content = workbook([TABLE, TABLE], None, what="Tools and stops", notice="Planning aid only.", lines=["one line"])
    return openpyxl.load_workbook(io.BytesIO(content))


def test_the_first_sheet_says_what_it_is_and_carries_the_caution(book):
    said = [cell.value for (cell,) in book["About"].iter_rows()]
    assert said[:2] == ["Tools and stops", "Planning aid only."]
    assert any(str(line).startswith("wearplan ") for line in said)
    assert "one line" in said
    assert len(book.sheetnames) == len(set(book.sheetnames)) == 3


def test_numbers_dates_and_chainages_can_be_reckoned_with(book):
    sheet = book.worksheets[1]
    heads = [cell.value for cell in sheet[3]]
    rows = [[cell.value for cell in sheet[line]] for line in (4, 5)]
    assert rows[0][heads.index("at")] == "1+234.5"
    assert rows[0][heads.index("at, m")] == 1234.5
    assert rows[1][heads.index("at, m")] == -2.0
    assert rows[0][heads.index("cost")] == 12_000.4
    assert rows[0][heads.index("wear mm, middle")] == 2.0
    assert rows[1][heads.index("wear mm, middle")] == 3.0
    assert rows[0][heads.index("order by")] == datetime(2026, 3, 4)


def test_text_that_looks_like_a_formula_is_text(book):
    cells = [cell for cell in book.worksheets[1][4] if cell.value == "=1+1"]
    assert [cell.data_type for cell in cells] == ["s"]
