"""The ring log: the backbone that dates and chainages of everything else are held against."""

from __future__ import annotations

import bisect
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from itertools import pairwise
from statistics import median
from typing import Any
from zoneinfo import ZoneInfo

from wearplan.site.parse.delimited import zone
from wearplan.site.records import Site
from wearplan.take.asking import Answers, example_of
from wearplan.take.files.book import Cell
from wearplan.take.find.tables import Table, heading_words
from wearplan.take.find.values import both_orders, chainage_of, comma_decimals, day_of, day_order, number_of
from wearplan.take.find.words import plain_word

_NUMBERS = {
    "turns": "revolutions_boring",
    "idle": "revolutions_idle",
    "total_turns": "revolutions_total",
    "thrust": "thrust_kn",
    "torque": "torque_knm",
    "face_pressure": "face_pressure_bar",
    "rpm": "rotation_rpm",
    "boring_minutes": "boring_minutes",
}
_LAST_RING = (
    "letzter ring",
    "last ring",
    "dernier anneau",
    "ultimo anillo",
    "letzten ring",
    "front of ring",
    "ring front",
    "tail",
)
_FACE = ("at the face", "ortsbrust", "au front", "en el frente", "frente de excavacion", "face chainage")


@dataclass(slots=True, kw_only=True)
class RingTaken:
    """One row of the ring log; chainages as written until `RingLog.face` is known, then the face's."""

    ring: int
    start_m: float | None
    end_m: float | None
    at: datetime | None
    values: dict[str, float]
    source: str


@dataclass(slots=True)
class RingLog:
    """Rings in the file's order, and by number."""

    rows: list[RingTaken] = field(default_factory=list)
    by_ring: dict[int, RingTaken] = field(default_factory=dict)
    length_m: float = 1.5
    sign: int = 1
    ahead_m: float = 0.0
    """What was added to the written chainages: the face is so far ahead of them."""
    base: str = "face"
    offset: tzinfo | None = None
    _numbers: list[int] = field(default_factory=list)

    def settle(self) -> None:
        """Index the rows; the ring length is their median advance."""
        for row in self.rows:
            self.by_ring.setdefault(row.ring, row)
        self._numbers = sorted(self.by_ring)
        steps = [abs(r.end_m - r.start_m) for r in self.rows if r.start_m is not None and r.end_m is not None]
        if steps:
            self.length_m = round(median(steps), 3)
        ends = [r.end_m for n in self._numbers if (r := self.by_ring[n]).end_m is not None]
        if len(ends) > 1 and ends[0] is not None and ends[-1] is not None:
            self.sign = 1 if ends[-1] >= ends[0] else -1

    @property
    def last(self) -> int:
        return self._numbers[-1] if self._numbers else 0

    def end_of(self, ring: int) -> float | None:
        """Chainage of a ring's end; of one that is missing from the log by its neighbours."""
        row = self.by_ring.get(ring)
        if row is not None and row.end_m is not None:
            return row.end_m
        at = bisect.bisect(self._numbers, ring)
        if not 0 < at < len(self._numbers):
            return None
        below = self.by_ring[self._numbers[at - 1]]
        if below.end_m is None:
            return None
        return below.end_m + self.sign * self.length_m * (ring - below.ring)

    def days_of(self, ring: int) -> tuple[datetime, datetime] | None:
        """When a ring was finished, and the next one: a stop at it lies between."""
        at = bisect.bisect_left(self._numbers, ring)
        times = [self.by_ring[n].at for n in self._numbers[max(at - 1, 0) : at + 3]]
        known = [time for time in times if time is not None]
        own = self.by_ring[ring].at if ring in self.by_ring else None
        if not known:
            return None
        return own or known[0], max(known)

    def ring_at(self, chainage_m: float) -> int | None:
        """The ring whose end lies nearest to a chainage."""
        near = min(
            self.rows, key=lambda row: abs((row.end_m if row.end_m is not None else 1e9) - chainage_m), default=None
        )
        if near is None or near.end_m is None or abs(near.end_m - chainage_m) > 2 * self.length_m:
            return None
        return near.ring

    def ring_on(self, day: datetime) -> int | None:
        """The last ring finished by the end of a day."""
        before = [n for n in self._numbers if (t := self.by_ring[n].at) is not None and t.date() <= day.date()]
        last = self.by_ring[before[-1]].at if before else None
        return before[-1] if last is not None and day - last < timedelta(days=14) else None


