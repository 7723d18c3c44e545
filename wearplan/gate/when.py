"""Ring, chainage, date, pressure and mode against the ring log, the other stops and the window."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
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
    yield from judge_place(site, inspection.ring, inspection.chainage_m, inspection.driven_m)
    yield from judge_against_the_log(site, inspection.ring, inspection.started_at, inspection.ended_at)
    yield from _clock(site, inspection, now)
    yield from _other_stops(inspection, others)
    yield from _air(site, inspection)


def utc(at: datetime) -> datetime:
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def _no(name: str, sentence: str, remedy: str) -> Finding:
    return Finding(name=name, kind=CONTRADICTED, sentence=sentence, remedy=remedy)


def judge_place(site: Site, ring: int, chainage_m: float, driven_m: float) -> Iterator[Finding]:
    """Ring and chainage against each other, by the ring log where it has the ring, else by its nearest row."""
    ends = {row.ring: row.end_m for row in site.rings if not row.damaged and row.end_m is not None}
    if site.rings and not ends:
        return
    away = abs(expected_end_m(ends, ring, site.drive.ring_length_m) - driven_m)
    if away > allowed_apart_m(ends, ring, site.drive.ring_length_m):
        sentence = f"ring {ring} and chainage {chainage_m:g} m lie {away:.0f} m apart."
        yield _no("ring-and-chainage", sentence, "Read both from the paper again.")


def expected_end_m(ends: Mapping[int, float], ring: int, ring_length_m: float) -> float:
    """Where a ring ends, in driven metres: by its row, else from the nearest one at so many metres a ring."""
    if not ends:
        return ring * ring_length_m
    near = ring if ring in ends else min(ends, key=lambda number: abs(number - ring))
    return ends[near] + (ring - near) * ring_length_m


def allowed_apart_m(ends: Mapping[int, float], ring: int, ring_length_m: float) -> float:
    """Three rings, and one in fifty of those no row is there for (tapered and short rings; a value from memory)."""
    gap = min((abs(number - ring) for number in ends), default=0)
    return (3.0 + gap / 50.0) * ring_length_m


def judge_against_the_log(
    site: Site, ring: int, begun: datetime, ended: datetime | None, what: str = "stop"
) -> Iterator[Finding]:
    """A ring and its time against the times of the rings before and after it, and the pace beyond the last."""
    ends = {row.ring: utc(row.finished_at) for row in site.rings if row.finished_at is not None and not row.damaged}
    if not ends:
        return
    started, last = utc(begun), max(ends)
    remedy = "Read ring and date from the paper again."
    done = max((at for number, at in ends.items() if number < ring), default=None)
    if done is not None and started < done - CLOCKS_APART:
        yield _no("date-before-ring", f"rings before {ring} were still being built on {started:%Y-%m-%d}.", remedy)
    following = min((at for number, at in ends.items() if number > ring + 1), default=None)
    if following is not None and started > following + CLOCKS_APART:
        yield _no(
            "date-after-ring",
            f"the drive had passed ring {ring} by {following:%Y-%m-%d}, the {what} is said to be of {started:%Y-%m-%d} "
            f"(the log goes to ring {last}).",
            remedy,
        )
    elif following is not None and ended and utc(ended) > following + CLOCKS_APART:
        yield _no("longer-than-rings", f"the stop ends after ring {ring + 2} was built.", remedy)
    if ring > last:
        days = max((started - ends[last]).total_seconds() / 86400, 0.0)
        need_m = (ring - last) * site.drive.ring_length_m
        reach_m = PACE_AT_MOST * site.pace.advance_m_per_day * (days + 1.0)
        sentence = f"ring {ring} lies {need_m:.0f} m beyond the last logged ring ({last}), {days:.0f} days after it."
        kind = CONTRADICTED if need_m > reach_m else ODD
        yield Finding(name="beyond-the-log", kind=kind, sentence=sentence, remedy=remedy)


def judge_clock(
    site: Site, times: Mapping[str, datetime | None], now: datetime, what: str = "stop"
) -> Iterator[Finding]:
    """Times in the future, by name; a clock that runs behind the ring log is not believed."""
    newest = max((utc(row.finished_at) for row in site.rings if row.finished_at is not None), default=None)
    if newest is not None and now < newest:
        return
    for name, at in times.items():
        if at is not None and utc(at) > now:
            sentence = f"the {name} of the {what}, {at:%Y-%m-%d %H:%M}, lies in the future."
            yield _no(f"future-{name}", sentence, "Correct day, month and year.")


def _clock(site: Site, inspection: Inspection, now: datetime) -> Iterator[Finding]:
    yield from judge_clock(site, {"start": inspection.started_at, "end": inspection.ended_at}, now)
    if inspection.ended_at is not None and utc(inspection.ended_at) < utc(inspection.started_at):
        yield _no("ends-before-start", "the stop ends before it starts.", "Correct one of the two times.")


def _other_stops(inspection: Inspection, others: Sequence[Inspection]) -> Iterator[Finding]:
    started = utc(inspection.started_at)
    ended = utc(inspection.ended_at or inspection.started_at)
    for other in others:
        theirs = utc(other.ended_at or other.started_at)
        if other.driven_m < inspection.driven_m and started < theirs:
            which = f"it begins before stop {other.id} (ring {other.ring}), which lies behind it, had ended."
        elif other.driven_m > inspection.driven_m and ended > utc(other.started_at):
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
