"""Cells of inspections as readings and changes: what matrices and lists of readings have in common."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from wearplan.take.asking import Answers, example_of
from wearplan.take.files.book import Cell, Sheet
from wearplan.take.find.tables import Table
from wearplan.take.find.values import comma_decimals
from wearplan.take.find.words import CONDITIONS, NOT_READ, plain_word
from wearplan.take.records.measure import Measure, to_wear
from wearplan.take.records.new_tools import new_diameter
from wearplan.take.records.reading_cell import Raw, raw_of
from wearplan.take.records.rings import RingLog
from wearplan.take.records.stops import At, Change, Reading, Stop, Stops, source_of
from wearplan.take.records.wheel import Place, Tool, WheelTaken


@dataclass(slots=True)
class Book:
    """What is shared while a sheet's readings are taken."""

    sheet: Sheet
    words: dict[str, tuple[str, str]]
    measure: Measure
    pair: str = "old and new tool"
    beside: str = "old tool"
    fills: dict[str, bool] = field(default_factory=dict)
    empty: str | None = None
    scale: float = 1.0
    """What one of the written unit is in mm."""


class Cells:
    """What is known while inspections are taken, and how a cell of theirs is understood."""

    def __init__(self, wheel: WheelTaken, log: RingLog, answers: Answers, sheets: Sequence[Sheet]) -> None:
        self.wheel, self.log, self.answers = wheel, log, answers
        comma = sum(comma_decimals(s.cells.values()) for s in sheets) * 2 > len(sheets)
        self.stops = Stops(log, answers, comma)
        self.by_number = {place.number: place for place in wheel.places}
        self.listed: dict[tuple[int, str], str] = {}
        """(ring, place) of every row of a change list, with the wear found as text."""
        self._lists: Sequence[Table] = ()
        self._matrix_measure: Measure | None = None
        """How the matrices measure: a change list that does not say otherwise measures the same."""
        self.refused_rows: list[tuple[int | None, str, Table, int]] = []
        self._said_method: str | None = None

    def _cell(self, book: Book, stop: Stop, place: Place, cell: Cell, at: At) -> None:
        raw = self._understood(raw_of(cell, book.words), at)
        if raw is None:
            return
        two_tools = bool(raw.pair) and book.pair == "old and new tool"
        changed = raw.changed or book.fills.get(cell.fill, False) or two_tools
        values = raw.values if two_tools else raw.values + raw.pair
        of_new_tool = changed and not raw.pair and book.beside == "new tool"
        if values and not of_new_tool:
            self._value(book, stop, place, raw, values, at)
        elif not values and (raw.not_read or raw.condition):
            why = raw.not_read or "seen, not measured"
            unread = Reading(place.number, not_read=why, condition=raw.condition, source=source_of(at))
            stop.readings.setdefault(place.number, unread)
        elif not changed and cell.value is not None:
            self.answers.note("refused", *at, "is no reading that is understood here; not taken")
        if changed:
            stop.changes.setdefault(place.number, Change(place.number, source=source_of(at), at=at))

    def _understood(self, raw: Raw, at: At) -> Raw | None:
        """What a cell says; None, with a word about it, where it cannot be taken or waits for an answer."""
        if raw.trouble:
            self.answers.note("refused", *at, f"{raw.trouble}; not taken, the place counts as not read")
            return None
        if any(f"word {plain_word(word)}" in self.answers.questions for word in raw.unknown):
            self.answers.note("asked", *at, "a word in it is not known; the reading waits for its meaning")
            return None
        return self._meant(raw, at) if raw.typed or raw.date else raw

    def _meant(self, raw: Raw, at: At) -> Raw | None:
        """The number meant by letters among digits, or by a date that the spreadsheet made of it."""
        more: dict[str, Any] = {}
        if raw.date is None:
            likely = f"{float(raw.typed):g}"
            what = f"letters among digits: is {likely} meant?"
        else:
            likely, more = "{}.{}".format(*raw.date), {"holds": ()}
            what = f"a date among readings: the spreadsheet may have made it of {likely}; which value is meant?"
        answer = self.answers.ask_cell(*at, what, (likely, "leave out"), likely, **more)
        return None if answer in (None, "leave out") else Raw(values=(float(answer),))

    def _value(self, book: Book, stop: Stop, place: Place, raw: Raw, values: tuple[float, ...], at: At) -> None:
        tool = self.wheel.tool(place)
        if book.scale != 1.0 and not raw.percent:
            values = tuple(round(value * book.scale, 4) for value in values)
        measure = self._measure(book, tool, values, at)
        if measure is None:
            return
        try:
            wear, sign = to_wear(measure, values, raw.sign, place, self.wheel, self.answers)
        except ValueError as error:
            self.answers.note("refused", *at, f"{error}; not taken")
            return
        most = self._most(place)
        if (max(wear) > most and sign != ">") or max(wear) > 2 * most:
            meant = self._too_much(place, tool, wear, at)
            if meant is None:
                return
            wear = meant
        if sign == "<" and wear[0] == 0:
            self.answers.note("refused", *at, "nothing can be below 0 mm of wear; not taken")
            return
        reading = Reading(place.number, wear, sign, condition=raw.condition, source=source_of(at))
        if _number_as_text(at):
            self.answers.note("taken", *at, f"a number written as text: taken as {max(wear):g} mm of wear")
        if place.number in stop.readings and stop.readings[place.number].wear not in ((), wear):
            self.answers.note(
                "refused",
                *at,
                f"ring {stop.ring}, place {place.name} was read already as "
                f"{stop.readings[place.number].wear[0]:g} mm; the first counts",
            )
            return
        stop.readings[place.number] = reading

    def _measure(self, book: Book, tool: Tool, values: tuple[float, ...], at: At) -> str | None:
        """What the values measure; asked where they cannot be the diameter the sheet gives."""
        measure = book.measure.disc if tool.disc else book.measure.other
        new_mm = new_diameter(tool, self.answers) if measure == "diameter" else None
        if not new_mm or max(values) >= 0.5 * new_mm:
            return measure
        likely = f"wear {values[0]:g}"
        what = f"{values[0]:g} cannot be the diameter of a disc of {new_mm:g} mm: is it the wear itself?"
        answer = self.answers.ask_cell(*at, what, (likely, "leave out"), likely, holds=())
        return None if answer in (None, "leave out") else "used"

    def _too_much(self, place: Place, tool: Tool, wear: tuple[float, ...], at: At) -> tuple[float, ...] | None:
        """More than the tool has to lose: a lost decimal point, or as written."""
        tenth = f"{round(max(wear) / 10, 3):g}"
        limit = self.wheel.limit(place) or 0
        answer = self.answers.ask_cell(
            *at,
            f"{max(wear):g} mm is beyond what a {tool.code} loses (limit {limit:g} mm): a lost decimal point?",
            (tenth, f"{max(wear):g} as written", "leave out"),
            tenth,
            holds=(),
        )
        if answer is None or answer == "leave out":
            return None
        return (float(answer),) if str(answer) == tenth or isinstance(answer, (int, float)) else wear

    def _most(self, place: Place) -> float:
        tool = self.wheel.tool(place)
        limit = max(self.wheel.limit(place) or 0.0, tool.wear_limit_mm or 0.0)
        if not limit:
            return 216.0 if tool.disc else 150.0
        return max(2.0 * limit, 1.3 * (tool.damage_limit_mm or 0.0))

    def _ask_of_pairs(self, book: Book, where: Sequence[tuple[int, int]], suggested: str) -> None:
        """What two values in one cell are, for all the cells of a sheet that have two."""
        answer = self.answers.ask(
            "two values",
            f"What are two values such as '{book.sheet.text(*where[0])}': of the old tool and the new one, two points "
            "of one tool, or two edges?",
            ("old and new tool", "two points", "two edges"),
            about="meaning",
            count=len(where),
            example=example_of(book.sheet, *where[0]),
            suggested=suggested,
            holds=("stops",),
        )
        book.pair = str(answer or "old and new tool")

    def _unknown_words(
        self, sheet: Sheet, raws: Sequence[tuple[Raw, tuple[int, int]]], meanings: dict[str, tuple[str, str]]
    ) -> None:
        unknown: dict[str, list[tuple[int, int]]] = {}
        for raw, where in raws:
            for word in raw.unknown:
                unknown.setdefault(plain_word(word), []).append(where)
        choices = [*(c for c, _ in CONDITIONS), *(n for n, _ in NOT_READ), "changed", "no meaning"]
        for word, places in unknown.items():
            if not word:
                continue
            answer = self.answers.ask(
                f"word {word}",
                f"What does '{word}' in a reading on {sheet.name} mean?",
                choices,
                about="meaning",
                count=len(places),
                example=example_of(sheet, *places[0]),
            )
            if answer is None:
                continue
            what = "condition" if answer in choices[: len(CONDITIONS)] else "changed" if answer == "changed" else "none"
            meanings[word] = ("not_read" if answer in [n for n, _ in NOT_READ] else what, str(answer))


def scale_of(words: str) -> float:
    """What one of the unit in a sheet's titles is in mm; 1 where none is told."""
    units = re.findall(r"[\[(]\s*(mm|cm|in|inch|inches)\s*[\])]|\bin (inches)\b", words, re.I)
    told = {(one or other).casefold() for one, other in units}
    if "mm" in told or not told:
        return 1.0
    return 10.0 if told == {"cm"} else 25.4


def _number_as_text(at: At) -> bool:
    """Whether a workbook holds a bare number as text."""
    cell = at[0].at(at[1], at[2])
    if cell is None or not isinstance(cell.value, str) or at[0].lines:
        return False
    return re.fullmatch(r"\s*\d+([.,]\d+)?\s*(mm)?\s*", cell.value) is not None
