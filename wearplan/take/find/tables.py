"""Tables with heads above them: where they stand, what each column is, and what the whole is taken to be."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from wearplan.take.files.book import Cell, Sheet
from wearplan.take.find.words import (
    STOP_HEADS,
    TELLS_THE_STOP,
    TOTALS,
    WEARS,
    factor,
    holds,
    is_word,
    meaning_of,
    plain_word,
    unit_written,
)

KINDS = (
    "layout",
    "layout changes",
    "tool types",
    "stock",
    "changes",
    "readings",
    "ring log",
    "ground",
    "units",
    "tests",
)
_TESTS = {"cai", "lac", "ucs", "eqc", "d60", "shear"}
_SERIALS = {"old_serial", "new_serial", "action"}
_MACHINE = {"finished", "turns", "total_turns", "thrust", "torque", "face_pressure", "rpm", "advance", "date"}
_CURRENCY = re.compile(r"[\[(]\s*(eur|usd|chf|gbp|€|\$|£)\s*[\])]", re.I)


_FACE = {"share", "face_kind", "units", "unit", "mix", "boundary", "unit_name"}
_OF_A_TYPE = {"wear_limit", "price", "lead_time", "diameter_new", "new_height", "damage_limit", "kind"}
_NONE_BELOW = 10**9


@dataclass(slots=True)
class Column:
    """One column of a table: its head, what it is taken to mean, and the factor to our unit."""

    at: int
    head: str
    meaning: str
    unit: str = ""
    factor: float = 1.0
    why: str = ""


@dataclass(slots=True)
class Table:
    """A table found on a sheet; ``rows`` are the sheet's rows below its heads that hold anything."""

    sheet: Sheet
    head_row: int
    left: int
    right: int
    columns: list[Column]
    rows: list[int] = field(default_factory=list)
    kinds: set[str] = field(default_factory=set)
    above: list[str] = field(default_factory=list)
    """Text lines between the table before and this one's heads."""
    used: int = 0

    def column(self, meaning: str) -> Column | None:
        return next((column for column in self.columns if column.meaning == meaning), None)

    def all(self, meaning: str) -> list[Column]:
        return [column for column in self.columns if column.meaning == meaning]

    def cell(self, row: int, meaning: str) -> Cell | None:
        column = self.column(meaning)
        return self.sheet.at(row, column.at) if column is not None else None

    def text(self, row: int, meaning: str) -> str:
        cell = self.cell(row, meaning)
        return cell.text if cell is not None else ""

    def address(self, row: int, meaning: str) -> str:
        column = self.column(meaning)
        return self.sheet.address(row, column.at if column is not None else self.left)

    def of_types(self) -> Iterator[tuple[int, str]]:
        """Every row that names a tool type, and the type."""
        named = next((m for m in ("type", "code", "name", "unit_name") if self.column(m) is not None), "type")
        for row in self.rows:
            code = " ".join(self.text(row, named).split())
            if code and not is_word(code, TOTALS):
                yield row, code

    @property
    def range(self) -> str:
        last = self.rows[-1] if self.rows else self.head_row
        return f"{self.sheet.address(self.head_row, self.left)}:{self.sheet.address(last, self.right)}"

    @property
    def what(self) -> str:
        return " and ".join(kind for kind in KINDS if kind in self.kinds) or "not known"


def kinds_of(meanings: set[str], rows: int = 0) -> set[str]:
    """What a table with these columns is."""
    chainages = {"start_chainage", "end_chainage", "advance"} & meanings
    if "ring" in meanings and chainages and len(_MACHINE & meanings) >= 2 and "place" not in meanings:
        return {"ring log"}
    return _kinds_of_places(meanings) if "place" in meanings else _kinds_of_lists(meanings)


def _kinds_of_places(meanings: set[str]) -> set[str]:
    """A table with places: the layout, its changes, or what happened at them."""
    if meanings & {"radius", "track", "track_diameter"}:
        return {"layout"}
    along = meanings & {"start_chainage", "end_chainage", "ring"}
    if "new_type" in meanings and along and not meanings & (_SERIALS | {*WEARS}):
        return {"layout changes"}
    changes = {"changes"} if meanings & _SERIALS and meanings & TELLS_THE_STOP else set()
    return changes | ({"readings"} if meanings & {*WEARS} else set())


def _kinds_of_lists(meanings: set[str]) -> set[str]:
    """A table without places: of ground, of tests, of tool types, of stock."""
    kinds = set()
    if (meanings & _TESTS and meanings & {"unit", "unit_name", "code"}) or {"test", "value"} <= meanings:
        kinds.add("tests")
    if {"start_chainage", "end_chainage"} <= meanings and meanings & _FACE:
        kinds.add("ground")
    named = meanings & {"type", "code", "name", "unit_name"}
    if named and len(meanings & _OF_A_TYPE) >= 2:
        kinds.add("tool types")
    counted = meanings & {"on_hand", "in_rebuild", "on_order"} or {"quantity", "due"} <= meanings
    if named and counted and not kinds & {"ground", "tests"}:
        kinds.add("stock")
    if not kinds and meanings & {"code", "unit"} and meanings & {"unit_name", "name"}:
        kinds.add("units")
    return kinds


def find_tables(sheet: Sheet) -> list[Table]:
    """Every table with known heads on a sheet, also several below and beside each other."""
    by_row = dict(sheet.rows())
    tables = [table for row, cells in by_row.items() for table in _segments(row, cells, by_row, sheet)]
    for table in tables:
        lower = _next_below(table, tables)
        table.rows = [
            row
            for row in by_row
            if table.head_row < row < lower and any(table.left <= at <= table.right for at in by_row[row])
        ]
        _units_row(table)
        table.above = _texts_above(table, tables, by_row)
        if lower < _NONE_BELOW and table.rows:
            _drop_title(table)
    return [table for table in tables if table.rows]


