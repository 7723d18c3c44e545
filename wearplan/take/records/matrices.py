"""Inspections out of matrices: places down or across, a line a stop."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence

from wearplan.take.asking import example_of
from wearplan.take.files.book import Cell, Sheet
from wearplan.take.find.matrix import Line, Matrix
from wearplan.take.find.tables import heading_words
from wearplan.take.find.values import chainage_of
from wearplan.take.records.cells import Book, Cells, scale_of
from wearplan.take.records.legend import colour_name, colour_said, legend
from wearplan.take.records.measure import measure_of
from wearplan.take.records.reading_cell import Raw, raw_of
from wearplan.take.records.stops import At, Reading, Stop
from wearplan.take.records.wheel import Place


class Matrices(Cells):
    """Takes matrices."""

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
        scale = scale_of(words)
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
        zero = all(max(raw.pair) <= max(raw.values, default=0.0) for _, raw, _, _ in pairs)
        self._ask_of_pairs(book, [where for *_, where, _ in pairs], "old and new tool" if zero else "two points")

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
