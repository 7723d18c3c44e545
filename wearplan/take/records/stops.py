"""Stops: which there were, held against the ring log, and what was read and changed at each."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from statistics import median

from wearplan.take.asking import Answers, example_of
from wearplan.take.files.book import Sheet
from wearplan.take.find.values import both_orders, chainage_of, day_of, day_order, number_of
from wearplan.take.find.words import MODES, word_for
from wearplan.take.records.rings import RingLog

At = tuple[Sheet, int, int]


@dataclass(slots=True)
class Reading:
    """One place as found, in mm of wear."""

    place: int
    wear: tuple[float, ...] = ()
    sign: str = ""
    not_read: str | None = None
    method: str | None = None
    condition: str | None = None
    source: str = ""


@dataclass(slots=True)
class Change:
    """What was taken off and put on."""

    place: int
    action: str = "change"
    reason: str | None = None
    old_serial: str | None = None
    new_serial: str | None = None
    old_to: str | None = None
    new_type: str | None = None
    batch: str | None = None
    from_place: int | None = None
    source: str = ""
    at: At | None = None
    open: bool = False
    """A question about its serials is open: it is written without them."""


@dataclass(slots=True)
class Stop:
    """One stop with all that is told of it."""

    ring: int | None = None
    chainage_m: float | None = None
    day: datetime | None = None
    number: int | None = None
    mode: str | None = None
    pressure_bar: float | None = None
    readings: dict[int, Reading] = field(default_factory=dict)
    changes: dict[int, Change] = field(default_factory=dict)
    source: str = ""
    first: At | None = None
    open: bool = False
    """A question about the stop itself is open: it is not written yet."""


class Stops:
    """The stops found so far; each told once however often it is named."""

    def __init__(self, log: RingLog, answers: Answers, comma: bool) -> None:
        self.log, self.answers, self.comma = log, answers, comma
        self.all: list[Stop] = []
        self._named: dict[int, Stop] = {}
        self.chainage_is: str | None = None
        self.day_first: bool | None = None
        """How the sheet at hand writes its dates; None where no date of it can be read two ways."""
        self.listed: set[int] = set()
        """Rings that lists name: they help to mend a ring that cannot be."""

    def at_ring(self, ring: int) -> Stop | None:
        return next((stop for stop in self.all if stop.ring == ring), None)

    def by_number(self, number: int) -> Stop | None:
        return self._named.get(number)

    def made(self, heads: dict[str, At], rings_before: int | None = None, rings_after: int | None = None) -> Stop:
        """A stop from the cells of its heads, checked against the log; questions about it are noted.

        Where the log or a stop told before settles it, that stop is given back.
        """
        stop = Stop()
        stop.first = next(iter(heads.values()), None)
        stop.source = source_of(stop.first)
        if "number" in heads:
            found = re.findall(r"\d+", text_at(heads["number"]))
            stop.number = int(found[0]) if found else None
        chainage = self._chainage(heads.get("chainage"))
        day = self._day(heads.get("date"))
        ring = self._ring(heads.get("ring"), rings_before, rings_after, stop)
        if ring is None and chainage is not None:
            ring = self.log.ring_at(chainage)
        if ring is None and day is not None and not stop.open:
            near = self._near(day)
            if len(near) == 1:
                return near[0]
            ring = self.log.ring_on(day)
        if ring is None and stop.number is not None and stop.number in self._named:
            return self._named[stop.number]
        known = self.at_ring(ring) if ring is not None else None
        target = known or stop
        target.ring = ring if target.ring is None else target.ring
        if target.number is None:
            target.number = stop.number
        if known is None:
            self.all.append(target)
        if target.number is not None:
            self._named.setdefault(target.number, target)
        self._place_of(target, chainage, heads.get("chainage"))
        self._day_of(target, day, heads.get("date"))
        self._mode_of(target, heads)
        return target

    def _near(self, day: datetime) -> list[Stop]:
        """The stops told of that day, the day before or the day after."""
        return [known for known in self.all if known.day and abs((known.day.date() - day.date()).days) <= 1]

    def _ring(self, at: At | None, before: int | None, after: int | None, stop: Stop) -> int | None:
        if at is None:
            return None
        found = re.findall(r"\d+", text_at(at).removesuffix(".0"))
        if not found:
            return None
        ring = int(found[0])
        if not self.log.rows or ring <= self.log.last + 20:
            return ring
        low, high = before or 0, after or self.log.last
        fits = sorted(r for r in self.listed if low < r < high)
        tail = [int(str(ring)[n:]) for n in range(1, len(str(ring))) if str(ring)[n] != "0"]
        fits += [r for r in tail if low < r < high and r not in fits]
        answer = self.answers.ask_cell(
            *at,
            f"ring {ring} is not in the ring log (its last is {self.log.last}); which ring is meant?",
            (*map(str, fits[:4]), "leave out"),
            str(fits[0]) if fits else None,
            holds=(),
        )
        if answer is None or not str(answer).isdigit():
            stop.open = True
            return None
        return int(answer)

    def _chainage(self, at: At | None) -> float | None:
        if at is None:
            return None
        sheet, row, column = at
        cell = sheet.at(row, column)
        if cell is None:
            return None
        try:
            value, base = chainage_of(cell, self.comma)
        except ValueError as error:
            self.answers.note("refused", sheet, row, column, str(error))
            return None
        value = value * 0.3048 if base == 100 else value
        return value + self.log.sign * self.log.ahead_m if self.chainage_is != "face" else value

    def _day(self, at: At | None) -> datetime | None:
        if at is None:
            return None
        sheet, row, column = at
        cell = sheet.at(row, column)
        try:
            return day_of(cell, self.day_first) if cell is not None else None
        except (ValueError, TypeError) as error:
            self.answers.note("refused", sheet, row, column, str(error))
            return None

    def order_days(self, dates: Sequence[tuple[At, int | None]], where: str) -> None:
        """Settle day and month of some dates: by themselves, by the ring log, else asked once for all of that name."""
        cells = [cell for at, _ in dates if (cell := at[0].at(at[1], at[2])) is not None]
        self.day_first = day_order(cells)
        if self.day_first is not None or not both_orders(cells):
            return
        by_day, by_month = self._off(dates, True), self._off(dates, False)
        if by_day is not None and by_month is not None and abs(by_day - by_month) > 2.0:
            self.day_first = by_day < by_month
            order = "day first" if self.day_first else "month first"
            self.answers.settle(f"dates, {where}", order, "the ring log has these rings on those days")
            return
        answer = self.answers.ask(
            f"dates, {where}",
            f"Do the dates on {where} have the day or the month first?",
            ("day first", "month first"),
            about="meaning",
            count=len(cells),
            example=example_of(*dates[0][0]),
            suggested="day first",
            holds=("stops",),
        )
        self.day_first = answer != "month first"

    def _off(self, dates: Sequence[tuple[At, int | None]], first: bool) -> float | None:
        """Middle distance in days between the sheet's dates and the ring log's."""
        found = []
        for at, ring in dates:
            span = self.log.days_of(ring) if ring is not None and ring in self.log.by_ring else None
            cell = at[0].at(at[1], at[2])
            if span is not None and cell is not None:
                try:
                    found.append(abs((day_of(cell, first) - span[0]).total_seconds()) / 86_400)
                except (ValueError, TypeError):
                    found.append(400.0)
        return median(found) if found else None

    def _place_of(self, stop: Stop, chainage: float | None, at: At | None) -> None:
        """The stop's chainage: its ring's end; where the sheet says another, it is asked which counts."""
        end = self.log.end_of(stop.ring) if stop.ring is not None else None
        if chainage is None:
            stop.chainage_m = end if stop.chainage_m is None else stop.chainage_m
            return
        if end is None or abs(chainage - end) <= 3 * self.log.length_m + 0.1:
            stop.chainage_m = chainage if stop.chainage_m is None else stop.chainage_m
            return
        assert at is not None
        by_ring, written = f"ring {stop.ring} ({end:g} m)", f"chainage ({chainage:g} m)"
        answer = self.answers.ask_cell(
            *at,
            f"ring {stop.ring} ends at {end:g} m in the ring log, the sheet says {chainage:g} m: "
            f"{abs(chainage - end):.0f} m "
            "apart; which counts?",
            (by_ring, written),
            by_ring,
            holds=(),
        )
        if answer is None:
            stop.open, stop.chainage_m = True, end
        elif answer == written:
            stop.chainage_m, stop.ring = chainage, self.log.ring_at(chainage) or stop.ring
        else:
            stop.chainage_m = end

    def _day_of(self, stop: Stop, day: datetime | None, at: At | None) -> None:
        """The stop's day: as written where it fits the log, else asked."""
        if day is None or stop.day is not None:
            return
        span = self.log.days_of(stop.ring) if stop.ring is not None and self.log.rows else None
        if span is None or (
            span[0] - timedelta(days=3) <= day + timedelta(days=1) and day <= span[1] + timedelta(days=4)
        ):
            stop.day = day
            return
        assert at is not None
        other = next(
            (
                known
                for known in self.all
                if known is not stop and known.day is not None and known.day.date() == day.date()
            ),
            None,
        )
        twice = f"; ring {other.ring} has this date too" if other is not None else ""
        by_log, written = f"{span[0]:%Y-%m-%d} (ring log)", f"{day:%Y-%m-%d} (as written)"
        ring = self.log.ring_on(day)
        by_day = (f"ring {ring} (by the date)",) if ring is not None and self.at_ring(ring) is None else ()
        answer = self.answers.ask_cell(
            *at,
            f"the sheet dates ring {stop.ring} {day:%Y-%m-%d}, the ring log finished it on {span[0]:%Y-%m-%d}{twice}; "
            "which counts?",
            (by_log, written, *by_day),
            by_log,
        )
        if answer is None:
            stop.open, stop.day = True, span[0]
        elif answer in by_day:
            stop.ring, stop.day, stop.chainage_m = ring, day, self.log.end_of(ring or 0)
        else:
            stop.day = day if answer == written else span[0]

    def _mode_of(self, stop: Stop, heads: dict[str, At]) -> None:
        if "pressure" in heads and stop.pressure_bar is None:
            sheet, row, column = heads["pressure"]
            cell = sheet.at(row, column)
            text = cell.text if cell is not None else ""
            if text in ("-", "–", "—"):
                answer = self.answers.ask(
                    "pressure '-'",
                    "What does '-' under the pressure mean?",
                    ("free air", "not told"),
                    about="meaning",
                    suggested="free air",
                    example=example_of(*heads["pressure"]),
                    holds=("stops",),
                )
                stop.mode = "free air" if answer in (None, "free air") else stop.mode
            elif cell is not None and text:
                try:
                    stop.pressure_bar = round(number_of(cell, True), 4)
                except ValueError as error:
                    self.answers.note("refused", sheet, row, column, str(error))
        if "mode" in heads and stop.mode is None:
            text = text_at(heads["mode"])
            stop.mode = word_for(text, MODES)
            if stop.mode is None and text:
                stop.mode = self.answers.ask(
                    f"mode {text}",
                    f"How were people in at a stop marked '{text}'?",
                    [m for m, _ in MODES],
                    about="meaning",
                    example=example_of(*heads["mode"]),
                    holds=("stops",),
                )
        if stop.mode is None and stop.pressure_bar is not None:
            stop.mode = "compressed air" if stop.pressure_bar > 0 else "free air"

    def finish(self) -> None:
        """What is still missing of a stop: its day by the log, its mode as asked."""
        for stop in self.all:
            span = self.log.days_of(stop.ring) if stop.ring is not None else None
            if stop.day is None and span is not None:
                stop.day = span[0]
            if stop.mode is None and (stop.readings or stop.changes):
                stop.mode = self.answers.ask(
                    "mode",
                    "No sheet says how people were in at these stops. In free air or in compressed air?",
                    ("free air", "compressed air", "mixed gas", "saturation", "divers"),
                    about="meaning",
                    count=sum(s.mode is None for s in self.all),
                    holds=("stops",),
                )


def text_at(at: At) -> str:
    return at[0].text(at[1], at[2])


def source_of(at: At | None) -> str:
    """Sheet and cell as one word: ``Wear history!H13``."""
    return f"{at[0].name}!{at[0].address(at[1], at[2])}" if at is not None else ""