def _next_below(table: Table, tables: list[Table]) -> int:
    """The row of the next head below that shares a column with this table."""
    heads = [
        other.head_row
        for other in tables
        if other.head_row > table.head_row and other.left <= table.right and other.right >= table.left
    ]
    return min(heads, default=_NONE_BELOW)


def _texts_above(table: Table, tables: list[Table], by_row: dict[int, dict[int, Cell]]) -> list[str]:
    """What stands between the table before and this one, and in the first lines of the sheet."""
    ends = [other.rows[-1] if other.rows else other.head_row for other in tables if other.head_row < table.head_row]
    before = max(ends, default=0)
    rows = [row for row in by_row if (before < row or row <= 3) and row < table.head_row]
    return [cell.text for row in rows for cell in by_row[row].values() if isinstance(cell.value, str)]


def _segments(row: int, cells: dict[int, Cell], by_row: dict[int, dict[int, Cell]], sheet: Sheet) -> Iterator[Table]:
    """Stretches of heads in one row that make a table; an unnamed column in between joins what has no kind alone."""
    texts = {at: cell.text for at, cell in cells.items() if isinstance(cell.value, str) and cell.text}
    if not _may_be_heads(texts, filled=sum(cell.value is not None for cell in cells.values())):
        return
    group: list[int] = []
    found: list[tuple[list[int], set[str]]] = []
    for run in _runs(texts):
        alone = _kinds(run, texts)
        if alone and (not found or found[-1][1]):
            found.append((run, alone))
            continue
        group = [*(found.pop()[0] if found else []), *run]
        found.append((group, _kinds(group, texts)))
    for run, kinds in found:
        if not kinds:
            continue
        columns = _columns(run, texts)
        yield Table(sheet, row, run[0], run[-1], columns, kinds=kinds)


def _may_be_heads(texts: dict[int, str], *, filled: int) -> bool:
    """Whether a row is words for the most part, two of them known heads, none a sentence."""
    if len(texts) < 2 or len(texts) < 0.6 * filled or any(len(text) > 90 for text in texts.values()):
        return False
    return sum(1 for text in texts.values() if meaning_of(text)) >= 2


def _runs(texts: dict[int, str]) -> list[list[int]]:
    """Columns beside each other."""
    runs: list[list[int]] = []
    for at in sorted(texts):
        if runs and at == runs[-1][-1] + 1:
            runs[-1].append(at)
        else:
            runs.append([at])
    return runs


def _meaning(head: str) -> str:
    meaning = meaning_of(head)
    if meaning == "in_rebuild" and _CURRENCY.search(head):
        return "rebuild_price"
    if not meaning and "%" in head and len(head) < 20:
        return "share"
    return meaning


def _columns(run: list[int], texts: dict[int, str]) -> list[Column]:
    """Columns of a run of heads; where tracks are given and no head names the places, the first one is taken to."""
    columns = [_column(at, texts[at]) for at in run]
    meanings = {column.meaning for column in columns}
    if meanings & {"radius", "track", "track_diameter"} and "place" not in meanings:
        for column in columns[:2]:
            if column.meaning in ("", "sequence", "code", "name", "quantity"):
                column.meaning = "place"
                break
    return columns


def _kinds(run: list[int], texts: dict[int, str]) -> set[str]:
    return kinds_of({column.meaning for column in _columns(run, texts)})


def _column(at: int, head: str) -> Column:
    meaning = _meaning(head)
    known = factor(meaning, head)
    return Column(
        at,
        head,
        meaning,
        unit_written(head),
        1.0 if known is None else known,
        "" if known is not None else f"unit {unit_written(head)!r} is not known",
    )


def _units_row(table: Table) -> None:
    """A row of units right below the heads is joined to them."""
    if not table.rows:
        return
    row = table.rows[0]
    cells = {column.at: table.sheet.text(row, column.at) for column in table.columns}
    said = [text for text in cells.values() if text]
    if (
        said
        and len(said) >= 2
        and all(re.fullmatch(r"[\[(]?[A-Za-z°%/.·€$²0-9]{1,8}[\])]?", t) and not t.isdigit() for t in said)
        and any(
            plain_word(t.strip("[]()")) in ("mm", "m", "kn", "bar", "mn", "knm", "mnm", "deg", "ft", "in") for t in said
        )
    ):
        for column in table.columns:
            if cells[column.at]:
                unit = cells[column.at].strip("[]()")
                column.unit = unit
                known = factor(column.meaning, f"{column.head} [{unit}]")
                column.factor = 1.0 if known is None else known
        table.rows = table.rows[1:]


def _drop_title(table: Table) -> None:
    """A lone text at the foot is the next table's title, no row of this one."""
    while table.rows:
        held = [at for at in range(table.left, table.right + 1) if table.sheet.at(table.rows[-1], at) is not None]
        label = table.sheet.text(table.rows[-1], held[0]).partition(":")[0] if held else ""
        lone = len(held) == 1 and len(table.columns) > 2 and held[0] == table.left
        if lone or (
            len(held) <= 2 and "place" in {c.meaning for c in table.columns} and meaning_of(label) in STOP_HEADS
        ):
            table.rows = table.rows[:-1]
        else:
            return


def heading_words(sheet: Sheet) -> str:
    """All longer text of a sheet, for words said once above or below its tables."""
    texts = [cell.text for cell in sheet.cells.values() if isinstance(cell.value, str) and len(cell.text) > 12]
    return "\n".join(dict.fromkeys(texts))


__all__ = ["Column", "Table", "find_tables", "heading_words", "holds", "kinds_of"]