def offset_of(answers: Answers, example: dict[str, str]) -> tzinfo | None:
    """The time zone of the files' clock times, as asked."""
    answer = answers.ask(
        "time zone",
        "In which time zone are the times written? An offset such as +01:00, or a name such as Europe/Berlin",
        (),
        form="text",
        about="meaning",
        example=example,
        holds=("rings", "stops"),
    )
    if answer is None:
        return None
    try:
        return zone(str(answer)) if re.match(r"[+-]|Z|UTC\Z", str(answer)) else ZoneInfo(str(answer))
    except (ValueError, KeyError, OSError):
        answers.note("refused", None, 0, 0, f"time zone {answer!r} is not known; write +01:00", "time zone")
        return timezone(timedelta(0))


def rings_from(tables: Sequence[Table], answers: Answers, site: Site | None) -> RingLog:
    """The ring log of the files, its chainages made those of the face; without one the folder's."""
    log = RingLog()
    for table in tables:
        if "ring log" in table.kinds:
            _rows(table, log, answers)
    log.settle()
    if log.rows:
        table = next(table for table in tables if "ring log" in table.kinds)
        log.offset = offset_of(
            answers, example_of(table.sheet, table.rows[0], (table.column("finished") or table.columns[0]).at)
        )
        _to_face(log, table, answers, site)
    elif site is not None:
        log.offset = offset_of(answers, {"shown": "the folder's rings"})
        zone_here = log.offset or UTC
        for r in site.rings:
            at = r.finished_at.astimezone(zone_here).replace(tzinfo=None) if r.finished_at else None
            log.rows.append(
                RingTaken(ring=r.ring, start_m=r.start_chainage_m, end_m=r.end_chainage_m, at=at, values={}, source="")
            )
        log.settle()
        log.ahead_m = site.drive.face_ahead_of_ring_m
    return log


def other_drive(log: RingLog, site: Site, answers: Answers) -> bool:
    """Whether the files' rings are another drive's, by where and when they were built; asked where it seems so."""
    standing = {row.ring: row for row in site.rings}
    both = [(row, standing[row.ring]) for row in log.rows if row.source and row.ring in standing]
    far = 0
    for row, there in both:
        place = (
            row.end_m is not None and there.end_chainage_m is not None and abs(row.end_m - there.end_chainage_m) > 20.0
        )
        day = row.at is not None and there.finished_at is not None and abs(
            (row.at - there.finished_at.replace(tzinfo=None)).days
        ) > 7  # fmt: skip
        far += place or day
    if len(both) < 3 or far <= 0.3 * len(both):
        return False
    row = both[0][0]
    answer = answers.ask(
        "drive",
        f"{far} of {len(both)} rings of the files lie elsewhere, or were built on other days, than in this "
        "folder: are the files of this drive?",
        ("another drive", "this drive"),
        about="meaning",
        count=far,
        suggested="another drive",
        example={
            "shown": f"ring {row.ring} at {row.end_m} m, {row.at}; the folder: {standing[row.ring].end_chainage_m} m"
        },
        holds=("layout", "rings", "stops", "ground", "store"),
    )
    return bool(answer != "this drive")


def _rows(table: Table, log: RingLog, answers: Answers) -> None:
    sheet = table.sheet
    comma = comma_decimals(sheet.cells.values())
    time_column = table.column("finished") or table.column("date")
    date_column = table.column("date") or time_column
    cells = [c for row in table.rows if date_column and (c := sheet.at(row, date_column.at)) is not None]
    day_first = _order(cells) if both_orders(cells) else day_order(cells)
    seen: dict[tuple[Any, ...], int] = {}
    for row in table.rows:
        ring = _ring_number(table, row, answers)
        if ring is None:
            continue
        start, end = _ends(table, row, comma, answers)
        at = None
        if time_column is not None and (cell := sheet.at(row, time_column.at)) is not None:
            try:
                at = _moment(table, row, cell, day_first)
            except (ValueError, TypeError) as error:
                answers.note("refused", sheet, row, time_column.at, f"{error}; the ring is taken without its time")
        values = {
            key: value for meaning, key in _NUMBERS.items() if (value := _plain(table, row, meaning, comma)) is not None
        }
        key = (ring, start, end, at)
        if key in seen:
            told = f"ring {ring} stands in line {seen[key]} already; it counts once"
            answers.note("taken", sheet, row, table.left, told)
            continue
        seen[key] = row
        log.rows.append(
            RingTaken(
                ring=ring,
                start_m=start,
                end_m=end,
                at=at,
                values=values,
                source=f"{sheet.name}!{sheet.address(row, table.left)}",
            )
        )
        table.used += 1


