"""From files to what would be written: everything once, in the order of the data."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wearplan.site.records import Site
from wearplan.take.asking import Answers, Finding, Question
from wearplan.take.files.book import Book, NotRead, Sheet
from wearplan.take.files.opening import open_book
from wearplan.take.find.matrix import find_matrices
from wearplan.take.find.tables import Table, find_tables, heading_words
from wearplan.take.records.assemble import Assembly
from wearplan.take.records.ground import GroundTaken, ground_from
from wearplan.take.records.layout import wheel_from
from wearplan.take.records.rings import RingLog, other_drive, rings_from
from wearplan.take.records.serials import check_serials
from wearplan.take.records.stops import Stop
from wearplan.take.records.store import StockTaken, stock_from
from wearplan.take.records.wheel import WheelTaken


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """One table as it is shown: where it stands, what it is taken for, how each column is understood."""

    file: str
    sheet: str
    range: str
    what: str
    rows: int
    columns: tuple[Mapping[str, Any], ...] = ()
    left_out: str = ""


@dataclass(slots=True, kw_only=True)
class Taken:
    """All that came of the files."""

    books: tuple[Book, ...]
    tables: list[Found]
    answers: Answers
    wheel: WheelTaken
    log: RingLog
    stops: list[Stop] = field(default_factory=list)
    ground: GroundTaken = field(default_factory=GroundTaken)
    stock: list[StockTaken] = field(default_factory=list)
    site_facts: dict[str, Any] = field(default_factory=dict)
    other_drive: bool = False
    """The files are of another drive: nothing of them is for this folder."""

    @property
    def questions(self) -> list[Question]:
        return list(self.answers.questions.values())

    @property
    def findings(self) -> list[Finding]:
        return self.answers.findings

    def held(self, what: str) -> bool:
        """Whether an open question holds these records back."""
        return any(what in question.holds for question in self.questions)

    def sha_of(self, source: str) -> tuple[str, str]:
        """(File, hash) of a record by its sheet and cell."""
        sheet = source.rsplit("!", 1)[0]
        for book in self.books:
            if any(s.name == sheet for s in book.sheets) or (book.ags and book.file == sheet):
                return book.file, book.sha256
        return "", ""


def take(
    paths: Sequence[Path],
    site: Site | None,
    given: Mapping[str, Any] | None = None,
    *,
    accept: bool = False,
    tell: Callable[..., None] | None = None,
    facts: Mapping[str, Any] | None = None,
) -> Taken:
    """Read files and understand them, as far as they and the answers go. Nothing is written.

    Parameters
    ----------
    site : Site, optional
        The folder that stands, whose wheel and rings count where the files hold none.
    given : mapping, optional
        Answers by the name of their question.
    accept : bool
        Take what is suggested for an answer; the suggestions taken are kept with the answers.
    """
    answers = Answers(given, accept=accept)
    books, sheets = _open(paths, answers, tell)
    if tell is not None:
        tell("looking for tables")
    tables = [table for sheet in sheets for table in find_tables(sheet)]
    tables = [table for table in tables if answers.given.get(f"table {table.sheet.name}") != "leave out"]
    wheel = wheel_from(tables, answers, site)
    log = rings_from(tables, answers, site)
    found = Taken(books=tuple(books), tables=[], answers=answers, wheel=wheel, log=log, site_facts=dict(facts or {}))
    found.other_drive = site is not None and other_drive(log, site, answers)
    if wheel.places and not found.other_drive:
        _stops(found, sheets, tables)
    ags = [(book.file, book.ags) for book in books if book.ags]
    found.ground = ground_from(tables, ags, answers)
    found.stock = stock_from(tables, answers)
    _listed(found, sheets, tables)
    return found


def _open(paths: Sequence[Path], answers: Answers, tell: Callable[..., None] | None) -> tuple[list[Book], list[Sheet]]:
    books: list[Book] = []
    sheets: list[Sheet] = []
    for path in paths:
        if tell is not None:
            tell(f"reading {path.name}")
        try:
            book = open_book(path, tell)
        except NotRead as error:
            answers.findings.append(
                Finding(duty="refused", file=path.name, sheet="", cell="", shown="", what=str(error))
            )
            continue
        books.append(book)
        for remark in book.remarks:
            answers.findings.append(Finding(duty="left out", file=book.file, sheet="", cell="", shown="", what=remark))
        for sheet in book.sheets:
            if sheet.hidden and answers.given.get(f"sheet {sheet.name}") != "read":
                what = f'the sheet is hidden: not read (answer "sheet {sheet.name}" = "read" to take it)'
                answers.note("left out", sheet, 1, 1, what)
            elif not sheet.cells:
                answers.note("left out", sheet, 1, 1, "pictures only" if sheet.pictures else "empty")
            elif sheet.right > 2000:
                answers.note("left out", sheet, 1, 1, f"has {sheet.right} columns: no sheet of this trade has")
            else:
                sheets.append(sheet)
    return books, sheets


def _stops(found: Taken, sheets: Sequence[Sheet], tables: Sequence[Table]) -> None:
    wheel, log, answers = found.wheel, found.log, found.answers
    assembly = Assembly(wheel, log, answers, sheets)
    lists = [table for table in tables if table.kinds & {"changes", "readings"}]
    assembly.prepare(lists)
    for sheet in sheets:
        assembly.say_method(heading_words(sheet))

    def known(text: str) -> str | None:
        place = wheel.find(text)
        return place.name if place is not None else None

    taken_rows = {
        (t.sheet.name, row)
        for t in tables
        if t.kinds & {"layout", "changes", "readings", "ring log", "tool types", "stock"}
        for row in t.rows
    }
    for sheet in sheets:
        for matrix in find_matrices(sheet, known, (1, log.last) if log.rows else (0, 0)):
            where = {row for line in matrix.lines for row, _ in line.cells.values()}
            if sum((sheet.name, row) in taken_rows for row in where) > 0.3 * len(where):
                continue
            assembly.matrix(matrix)
            places = len({name for line in matrix.lines for name in line.cells})
            found.tables.append(
                Found(
                    file=sheet.file,
                    sheet=sheet.name,
                    range=matrix.range,
                    rows=len(matrix.lines),
                    what=f"readings, places {'across' if matrix.across else 'down'}: {len(matrix.lines)} "
                    f"stops, {places} places",
                    columns=tuple(_line(sheet, line.heads) for line in matrix.lines),
                )
            )
    for table in lists:
        assembly.list_rows(table)
    found.stops = assembly.finish()
    check_serials(found.stops, wheel, answers)


def _line(sheet: Sheet, heads: Mapping[str, tuple[int, int]]) -> dict[str, Any]:
    return {role: sheet.text(*where) for role, where in heads.items()}


def _listed(found: Taken, sheets: Sequence[Sheet], tables: Sequence[Table]) -> None:
    """Every table with its columns, and sheets where none was found."""
    for table in tables:
        columns = []
        for column in table.columns:
            cells = [table.sheet.text(row, column.at) for row in table.rows[:40]]
            columns.append(
                {
                    "head": column.head,
                    "meaning": column.meaning or "not known: left out",
                    "unit": column.unit,
                    "cells": [text for text in cells if text][:3],
                }
                | ({"why": column.why} if column.why else {})
            )
        found.tables.append(
            Found(
                file=table.sheet.file,
                sheet=table.sheet.name,
                range=table.range,
                what=table.what,
                rows=len(table.rows),
                columns=tuple(columns),
            )
        )
    told = {(t.file, t.sheet) for t in found.tables}
    for sheet in sheets:
        if (sheet.file, sheet.name) not in told:
            found.tables.append(
                Found(
                    file=sheet.file,
                    sheet=sheet.name,
                    range="",
                    what="no table known here",
                    rows=0,
                    left_out="no heads of a layout, readings, changes, rings, ground, tests or stock",
                )
            )
