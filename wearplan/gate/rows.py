"""Rows of the logs before they are appended: rings, words of sensors, events.

Gaps, repeated rows and cells that cannot be read are told where the rows are read; they never block.
"""

from __future__ import annotations

import re
from bisect import bisect_left, insort
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from wearplan.gate.finding import CONTRADICTED, Finding
from wearplan.gate.when import (
    CLOCKS_APART,
    allowed_apart_m,
    expected_end_m,
    judge_against_the_log,
    judge_clock,
    judge_place,
    utc,
)
from wearplan.site.records import Event, RingRow, SensorWord, Site

_WORD = re.compile(r"\s*(?:reported\s+(\d+(?:[.,]\d+)?)(?:\s*mm)?|(line proved))\s*", re.IGNORECASE)
ACCEPTANCE = "accepted"
"""Kind of the event that keeps who accepted a row of a log, and why: the row itself has no place for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedRing:
    """A ring row with what speaks against it; nothing for one that is on record already."""

    row: RingRow
    findings: tuple[Finding, ...] = ()


def judge_word(site: Site, word: SensorWord | Event, *, now: datetime) -> tuple[Finding, ...]:
    """What speaks against a sensor's word or an event: ring, chainage and time against the log and each other."""
    what = "event" if isinstance(word, Event) else "word"
    found: list[Finding] = []
    if word.ring is not None:
        found += judge_place(site, word.ring, word.chainage_m, word.driven_m)
        if word.at is not None:
            found += judge_against_the_log(site, word.ring, word.at, None, what)
    return (*found, *judge_clock(site, {"time": word.at}, now, what))


def acceptance(site: Site, words: str, row: RingRow | SensorWord, *, now: datetime) -> Event:
    """The event that keeps who accepted a row and why, where the row itself has no place for it."""
    driven_m = row.end_m if isinstance(row, RingRow) else row.driven_m
    if driven_m is None:
        driven_m = (row.ring or 0) * site.drive.ring_length_m
    at = now.replace(microsecond=0)
    at_m = site.drive.chainage_m(driven_m)
    return Event(kind=ACCEPTANCE, ring=row.ring, chainage_m=at_m, driven_m=driven_m, at=at, note=words)


def sensor_reading(site: Site, number: int, text: str) -> float | None:
    """What a sensor is said to have reported, in mm; None for ``line proved``.

    Raises
    ------
    ValueError
        With a sentence, where these are no words of the sensor of that place.
    """
    match = _WORD.fullmatch(text)
    if not match:
        raise ValueError(f"'{text}' is no sensor word: write \"reported 12.0\" or \"line proved\"")
    place = next((each for each in site.wheel.positions if each.number == number), None)
    if place is None:
        raise ValueError(f"there is no place {number} on the wheel")
    if not place.sensor_mm:
        raise ValueError(f"place {number} has no sensor_mm in wheel.toml; add it there first")
    reported = float(match[1].replace(",", ".")) if match[1] else None
    if reported is not None and reported not in place.sensor_mm:
        has = ", ".join(f"{value:g}" for value in place.sensor_mm)
        raise ValueError(f"the sensor of place {number} reports at {has} mm, not at {reported:g} mm")
    return reported


def judge_rings(site: Site, rows: Sequence[RingRow], *, now: datetime) -> tuple[JudgedRing, ...]:
    """Hold each ring row against the log and the sound rows before it.

    Parameters
    ----------
    now : datetime
        With its offset. A clock that runs behind the ring log is not believed.
    """
    ends = {row.ring: row.end_m for row in site.rings if not row.damaged and row.end_m is not None}
    times = {row.ring: utc(row.finished_at) for row in site.rings if not row.damaged and row.finished_at is not None}
    on_record = {row.ring for row in site.rings if not row.damaged}
    log = _Log(site, ends, times, now)
    judged = []
    for row in rows:
        findings = () if row.ring in on_record or row.damaged else tuple(log.judge(row))
        judged.append(JudgedRing(row=row, findings=findings))
        if not findings and not row.damaged:
            log.take(row)
    return tuple(judged)


class _Log:
    """What the log says so far, in the order of the rings."""

    def __init__(self, site: Site, ends: dict[int, float], times: dict[int, datetime], now: datetime) -> None:
        self._site, self._ends, self._times = site, ends, times
        self._now = now if not times or now >= max(times.values()) else None
        self._placed, self._timed = sorted(ends), sorted(times)

    def take(self, row: RingRow) -> None:
        if row.end_m is not None and row.ring not in self._ends:
            self._ends[row.ring] = row.end_m
            insort(self._placed, row.ring)
        if row.finished_at is not None and row.ring not in self._times:
            self._times[row.ring] = utc(row.finished_at)
            insort(self._timed, row.ring)

    def judge(self, row: RingRow) -> Iterator[Finding]:
        ring, length_m = row.ring, self._site.drive.ring_length_m
        if row.end_m is not None and self._placed:
            near = min(_around(self._placed, ring), key=lambda number: abs(number - ring))
            nearest = {near: self._ends[near]}
            away = abs(expected_end_m(nearest, ring, length_m) - row.end_m)
            if away > allowed_apart_m(nearest, ring, length_m):
                sentence = f"ring {ring} is said to end {away:.0f} m from where ring {near} puts it."
                yield _no("ring-and-chainage", ring, sentence, "Look at both in the export.")
        if row.finished_at is None:
            return
        at = utc(row.finished_at)
        for other in _around(self._timed, ring):
            apart = self._times[other] - at if other < ring else at - self._times[other]
            if other != ring and apart > CLOCKS_APART:
                theirs = f"ring {other} on {self._times[other]:%Y-%m-%d}"
                sentence = f"ring {ring} is said to be finished on {at:%Y-%m-%d}, {theirs}."
                yield _no("ring-and-date", ring, sentence, "Look at both dates.")
                break
        if self._now is not None and at > self._now:
            sentence = f"ring {ring} is said to be finished on {at:%Y-%m-%d %H:%M}, in the future."
            yield _no("future-ring", ring, sentence, "Look at the dates of the export.")


def _around(numbers: Sequence[int], ring: int) -> list[int]:
    """The numbers next to a ring on either side, itself included where it is there."""
    at = bisect_left(numbers, ring)
    return list(numbers[max(at - 1, 0) : at + 2])


def _no(name: str, ring: int, sentence: str, remedy: str) -> Finding:
    return Finding(name=f"{name}:{ring}", kind=CONTRADICTED, sentence=sentence, remedy=remedy)
