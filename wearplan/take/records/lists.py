"""Inspections out of lists: a row a place, of many stops or of one."""

from __future__ import annotations

import re
from collections.abc import Mapping

from wearplan.take.asking import example_of
from wearplan.take.files.book import Cell, Sheet
from wearplan.take.find.tables import Table, heading_words
from wearplan.take.find.values import looks_like_day
from wearplan.take.find.words import (
    ACTIONS,
    CONDITIONS,
    NOT_READ,
    OLD_TO,
    REASONS,
    STOP_HEADS,
    TELLS_THE_STOP,
    TOTALS,
    WEARS,
    YES,
    is_word,
    meaning_of,
    plain_word,
    word_for,
)
from wearplan.take.records.cells import Book, Cells, scale_of
from wearplan.take.records.legend import legend
from wearplan.take.records.measure import Measure, by_head, measure_of
from wearplan.take.records.reading_cell import raw_of
from wearplan.take.records.stops import At, Change, Reading, Stop
from wearplan.take.records.wheel import Place

_NO_CHANGE = ("no", "nein", "non", "-", "none", "0")


class Lists(Cells):
    """Takes lists of readings and of changes."""

    def list_rows(self, table: Table) -> None:
        """A list of changes, of readings, or of both; a sheet a stop where no column says which stop."""
        sheet = table.sheet
        tells_the_stop = not TELLS_THE_STOP.isdisjoint(c.meaning for c in table.columns)
        heads_above = {} if tells_the_stop else self._heads_above(table)
        if not heads_above and not tells_the_stop:
            table.kinds = set()
            return
        wear_column = next((c for m in WEARS if (c := table.column(m)) is not None), None)
        words = heading_words(sheet)
        book = Book(sheet, dict(legend(words)), Measure())
        if wear_column is not None:
            book.scale = wear_column.factor if wear_column.unit else scale_of(words)
            self._list_measure(table, book, wear_column.head, wear_column.at, words, bool(heads_above))
        self.stops.order_days(self._dates(table, heads_above), "stop sheets" if heads_above else table.sheet.name)
        self._rows(table, book, heads_above, wear_column.at if wear_column else None)

    def _rows(self, table: Table, book: Book, heads_above: dict[str, At], wear_at: int | None) -> None:
        """Every row that names a place, each once."""
        sheet = table.sheet
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
            self._row(table, row, book, heads_above, wear_at, all_changes)
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
            self._ask_of_pairs(book, pairs, "old and new tool")

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
            role = STOP_HEADS.get(column.meaning)
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
            role = STOP_HEADS.get(meaning_of(label))
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
