"""Which inspections are in force: records that later ones correct stand aside, none is lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wearplan.site.parse.faults import ALL, NOTHING, FaultLog
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.records import Inspection


@dataclass(frozen=True)
class Entry:
    """One file of a stop, as far as corrections go; ``record`` is None where it could not be read."""

    id: str
    corrects: str | None
    file: str
    record: Inspection | None


@dataclass(frozen=True)
class Standing:
    """What became of the records."""

    in_force: tuple[Inspection, ...]
    corrected: tuple[Inspection, ...]
    """Records that others replaced, and those that take one back and say nothing themselves."""
    settled: tuple[str, ...]
    """Files, readable or not, that a later record replaced: what is wrong in them no longer matters."""


def in_order(inspections: Sequence[Inspection]) -> tuple[Inspection, ...]:
    """By the drive (metres, then ring); the clock only decides between records of the same place."""
    return tuple(sorted(inspections, key=lambda one: (one.driven_m, one.ring, one.started_at, one.id)))


def resolve(entries: Sequence[Entry], log: FaultLog) -> Standing:
    """Split records into those in force and those that a later record replaced.

    A record and all that correct it, directly or by turns, are one matter, and one of them holds: the latest by id
    (ids begin with the time of writing) of those that nothing corrects. Where there are several such, that is named
    until a record corrects the one that holds, since whoever writes it has seen them all.
    """
    by_id = {entry.id: entry for entry in entries}
    children: dict[str, list[Entry]] = {}
    roots: list[Entry] = []
    circle = _on_a_circle(by_id)
    for entry in entries:
        target = entry.corrects
        if entry.id in circle:
            what = (
                f"{shown(entry.id)} and {shown(target)} correct each other in a circle; which one holds cannot be "
                "told: take `corrects` out of one"
            )
            log.add(entry.file, 1, "corrects", what, code="corrects-circle", forbids=ALL)
            roots.append(entry)
        elif target in by_id:
            children.setdefault(str(target), []).append(entry)
        else:
            roots.append(entry)
            if target is not None and entry.record is not None:
                what = (
                    f"there is no record {shown(target)} here ({did_you_mean(target, by_id)}); both will be reckoned "
                    "with until it is merged in or corrected"
                )
                log.add(entry.file, 1, "corrects", what, code="corrects-unknown", forbids=NOTHING)
    holders = {_holder(root, children, log).id for root in roots}
    records = [entry.record for entry in entries if entry.record is not None]
    standing = {record.id for record in records if record.id in holders and not record.withdraws}
    return Standing(
        in_force=in_order([record for record in records if record.id in standing]),
        corrected=in_order([record for record in records if record.id not in standing]),
        settled=tuple(entry.file for entry in entries if entry.id not in holders),
    )


def _holder(root: Entry, children: dict[str, list[Entry]], log: FaultLog) -> Entry:
    """The record that holds among a record and its corrections."""
    leaves, open_ = [], [root]
    while open_:
        entry = open_.pop()
        if entry.id in children:
            open_.extend(children[entry.id])
        else:
            leaves.append(entry)
    leaves.sort(key=lambda entry: entry.id)
    holder = leaves[-1]
    if len(leaves) > 1 and not (holder.corrects or "") > leaves[-2].id:
        names = ", ".join(shown(entry.id) for entry in leaves[-8:])
        what = (
            f"{shown(root.id)} is corrected by several records ({names}); {shown(holder.id)} holds, as the latest: "
            "settle it by a record that corrects this one"
        )
        log.add(holder.file, 1, "corrects", what, code="corrects-twice", forbids=NOTHING)
    return holder


def _on_a_circle(by_id: dict[str, Entry]) -> set[str]:
    """Ids on a circle of corrections."""
    done: set[str] = set()
    circle: set[str] = set()
    for start in by_id:
        trail: dict[str, int] = {}
        here: str | None = start
        while here is not None and here in by_id and here not in done and here not in trail:
            trail[here] = len(trail)
            here = by_id[here].corrects
        if here in trail:
            circle.update(list(trail)[trail[here] :])
        done.update(trail)
    return circle
