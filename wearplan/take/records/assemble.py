"""Inspections out of matrices and lists: every cell that means something becomes a record, or a word about it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from wearplan.take.asking import Answers, example_of
from wearplan.take.files.book import Cell, Sheet
from wearplan.take.find.matrix import Line, Matrix
from wearplan.take.find.tables import Table, heading_words
from wearplan.take.find.values import comma_decimals, looks_like_day
from wearplan.take.find.words import (
    ACTIONS,
    CONDITIONS,
    NOT_READ,
    OLD_TO,
    REASONS,
    TOTALS,
    YES,
    is_word,
    meaning_of,
    plain_word,
    word_for,
)
from wearplan.take.records.legend import colour_name, colour_said, legend, methods_said
from wearplan.take.records.measure import Measure, by_head, measure_of, to_wear
from wearplan.take.records.reading_cell import Raw, raw_of
from wearplan.take.records.rings import RingLog
from wearplan.take.records.stops import At, Change, Reading, Stop, Stops, source_of
from wearplan.take.records.wheel import Place, Tool, WheelTaken, new_diameter

_HEADS = {
    "ring": "ring",
    "date": "date",
    "finished": "date",
    "end_chainage": "chainage",
    "start_chainage": "chainage",
    "stop": "number",
    "mode": "mode",
    "pressure_air": "pressure",
    "face_pressure": "pressure",
}
_METHODS = ("gauge", "caliper", "by eye")
_NO_CHANGE = ("no", "nein", "non", "-", "none", "0")
_WEARS = ("wear", "remaining", "measured_diameter", "limit_share")


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


class Assembly:
    """Takes matrices, then lists, then looks at the whole."""

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

    def prepare(self, tables: Sequence[Table]) -> None:
        """What lists say of rings and places helps to understand matrices."""
        self._lists = tables
        for table in tables:
            for row in table.rows:
                found = re.findall(r"\d+", table.text(row, "ring"))
                if len(found) == 1:
                    self.stops.listed.add(int(found[0]))
                    place = self.wheel.find(table.text(row, "place"))
                    if place is not None and "changes" in table.kinds:
                        wear = next((table.text(row, m) for m in _WEARS if table.column(m)), "")
                        self.listed[int(found[0]), place.name] = wear

    # matrices

    def matrix(self, matrix: Matrix) -> None:
        """Every line of a matrix as a stop with its readings."""
        sheet = matrix.sheet
        self._chainage_kind(matrix)
        rings = [self._ring_of(line, sheet) for line in matrix.lines]
        dates = [
            ((sheet, *line.heads["date"]), ring)
            for line, ring in zip(matrix.lines, rings, strict=True)
            if "date" in line.heads
        ]
        self.stops.order_days(dates, sheet.name)
        book = self._book(sheet, matrix, rings)
        logged = [ring if ring is not None and ring <= self.log.last else None for ring in rings]
        for at, line in enumerate(matrix.lines):
            before = next((ring for ring in reversed(logged[:at]) if ring is not None), None)
            after = next((ring for ring in logged[at + 1 :] if ring is not None), None)
            heads: dict[str, At] = {role: (sheet, *where) for role, where in line.heads.items()}
            self._line(book, self.stops.made(heads, before, after), line)
        self._strangers(matrix)
        for row, column, head in matrix.left_out:
            self.answers.note("left out", sheet, row, column, f"column or row '{head}' is no stop", shown=head)
        self._totals(sheet, matrix)

    def _line(self, book: Book, stop: Stop, line: Line) -> None:
        """The readings of one stop; what an empty cell means, for the places without one."""
        for name, where in line.cells.items():
            place, cell = self.wheel.find(name), book.sheet.at(*where)
            if place is not None and cell is not None:
                self._cell(book, stop, place, cell, (book.sheet, *where))
        silent = [place.number for place in self.wheel.places if book.empty and place.name not in line.cells]
        for number in silent:
            stop.readings.setdefault(number, Reading(number, not_read=book.empty, source=stop.source))

    def _strangers(self, matrix: Matrix) -> None:
        """Name what stands at places the layout does not have."""
        for name, where in matrix.stranger_cells.items():
            told = f"place {name} is not in the layout (near: {self.wheel.nearest(name)})"
            cells = [line.strangers[name] for line in matrix.lines if name in line.strangers]
            for at_cell in cells:
                self.answers.note("refused", matrix.sheet, *at_cell, f"{told}; not taken")
            if not cells:
                self.answers.note("refused", matrix.sheet, *where, f"{told}; its row is not taken")

    def _totals(self, sheet: Sheet, matrix: Matrix) -> None:
        inside = {where for line in matrix.lines for where in (*line.cells.values(), *line.strangers.values())}
        rest: dict[int, int] = {}
        for (row, column), cell in sheet.cells.items():
            if (
                (row, column) not in inside
                and (row > matrix.bottom[0] or column > matrix.bottom[1])
                and cell.value is not None
            ):
                rest[row] = column
        for row, column in sorted(rest.items())[:20]:
            self.answers.note("left out", sheet, row, column, "beside or below the readings: totals or notes")

    def _ring_of(self, line: Line, sheet: Sheet) -> int | None:
        found = re.findall(r"\d+", sheet.text(*line.heads["ring"]).removesuffix(".0")) if "ring" in line.heads else []
        return int(found[0]) if found else None

    def _chainage_kind(self, matrix: Matrix) -> None:
        """Whether stops are given as the ring log gives rings, or at the face: the log itself settles it."""
        from wearplan.take.find.values import chainage_of

        if not self.log.ahead_m:
            return
        off = []
        for line in matrix.lines:
            ring = self._ring_of(line, matrix.sheet)
            end = self.log.end_of(ring) if ring is not None else None
            cell = matrix.sheet.at(*line.heads["chainage"]) if "chainage" in line.heads else None
            if end is not None and cell is not None:
                try:
                    off.append(chainage_of(cell, self.stops.comma)[0] - end)
                except ValueError:
                    continue
        if off and abs(sorted(off)[len(off) // 2]) < self.log.length_m:
            self.stops.chainage_is = "face"
            self.answers.settle("chainage of stops", "face", "they are where the face stood by the ring log")
        elif off:
            self.answers.settle("chainage of stops", "as in the ring log", "they agree with the ring log as written")

    def _book(self, sheet: Sheet, matrix: Matrix, rings: Sequence[int | None]) -> Book:
        """How the sheet's cells are to be understood: legend, measure, pairs, colours."""
        words = heading_words(sheet)
        meanings = dict(legend(words))
        cells = [
            (place, cell, where, ring)
            for line, ring in zip(matrix.lines, rings, strict=True)
            for name, where in line.cells.items()
            if (place := self.wheel.find(name)) is not None and (cell := sheet.at(*where)) is not None
        ]
        raws = [(place, raw_of(cell, meanings), cell, where, ring) for place, cell, where, ring in cells]
        self._unknown_words(sheet, [(raw, where) for _, raw, _, where, _ in raws], meanings)
        scale = _scale(words)
        samples = [(place, raw.values[0] * scale) for place, raw, *_ in raws if len(raw.values) == 1 and not raw.sign]
        first = next((where for _, raw, _, where, _ in raws if raw.values), (1, 1))
        measure = measure_of(sheet.name, words, "", samples, self.wheel, self.answers, example_of(sheet, *first))
        book = Book(sheet, meanings, measure, scale=scale)
        self._matrix_measure = measure
        self._pairs(book, raws)
        self._colours(book, raws, words)
        self._beside(book, raws)
        self._empty(book, matrix, meanings)
        return book

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

    def _pairs(self, book: Book, raws: Sequence[tuple[Place, Raw, Cell, tuple[int, int], int | None]]) -> None:
        pairs = [(place, raw, where, ring) for place, raw, _, where, ring in raws if raw.pair]
        if not pairs:
            return
        known = sum((ring, place.name) in self.listed for place, _, _, ring in pairs)
        if all(raw.pair == (0.0,) for _, raw, _, _ in pairs) and known >= 0.8 * len(pairs):
            book.pair = self.answers.settle(
                "two values", "old and new tool", f"the change list has {known} of {len(pairs)} of them"
            )
            return
        where = pairs[0][2]
        zero = all(max(raw.pair) <= max(raw.values, default=0.0) for _, raw, _, _ in pairs)
        answer = self.answers.ask(
            "two values",
            f"What are two values such as '{book.sheet.text(*where)}': of the old tool and the new "
            "one, two points of one "
            "tool, or two edges?",
            ("old and new tool", "two points", "two edges"),
            about="meaning",
            count=len(pairs),
            example=example_of(book.sheet, *where),
            suggested="old and new tool" if zero else "two points",
            holds=("stops",),
        )
        book.pair = str(answer or "old and new tool")

    def _colours(
        self, book: Book, raws: Sequence[tuple[Place, Raw, Cell, tuple[int, int], int | None]], words: str
    ) -> None:
        fills = Counter(cell.fill for _, _, cell, _, _ in raws if cell.fill)
        for fill, count in fills.items():
            told = [(place, raw, where, ring) for place, raw, cell, where, ring in raws if cell.fill == fill]
            said = colour_said(words, fill)
            known = sum(
                bool(raw.changed or raw.pair) or (ring, place.name) in self.listed for place, raw, _, ring in told
            )
            name = f"colour {colour_name(fill) or fill}"
            if said is not None:
                book.fills[fill] = said
                self.answers.settle(name, "changed" if said else "no meaning", f"the legend of {book.sheet.name}")
            elif known == count:
                book.fills[fill] = False
                self.answers.settle(
                    name, "changed", f"each of {count} cells is a change by its words or the change list too"
                )
            else:
                answer = self.answers.ask(
                    name,
                    f"What does the colour {colour_name(fill) or fill} of {count} cells on {book.sheet.name} mean?",
                    ("changed", "no meaning"),
                    about="meaning",
                    count=count,
                    example=example_of(book.sheet, *told[0][2]),
                    suggested="changed" if known > 0.5 * count else "no meaning",
                    holds=("stops",),
                )
                book.fills[fill] = answer == "changed"

    def _beside(self, book: Book, raws: Sequence[tuple[Place, Raw, Cell, tuple[int, int], int | None]]) -> None:
        """Whether a value beside a change is the old tool's: the change list tells, else it is asked."""
        cells = [
            (place, raw, where, ring)
            for place, raw, cell, where, ring in raws
            if raw.values and not raw.pair and (raw.changed or book.fills.get(cell.fill))
        ]
        if not cells:
            return
        same = other = 0
        for place, raw, _, ring in cells:
            wear = self.listed.get((ring or 0, place.name), "")
            found = raw_of(Cell(wear), book.words).values if wear else ()
            same += bool(found) and found == raw.values
            other += bool(found) and found != raw.values
        if same and same > 4 * other:
            book.beside = self.answers.settle(
                "value beside a change", "old tool", f"the change list gives the same wear for {same} of them"
            )
            return
        answer = self.answers.ask(
            "value beside a change",
            "Is a value in a cell that also says 'changed' that of the old tool or of the new one?",
            ("old tool", "new tool"),
            about="meaning",
            count=len(cells),
            example=example_of(book.sheet, *cells[0][2]),
            suggested="old tool",
            holds=("stops",),
        )
        book.beside = str(answer or "old tool")

    def _empty(self, book: Book, matrix: Matrix, meanings: Mapping[str, tuple[str, str]]) -> None:
        count = sum(len(self.wheel.places) - len(line.cells) for line in matrix.lines)
        if not count:
            return
        if "(empty)" in meanings:
            self.answers.settle("empty cell", "no record", f"the legend of {book.sheet.name}: {meanings['(empty)'][1]}")
            return
        answer = self.answers.ask(
            "empty cell",
            "What does an empty cell among the readings mean? (no record: the place counts as not read)",
            ("no record", "not looked at", "not reached"),
            about="meaning",
            count=count,
            suggested="no record",
            holds=("stops",),
            example={"file": book.sheet.file, "sheet": book.sheet.name, "cell": "", "shown": ""},
        )
        book.empty = None if answer in (None, "no record") else str(answer)

    # one cell

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

    # lists

    def list_rows(self, table: Table) -> None:
        """A list of changes, of readings, or of both; a sheet a stop where no column says which stop."""
        sheet = table.sheet
        heads_above = (
            self._heads_above(table)
            if not ({"ring", "date", "stop", "end_chainage", "finished"} & {c.meaning for c in table.columns})
            else {}
        )
        if not heads_above and not {"ring", "date", "stop", "end_chainage", "finished"} & {
            c.meaning for c in table.columns
        }:
            table.kinds = set()
            return
        wear_column = next((c for m in _WEARS if (c := table.column(m)) is not None), None)
        words = heading_words(sheet)
        book = Book(sheet, dict(legend(words)), Measure())
        if wear_column is not None:
            book.scale = wear_column.factor if wear_column.unit else _scale(words)
            self._list_measure(table, book, wear_column.head, wear_column.at, words, bool(heads_above))
        self.stops.order_days(self._dates(table, heads_above), "stop sheets" if heads_above else table.sheet.name)
        all_changes = "changes" in table.kinds and self._is_change_list(table)
        seen: dict[tuple[str, ...], int] = {}
        for row in table.rows:
            name = table.text(row, "place")
            texts = tuple(sheet.text(row, c.at) for c in table.columns if c.meaning != "sequence")
            if not name or is_word(name, TOTALS) or not any(texts[1:]):
                continue
            if texts in seen and not heads_above:
                self.answers.note(
                    "taken", sheet, row, table.left, f"the row stands in row {seen[texts]} already; it is taken once"
                )
                continue
            seen[texts] = row
            self._row(table, row, book, heads_above, wear_column.at if wear_column else None, all_changes)
            table.used += 1

    def _dates(self, table: Table, above: Mapping[str, At]) -> list[tuple[At, int | None]]:
        """Every date of a list with the ring beside it."""
        if "date" in above:
            sheet, *where = above.get("ring", above["date"])
            rings = re.findall(r"\d+", sheet.text(*where)) if "ring" in above else []
            return [(above["date"], int(rings[0]) if len(rings) == 1 else None)]
        column = table.column("date") or table.column("finished")
        if column is None:
            return []
        found: list[tuple[At, int | None]] = []
        for row in table.rows:
            rings = re.findall(r"\d+", table.text(row, "ring"))
            if table.sheet.text(row, column.at):
                found.append(((table.sheet, row, column.at), int(rings[0]) if len(rings) == 1 else None))
        return found

    def _is_change_list(self, table: Table) -> bool:
        said = sum(
            bool(table.text(row, "old_serial") or table.text(row, "new_serial") or table.text(row, "action"))
            for row in table.rows
        )
        return said >= 0.8 * len(table.rows)

    def _list_measure(self, table: Table, book: Book, head: str, column: int, words: str, sheet_a_stop: bool) -> None:
        samples = []
        raws = []
        for row in table.rows:
            cell, place = table.sheet.at(row, column), self.wheel.find(table.text(row, "place"))
            if cell is not None and place is not None:
                raw = raw_of(cell, book.words)
                raws.append((raw, (row, column)))
                if len(raw.values) == 1 and not raw.sign:
                    samples.append((place, raw.values[0] * book.scale))
        if "changes" in table.kinds and self._matrix_measure is not None:
            said = by_head(head)
            book.measure = Measure(said, said) if said else self._matrix_measure
            return
        self._unknown_words(table.sheet, raws, book.words)
        label = "stop sheets" if sheet_a_stop else table.sheet.name
        if samples:
            book.measure = measure_of(
                label,
                f"{head}\n{words}",
                head,
                samples,
                self.wheel,
                self.answers,
                example_of(table.sheet, table.rows[0], column),
            )
        pairs = [where for raw, where in raws if raw.pair]
        if pairs:
            book.pair = str(
                self.answers.ask(
                    "two values",
                    f"What are two values such as '{table.sheet.text(*pairs[0])}': of the old tool "
                    "and the new one, two points of "
                    "one tool, or two edges?",
                    ("old and new tool", "two points", "two edges"),
                    about="meaning",
                    count=len(pairs),
                    example=example_of(table.sheet, *pairs[0]),
                    suggested="old and new tool",
                    holds=("stops",),
                )
                or "old and new tool"
            )

    def _row(
        self, table: Table, row: int, book: Book, above: dict[str, At], wear_at: int | None, all_changes: bool
    ) -> None:
        sheet, name = table.sheet, table.text(row, "place")
        heads = dict(above) or self._row_heads(table, row)
        if heads is None or not heads:
            return
        place_at = table.column("place")
        assert place_at is not None
        place = self.wheel.find(name)
        if place is None:
            near = self.wheel.nearest(name)
            ring = re.findall(r"\d+", table.text(row, "ring"))
            self.refused_rows.append((int(ring[0]) if ring else None, name, table, row))
            self.answers.note(
                "refused",
                sheet,
                row,
                place_at.at,
                f"place {name} is not in the layout (near: {near}); the row is not taken",
            )
            return
        if place.name.casefold() != name.removesuffix(".0").casefold():
            self.answers.note("taken", sheet, row, place_at.at, f"read as place {place.name}")
        stop = self.stops.made(heads)
        cell = sheet.at(row, wear_at) if wear_at is not None else None
        had = place.number in stop.readings
        if cell is not None and (cell.value is not None or cell.trouble) and not had:
            self._cell(book, stop, place, cell, (sheet, row, wear_at or 1))
        self._row_words(table, row, stop, place, had)
        change = self._change_of(table, row, place, all_changes)
        if change is not None:
            stop.changes[place.number] = change

    def _row_words(self, table: Table, row: int, stop: Stop, place: Place, had: bool) -> None:
        reading = stop.readings.get(place.number)
        condition = self._word(table, row, "condition", CONDITIONS)
        if reading is not None and condition and not reading.condition and not had:
            reading.condition = condition
        why = word_for(table.text(row, "not_read"), NOT_READ)
        if reading is None and why:
            stop.readings[place.number] = Reading(
                place.number,
                not_read=why,
                condition=condition,
                source=f"{table.sheet.name}!{table.address(row, 'not_read')}",
            )

    def _word(self, table: Table, row: int, meaning: str, words: tuple[tuple[str, tuple[str, ...]], ...]) -> str | None:
        """Our word for a cell of a list; one that is not known is asked once for all its cells."""
        text, column = table.text(row, meaning), table.column(meaning)
        known = word_for(text, words)
        if known is not None or column is None or plain_word(text) in ("", "no", "nein", "non", "none"):
            return known
        choices = [ours for ours, _ in words]
        answer = self.answers.ask(
            f"{meaning.replace('_', ' ')} {plain_word(text)}",
            f"What does '{text}' under {column.head} on {table.sheet.name} mean?",
            (*choices, "no meaning"),
            about="meaning",
            count=sum(table.text(other, meaning) == text for other in table.rows),
            example=example_of(table.sheet, row, column.at),
            suggested="no meaning",
        )
        return str(answer) if answer in choices else None

    def _row_heads(self, table: Table, row: int) -> dict[str, At]:
        heads: dict[str, At] = {}
        for column in table.columns:
            role = _HEADS.get(column.meaning)
            cell = table.sheet.at(row, column.at)
            if role is not None and role not in heads and cell is not None and cell.value is not None:
                heads[role] = (table.sheet, row, column.at)
        ring, date = table.cell(row, "ring"), table.cell(row, "date")
        if (
            ring is not None
            and date is not None
            and looks_like_day(ring)
            and not looks_like_day(date)
            and re.fullmatch(r"\d+(\.0)?", date.text)
        ):
            answer = self.answers.ask_cell(
                *heads["ring"],
                f"a date under the ring and {date.text} under the date: exchange them?",
                ("exchange", "leave out"),
                "exchange",
                holds=(),
            )
            if answer != "exchange":
                return {}
            heads["ring"], heads["date"] = heads["date"], heads["ring"]
        return heads

    def _change_of(self, table: Table, row: int, place: Place, all_changes: bool) -> Change | None:
        action_text = table.text(row, "action")
        old, new = table.text(row, "old_serial"), table.text(row, "new_serial")
        action = "change" if plain_word(action_text) in YES else word_for(action_text, ACTIONS)
        if action is None and (plain_word(action_text) in _NO_CHANGE or not (all_changes or old or new)):
            return None
        change = Change(
            place.number,
            action or "change",
            source=f"{table.sheet.name}!{table.address(row, 'place')}",
            at=(table.sheet, row, (table.column("new_serial") or table.column("place") or table.columns[0]).at),
        )
        change.reason = self._word(table, row, "reason", REASONS)
        change.old_to = self._word(table, row, "old_to", OLD_TO)
        change.old_serial, change.new_serial = _named(old), _named(new)
        new_type = table.text(row, "new_type")
        if new_type in self.wheel.tools and new_type != place.tool_type:
            change.new_type = new_type
        if change.action == "change":
            change.batch = _named(" ".join(table.text(row, "batch").split()))
            self._serials_missing(change, table, row, place)
        if change.action in ("swap", "move"):
            found = [self.wheel.find(word) for word in re.split(r"[\s,;]+", action_text)]
            others = [other for other in found if other is not None and other is not place]
            if not others:
                told = f"{action_text}: the other place is not told; not taken"
                self.answers.note("refused", table.sheet, row, table.left, told)
                return None
            change.from_place = others[-1].number
        return change

    def _serials_missing(self, change: Change, table: Table, row: int, place: Place) -> None:
        """Note which serial of a change a list that has serials leaves empty."""
        sides = (("old_serial", change.old_serial, "taken off"), ("new_serial", change.new_serial, "put on"))
        for meaning, value, head in sides:
            column = table.column(meaning)
            if column is not None and value is None:
                told = f"the change at place {place.name} is taken; the tool {head} has no serial"
                self.answers.note("taken", table.sheet, row, column.at, told)

    def _heads_above(self, table: Table) -> dict[str, At]:
        """Facts of a stop from the lines above a table, else from a title above it or the sheet's name."""
        sheet = table.sheet
        floor = max(
            (at for other in self._lists if other.sheet is sheet for at in other.rows if at < table.head_row), default=0
        )
        made = Sheet(sheet.file, sheet.name, lines=sheet.lines)
        heads: dict[str, At] = {}
        titles = [sheet.name]
        for (row, column), cell in sorted(sheet.cells.items()):
            if not floor < row < table.head_row or not isinstance(cell.value, str):
                continue
            titles.insert(0, cell.text)
            label, _, value = cell.text.partition(":")
            role = _HEADS.get(meaning_of(label))
            beside = Cell(value.strip()) if value.strip() else _beside(sheet, row, column)
            if role is not None and role not in heads and beside is not None and len(label) < 30:
                made.cells[row, column] = beside
                heads[role] = (made, row, column)
        for at, title in enumerate(titles if not heads.keys() & {"ring", "date", "chainage"} else (), start=1):
            found = re.search(r"\b(?:ring|anneau|anillo|r)\b\s*(?:n|no|nr)?\s*(\d{1,5})\b", plain_word(title))
            day = re.search(r"\d{4}-\d{2}-\d{2}|\d{1,2}[./]\d{1,2}[./]\d{2,4}", title)
            if found and "ring" not in heads:
                made.cells[at, 1] = Cell(found[1])
                heads["ring"] = (made, at, 1)
            if day and "date" not in heads:
                made.cells[at, 2] = Cell(day[0])
                heads["date"] = (made, at, 2)
        return heads if heads.keys() & {"ring", "date", "chainage"} else {}

    # the whole

    def finish(self) -> list[Stop]:
        """Stops in the order of the drive, with what is odd in the whole named."""
        for ring, name, table, row in self.refused_rows:
            stop = self.stops.at_ring(ring) if ring is not None else None
            if stop is None:
                continue
            bare = [
                c
                for c in stop.changes.values()
                if c.old_serial is None and c.new_serial is None and c.action == "change"
            ]
            if bare:
                names = ", ".join(self.by_number[c.place].name for c in bare)
                self.answers.note(
                    "taken",
                    table.sheet,
                    row,
                    table.left,
                    f"the matrix has a change at ring {ring} without a row of the list: {names} (the "
                    f"list's row says {name})",
                )
        stops = [stop for stop in self.stops.all if stop.readings or stop.changes]
        self.stops.finish()
        self._methods(stops)
        stops.sort(key=lambda stop: (stop.ring if stop.ring is not None else 10**9, stop.chainage_m or 0.0))
        self._falls(stops)
        return stops

    def _methods(self, stops: Sequence[Stop]) -> None:
        readings = [r for stop in stops for r in stop.readings.values() if r.wear]
        if not readings:
            return
        choices = (
            *_METHODS,
            *(f"discs {one}, other tools {other}" for one in _METHODS for other in _METHODS if one != other),
            "not told",
        )
        said = self._said_method
        if said:
            answer = self.answers.settle("method", said, "the legend")
        else:
            answer = self.answers.ask(
                "method",
                "By what were the readings taken?",
                choices,
                about="meaning",
                count=len(readings),
                suggested="gauge",
                holds=("stops",),
            )
        both = re.match(r"discs (.+), other tools (.+)", str(answer or ""))
        for reading in readings:
            if both:
                reading.method = both[1] if self.wheel.tool(self.by_number[reading.place]).disc else both[2]
            elif answer is not None and answer != "not told":
                reading.method = str(answer)

    _said_method: str | None = None

    def say_method(self, words: str) -> None:
        """A legend that tells the method by group of tools."""
        self._said_method = self._said_method or methods_said(words)

    def _falls(self, stops: Sequence[Stop]) -> None:
        last: dict[int, tuple[float, Stop]] = {}
        for stop in stops:
            for number, reading in stop.readings.items():
                if not reading.wear or reading.sign:
                    continue
                now = sum(reading.wear) / len(reading.wear)
                if number in last and last[number][0] - now >= (3.0 if reading.method != "by eye" else 6.0):
                    sheet, cell = reading.source.rsplit("!", 1)
                    self._note_at(
                        sheet,
                        cell,
                        f"wear at place {self.by_number[number].name} falls from {last[number][0]:g} "
                        f"to {now:g} mm with no change recorded; taken as written",
                        f"{now:g}",
                    )
                last[number] = (now, stop)
            for number, change in stop.changes.items():
                last.pop(number, None)
                if change.from_place is not None:
                    last.pop(change.from_place, None)

    def _note_at(self, sheet: str, cell: str, what: str, shown: str) -> None:
        from wearplan.take.asking import Finding

        self.answers.findings.append(Finding(duty="taken", file="", sheet=sheet, cell=cell, shown=shown, what=what))


def _scale(words: str) -> float:
    """What one of the unit in a sheet's titles is in mm; 1 where none is told."""
    units = re.findall(r"[\[(]\s*(mm|cm|in|inch|inches)\s*[\])]|\bin (inches)\b", words, re.I)
    told = {(one or other).casefold() for one, other in units}
    if "mm" in told or not told:
        return 1.0
    return 10.0 if told == {"cm"} else 25.4


def _beside(sheet: Sheet, row: int, column: int) -> Cell | None:
    """The first cell that holds anything in the three to the right."""
    for at in range(column + 1, column + 4):
        cell = sheet.at(row, at)
        if cell is not None and cell.value is not None:
            return cell
    return None


def _named(text: str) -> str | None:
    """A serial or a batch; None where the cell says there is none."""
    return None if text in ("", "-", "?", "–") else text


def _number_as_text(at: At) -> bool:
    """Whether a workbook holds a bare number as text."""
    cell = at[0].at(at[1], at[2])
    if cell is None or not isinstance(cell.value, str) or at[0].lines:
        return False
    return re.fullmatch(r"\s*\d+([.,]\d+)?\s*(mm)?\s*", cell.value) is not None
