"""Which inspections are in force: records that later ones correct stand aside, none is lost."""

from __future__ import annotations

from collections.abc import Sequence

from wearplan.site.faults import ALL, NOTHING, FaultLog
from wearplan.site.records import Inspection
from wearplan.site.text import did_you_mean, shown


def in_order(inspections: Sequence[Inspection]) -> tuple[Inspection, ...]:
    """By the drive (metres, then ring); the clock only decides between records of the same place."""
    return tuple(sorted(inspections, key=lambda one: (one.driven_m, one.ring, one.started_at, one.id)))


def resolve(
    inspections: Sequence[Inspection], log: FaultLog, *, elsewhere: Sequence[str] = ()
) -> tuple[tuple[Inspection, ...], tuple[Inspection, ...]]:
    """Split inspections into those in force and those that a later record replaced.

    A record and all that correct it, directly or by turns, are one matter, and one of them holds: the latest by id
    (ids begin with the time of writing) of those that nothing corrects. Where there are several such, that is named
    until a record corrects the one that holds, since whoever writes it has seen them all.

    Parameters
    ----------
    elsewhere
        Ids of records that are there but could not be read.
    """
    by_id = {one.id: one for one in inspections}
    children: dict[str, list[Inspection]] = {}
    roots: list[Inspection] = []
    cyclic = _cyclic(by_id)
    for one in inspections:
        target = one.corrects
        if one.id in cyclic:
            log.add(
                one.origin.file, one.origin.line, "corrects", f"{shown(one.id)} and {shown(target)} correct each "
                f"other in a "
                "circle; which one holds cannot be told: take `corrects` out of one",
                code="corrects-circle", forbids=ALL,
            )  # fmt: skip
            roots.append(one)
        elif target in by_id:
            children.setdefault(str(target), []).append(one)
        else:
            roots.append(one)
            if target is not None and target not in elsewhere:
                log.add(
                    one.origin.file, one.origin.line, "corrects", f"there is no record {shown(target)} here "
                    f"({did_you_mean(target, by_id)}); both will be reckoned with until it is merged in or corrected",
                    code="corrects-unknown", forbids=NOTHING,
                )  # fmt: skip
    force = [_holder(root, children, log) for root in roots]
    holding = {one.id for one in force}
    return in_order(force), in_order([one for one in inspections if one.id not in holding])


def _holder(root: Inspection, children: dict[str, list[Inspection]], log: FaultLog) -> Inspection:
    """The record that holds among a record and its corrections."""
    leaves, open_ = [], [root]
    while open_:
        one = open_.pop()
        if one.id in children:
            open_.extend(children[one.id])
        else:
            leaves.append(one)
    leaves.sort(key=lambda one: one.id)
    holder = leaves[-1]
    if len(leaves) > 1 and not (holder.corrects or "") > leaves[-2].id:
        names = ", ".join(shown(one.id) for one in leaves)
        log.add(
            holder.origin.file, holder.origin.line, "corrects", f"{shown(root.id)} is corrected by several records "
            f"({names}); "
            f"{shown(holder.id)} holds, as the latest: settle it by a record that corrects this one",
            code="corrects-twice", forbids=NOTHING,
        )  # fmt: skip
    return holder


def _cyclic(by_id: dict[str, Inspection]) -> set[str]:
    """Ids on a circle of corrections."""
    state: dict[str, int] = {}
    cyclic: set[str] = set()
    for start in by_id:
        trail: list[str] = []
        here: str | None = start
        while here is not None and here in by_id and here not in state:
            state[here] = 1
            trail.append(here)
            here = by_id[here].corrects
        if here is not None and state.get(here) == 1:
            cyclic.update(trail[trail.index(here) :])
        for one in trail:
            state[one] = 2
    return cyclic
