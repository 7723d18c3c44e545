"""Stock and orders."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from wearplan.take.asking import Answers
from wearplan.take.find.tables import Table
from wearplan.take.find.values import comma_decimals, day_of, number_of


@dataclass(slots=True, kw_only=True)
class StockTaken:
    tool_type: str
    on_hand: int = 0
    in_rebuild: int = 0
    part_worn: list[tuple[str | None, float]] = field(default_factory=list)
    on_order: list[tuple[int, date]] = field(default_factory=list)
    source: str = ""


def stock_from(tables: Sequence[Table], answers: Answers) -> list[StockTaken]:
    """A line a tool type; several rows of one type are added."""
    found: dict[str, StockTaken] = {}
    for table in tables:
        if "stock" not in table.kinds:
            continue
        comma = comma_decimals(table.sheet.cells.values())
        for row, code in table.of_types():
            line = found.setdefault(
                code, StockTaken(tool_type=code, source=f"{table.sheet.name}!{table.sheet.address(row, table.left)}")
            )
            line.on_hand += _count(table, row, "on_hand", comma, answers)
            line.in_rebuild += _count(table, row, "in_rebuild", comma, answers)
            for serial, wear in re.findall(
                r"([A-Za-z]{0,4}[-–]?\d[\w-]*)\s*[:(]?\s*(\d+(?:[.,]\d+)?)\s*(?:mm)?", table.text(row, "part_worn")
            ):
                line.part_worn.append((serial, float(wear.replace(",", "."))))
            ordered = _count(table, row, "on_order", comma, answers)
            if table.column("on_order") is None and table.column("due") is not None:
                ordered = _count(table, row, "quantity", comma, answers)
            cell, column = table.cell(row, "due"), table.column("due")
            if ordered and cell is not None and column is not None:
                try:
                    line.on_order.append((ordered, day_of(cell).date()))
                except (ValueError, TypeError) as error:
                    answers.note("refused", table.sheet, row, column.at, f"{error}; the order is left out")
            elif ordered:
                answers.note("refused", table.sheet, row, table.left, f"{ordered} on order without a date; left out")
    return list(found.values())


def _count(table: Table, row: int, meaning: str, comma: bool, answers: Answers) -> int:
    column, cell = table.column(meaning), table.cell(row, meaning)
    if column is None or cell is None or (cell.value is None and not cell.trouble) or cell.text in ("-", "–"):
        return 0
    try:
        return round(number_of(cell, comma))
    except ValueError as error:
        answers.note("refused", table.sheet, row, column.at, str(error))
        return 0