def _ring_number(table: Table, row: int, answers: Answers) -> int | None:
    cell = table.cell(row, "ring")
    if cell is None:
        return None
    digits = re.findall(r"\d+", cell.text)
    if len(digits) != 1 or cell.trouble:
        answers.note("left out", table.sheet, row, table.left, "names no ring")
        return None
    return int(digits[0])


def _ends(table: Table, row: int, comma: bool, answers: Answers) -> tuple[float | None, float | None]:
    """Where a ring begins and ends; one end follows from the other and the advance."""
    start, end = (_chainage(table, row, meaning, comma, answers) for meaning in ("start_chainage", "end_chainage"))
    advance = _plain(table, row, "advance", comma)
    if advance is not None and start is None and end is not None:
        return end - advance, end
    if advance is not None and end is None and start is not None:
        return start, start + advance
    return start, end


def _moment(table: Table, row: int, cell: Cell, day_first: bool | None) -> datetime:
    """When a ring was finished; a time of day takes its date from the column beside it."""
    minutes = re.fullmatch(r"(\d{1,2})[:h](\d{2})(?::\d{2})?", cell.text)
    day = table.cell(row, "date")
    if minutes is None or day is None or day is cell:
        return day_of(cell, day_first)
    return day_of(day, day_first).replace(hour=int(minutes[1]), minute=int(minutes[2]))


def _order(cells: Sequence[Any]) -> bool:
    """Day first or month first, whichever makes the times of a log grow."""

    def falls(first: bool) -> int:
        times = [day_of(cell, first) for cell in cells]
        return sum(b < a for a, b in pairwise(times))

    return falls(True) <= falls(False)


def _plain(table: Table, row: int, meaning: str, comma: bool) -> float | None:
    column, cell = table.column(meaning), table.cell(row, meaning)
    if column is None or cell is None or cell.value is None:
        return None
    try:
        return float(f"{number_of(cell, comma) * column.factor:.10g}")
    except ValueError:
        return None


def _chainage(table: Table, row: int, meaning: str, comma: bool, answers: Answers) -> float | None:
    column, cell = table.column(meaning), table.cell(row, meaning)
    if column is None or cell is None or (cell.value is None and not cell.trouble):
        return None
    try:
        value, base = chainage_of(cell, comma)
    except ValueError as error:
        answers.note("refused", table.sheet, row, column.at, f"{column.head}: {error}")
        return None
    return round(value * (0.3048 if base == 100 else column.factor), 4)


def _to_face(log: RingLog, table: Table, answers: Answers, site: Site | None) -> None:
    """Chainages are the face's in the folder: what the log's are is said on its sheet, or asked."""
    words = plain_word(heading_words(table.sheet))
    column = table.column("end_chainage") or table.column("start_chainage") or table.columns[0]
    if any(stem in words for stem in _LAST_RING):
        base = answers.settle("chainage of rings", "last ring", f"the words on {table.sheet.name}")
    elif any(stem in words for stem in _FACE):
        base = answers.settle("chainage of rings", "face", f"the words on {table.sheet.name}")
    else:
        base = (
            answers.ask(
                "chainage of rings",
                "Is the chainage in the ring log where the face stood, or the front of the last built ring?",
                ("face", "last ring"),
                about="meaning",
                count=len(log.rows),
                suggested="face",
                example=example_of(table.sheet, table.rows[0], column.at),
                holds=("rings", "stops"),
            )
            or "face"
        )
    log.base = str(base)
    if base != "last ring":
        return
    hint = f"{site.drive.face_ahead_of_ring_m:g}" if site is not None and site.drive.face_ahead_of_ring_m else None
    ahead = answers.ask(
        "face ahead of ring",
        "How far is the face ahead of the front of the last ring, in metres?",
        (),
        form="number",
        about="meaning",
        suggested=hint,
        holds=("rings", "stops"),
    )
    log.ahead_m = float(ahead or 0.0)
    for row in log.rows:
        row.start_m = None if row.start_m is None else round(row.start_m + log.sign * log.ahead_m, 4)
        row.end_m = None if row.end_m is None else round(row.end_m + log.sign * log.ahead_m, 4)
