"""Inspections out of matrices and lists: every cell that means something becomes a record, or a word about it."""

from __future__ import annotations

import re
from collections.abc import Sequence

from wearplan.take.asking import Finding
from wearplan.take.find.tables import Table
from wearplan.take.find.words import WEARS
from wearplan.take.records.legend import methods_said
from wearplan.take.records.lists import Lists
from wearplan.take.records.matrices import Matrices
from wearplan.take.records.stops import Stop

_METHODS = ("gauge", "caliper", "by eye")


class Assembly(Matrices, Lists):
    """Takes matrices, then lists, then looks at the whole."""

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
                        wear = next((table.text(row, m) for m in WEARS if table.column(m)), "")
                        self.listed[int(found[0]), place.name] = wear

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
        self.answers.findings.append(Finding(duty="taken", file="", sheet=sheet, cell=cell, shown=shown, what=what))
