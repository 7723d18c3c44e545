"""What another copy of a site folder has that this one has not, and whether anything here speaks against it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from wearplan.gate.finding import Finding, contradicted
from wearplan.gate.judge import judge, with_record
from wearplan.gate.rows import judge_rings, judge_word
from wearplan.site.records import Event, Inspection, RingRow, SensorWord, Site

PEOPLE_S = ("site.toml", "wheel.toml", "stops.toml", "stores.toml", "take.toml")
"""Written by people as a whole: what differs there is named, never taken."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """New facts of another copy."""

    inspections: tuple[Path, ...] = ()
    """Files of the other copy, in an order in which each may be written."""
    grounds: tuple[Path, ...] = ()
    rings: tuple[RingRow, ...] = ()
    words: tuple[SensorWord, ...] = ()
    events: tuple[Event, ...] = ()
    refused: tuple[tuple[str, Finding], ...] = ()
    """What it is of, and what contradicts it."""
    differs: tuple[str, ...] = ()
    """Files whose texts differ and are left as they are."""

    @property
    def empty(self) -> bool:
        return not (self.inspections or self.grounds or self.rings or self.words or self.events)


def brought(here: Site, there: Site, *, now: datetime) -> Brought:
    """What ``there`` has and ``here`` has not, judged as if it were written here one after the other.

    Raises
    ------
    ValueError
        Where the two are not copies of one drive.
    """
    if here.drive != there.drive or here.name != there.name:
        raise ValueError(f"{there.name} is another drive: only a copy of {here.name} can be merged into it")
    assert here.folder is not None
    assert there.folder is not None
    refused: list[tuple[str, Finding]] = []
    rings = _rings(here, there, refused, now)
    logged = replace(here, rings=(*here.rings, *rings))
    inspections = _inspections(logged, there, refused, now)
    known = {(word.position, round(word.driven_m, 3), word.at, word.reported_mm) for word in here.sensor_words}
    words = [
        word
        for word in there.sensor_words
        if (word.position, round(word.driven_m, 3), word.at, word.reported_mm) not in known
        and _passes(f"sensor word of place {word.position}", judge_word(logged, word, now=now), refused)
    ]
    told = {(round(event.driven_m, 3), event.at, event.kind, event.note) for event in here.events}
    events = [
        event
        for event in there.events
        if (round(event.driven_m, 3), event.at, event.kind, event.note) not in told
        and _passes(f"event {event.kind}", judge_word(logged, event, now=now), refused)
    ]
    return Brought(
        inspections=tuple(inspections), grounds=tuple(_new_files(here.folder, there.folder, "ground")), rings=rings,
        words=tuple(words), events=tuple(events), refused=tuple(refused),
        differs=tuple(_differing(here.folder, there.folder)),
    )  # fmt: skip


def _passes(what: str, findings: tuple[Finding, ...], refused: list[tuple[str, Finding]]) -> bool:
    against = contradicted(findings)
    refused.extend((what, finding) for finding in against)
    return not against


def _rings(here: Site, there: Site, refused: list[tuple[str, Finding]], now: datetime) -> tuple[RingRow, ...]:
    known = {row.ring for row in here.rings}
    new = [row for row in there.rings if row.ring not in known and row.damaged is None]
    judged = judge_rings(here, new, now=now) if new else ()
    return tuple(one.row for one in judged if _passes(f"ring {one.row.ring}", one.findings, refused))


def _inspections(here: Site, there: Site, refused: list[tuple[str, Finding]], now: datetime) -> Iterator[Path]:
    """Files of new records, the oldest first; each is judged with those before it in place."""
    known = {one.id for one in (*here.inspections, *here.corrected)}
    new = [one for one in (*there.inspections, *there.corrected) if one.id not in known]
    for record in _in_order(new):
        if not _passes(f"inspection {record.id}", judge(here, record, now=now), refused):
            continue
        here = with_record(here, record)
        assert there.folder is not None
        yield there.folder / record.origin.file


def _in_order(records: list[Inspection]) -> list[Inspection]:
    """By start; what corrects another one after it."""
    waiting = sorted(records, key=lambda one: (one.started_at, one.id))
    ordered: list[Inspection] = []
    while waiting:
        ids = {one.id for one in waiting}
        ready = [one for one in waiting if one.corrects not in ids] or waiting[:1]
        ordered += ready
        waiting = [one for one in waiting if one not in ready]
    return ordered


def _new_files(here: Path, there: Path, room: str) -> Iterator[Path]:
    for path in sorted((there / room).glob("[!.]*.toml")):
        if not (here / room / path.name).exists():
            yield path


def _differing(here: Path, there: Path) -> Iterator[str]:
    """Files both have with other texts; those of one record each are never taken over one another."""
    names = [
        *PEOPLE_S,
        *(
            f"{path.parent.name}/{path.name}"
            for room in ("ground", "inspections")
            for path in sorted((there / room).glob("[!.]*.toml"))
        ),
    ]
    for name in names:
        mine, theirs = here / name, there / name
        if mine.is_file() and theirs.is_file() and mine.read_bytes() != theirs.read_bytes():
            yield name
