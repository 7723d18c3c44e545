"""Ring, chainage, date, pressure and mode against the ring log, the other stops and the window."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta

from wearplan.gate.finding import CONTRADICTED, ODD, Finding
from wearplan.site.records import Inspection, Site

CLOCKS_APART = timedelta(hours=12)
"""How far the clock of the ring log and that of the sheet may disagree before a date is doubted: half a day, a value
from memory (a shift written under the wrong day is caught, a time zone is not)."""
PACE_AT_MOST = 3.0
"""Times the site's own pace: what cannot be reached even so is contradicted."""
PRESSURE_APART_BAR = 1.0
"""A pressure further than this from the window's is taken for a slip (a value from memory)."""


def judge_where_and_when(
    site: Site, inspection: Inspection, others: Sequence[Inspection], now: datetime
) -> Iterator[Finding]:
    yield from _place(site, inspection)
    yield from _against_the_log(site, inspection)
    yield from _clock(site, inspection, now)
    yield from _other_stops(inspection, others)
    yield from _air(site, inspection)


def _utc(at: datetime) -> datetime:
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def _no(name: str, sentence: str, remedy: str) -> Finding:
    return Finding(name=name, kind=CONTRADICTED, sentence=sentence, remedy=remedy)


def _place(site: Site, inspection: Inspection) -> Iterator[Finding]:
    ring_m = inspection.ring * site.drive.ring_length_m
    rows = [row for row in site.rings if row.ring == inspection.ring and not row.damaged and row.end_m is not None]
    if rows and rows[0].end_m is not None:
        ring_m = rows[0].end_m
    elif site.rings:
        ends = [(row.ring, row.end_m) for row in site.rings if not row.damaged and row.end_m is not None]
        if not ends:
            return
        ring, end_m = min(ends, key=lambda end: abs(end[0] - inspection.ring))
        ring_m = end_m + (inspection.ring - ring) * site.drive.ring_length_m
    away = abs(ring_m - inspection.driven_m)
    if away > 3 * site.drive.ring_length_m:
        yield _no(
            "ring-and-chainage",
            f"ring {inspection.ring} and chainage {inspection.chainage_m:g} m lie {away:.0f} m apart.",
            "Read both from the paper again.",
        )


def _against_the_log(site: Site, inspection: Inspection) -> Iterator[Finding]:
    ends = {row.ring: _utc(row.finished_at) for row in site.rings if row.finished_at is not None and not row.damaged}
    if not ends:
        return
    started, last = _utc(inspection.started_at), max(ends)
    ring, remedy = inspection.ring, "Read ring and date from the paper again."
    done = max((at for number, at in ends.items() if number < ring), default=None)
    if done is not None and started < done - CLOCKS_APART:
        yield _no("date-before-ring", f"rings before {ring} were still being built on {started:%Y-%m-%d}.", remedy)
    following = min((at for number, at in ends.items() if number > ring + 1), default=None)
    if following is not None and started > following + CLOCKS_APART:
        yield _no(
            "date-after-ring",
            f"the drive had passed ring {ring} by {following:%Y-%m-%d}, the stop began {started:%Y-%m-%d} "
            f"(the log goes to ring {last}).",
            remedy,
        )
    elif following is not None and inspection.ended_at and _utc(inspection.ended_at) > following + CLOCKS_APART:
        yield _no("longer-than-rings", f"the stop ends after ring {ring + 2} was built.", remedy)
    if ring > last:
        days = max((started - ends[last]).total_seconds() / 86400, 0.0)
        need_m = (ring - last) * site.drive.ring_length_m
        reach_m = PACE_AT_MOST * site.pace.advance_m_per_day * (days + 1.0)
        sentence = f"ring {ring} lies {need_m:.0f} m beyond the last logged ring ({last}), {days:.0f} days after it."
        kind = CONTRADICTED if need_m > reach_m else ODD
        yield Finding(name="beyond-the-log", kind=kind, sentence=sentence, remedy=remedy)


def _clock(site: Site, inspection: Inspection, now: datetime) -> Iterator[Finding]:
    newest = max((_utc(row.finished_at) for row in site.rings if row.finished_at is not None), default=None)
    if newest is not None and now < newest:
        return
    for what, at in (("start", inspection.started_at), ("end", inspection.ended_at)):
        if at is not None and _utc(at) > now:
            sentence = f"the {what} of the stop, {at:%Y-%m-%d %H:%M}, lies in the future."
            yield _no(f"future-{what}", sentence, "Correct day, month and year.")
    if inspection.ended_at is not None and _utc(inspection.ended_at) < _utc(inspection.started_at):
        yield _no("ends-before-start", "the stop ends before it starts.", "Correct one of the two times.")


def _other_stops(inspection: Inspection, others: Sequence[Inspection]) -> Iterator[Finding]:
    started = _utc(inspection.started_at)
    ended = _utc(inspection.ended_at or inspection.started_at)
    for other in others:
        theirs = _utc(other.ended_at or other.started_at)
        if other.driven_m < inspection.driven_m and started < theirs:
            which = f"it begins before stop {other.id} (ring {other.ring}), which lies behind it, had ended."
        elif other.driven_m > inspection.driven_m and ended > _utc(other.started_at):
            which = f"it ends after stop {other.id} (ring {other.ring}), which lies ahead of it, had begun."
        else:
            continue
        yield _no("order-of-stops", which, "Read ring, chainage and dates from the paper again.")
        return


def _air(site: Site, inspection: Inspection) -> Iterator[Finding]:
    bar, remedy = inspection.pressure_bar, "Read mode and pressure from the paper again."
    if bar is not None and (bar > 0) == (inspection.mode == "free air"):
        yield _no("mode-and-pressure", f"{inspection.mode} at {bar:g} bar contradicts itself.", remedy)
    at = inspection.driven_m
    for window in site.stops.windows if site.stops else ():
        if not window.from_m <= at <= window.to_m:
            continue
        if inspection.mode == "free air" and window.mode != "free air":
            yield _no("mode-and-window", f"{window.name} is entered in {window.mode}, not in free air.", remedy)
        elif bar is not None and inspection.mode == window.mode and abs(bar - window.pressure_bar) > PRESSURE_APART_BAR:
            sentence = f"{bar:g} bar, where {window.name} has {window.pressure_bar:g} bar."
            yield _no("pressure-and-window", sentence, remedy)
