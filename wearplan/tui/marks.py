"""What the marks on the wheel say, by the way of showing chosen."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from wearplan.report.drawing.face import Mark, age_texts, chance_texts, wear_texts
from wearplan.report.drawing.profile import Bar
from wearplan.report.trouble import LEADING, trouble_of

if TYPE_CHECKING:
    from wearplan.history import Life, Reading
    from wearplan.site.records import Position
    from wearplan.tui.state import Snapshot

SHOWS = {
    "wear": "wear now",
    "chance": "chance of passing the limit",
    "seen": "when last read",
    "zone": "zone and arm",
    "number": "place numbers",
}
"""Way of showing: its words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceNow:
    """What is known of one place at the face."""

    number: int
    serial: str | None
    tool_type: str
    kind: str
    zone: str
    arm: str | None
    limit_mm: float
    read_mm: float | None
    """The last sound reading of the tool in place."""
    read_at_m: float | None
    stops_ago: int | None
    """Inspections since this place was last read; None: never."""
    wear_mm: float | None
    """Median of the outlook at the face; the last reading while there is no outlook."""
    band_mm: tuple[float | None, float | None]
    """The range it lies in nine times out of ten."""
    unknown: bool
    """True while nothing was read of the tool in place."""
    damaged: bool = False
    """Its last record says so, and it is still on the wheel."""
    trouble: str | None = None
    """Lost, seized, cracked or flat by the records: it leads every list of what is due."""
    stop: int | None = None
    """Number of the stop of the plan at which it is changed; None: never."""
    partners: tuple[int, ...] = ()
    """Other positions of its housing or row."""

    @property
    def share(self) -> float | None:
        """Share of its limit used; None where it is not known."""
        return None if self.unknown or self.wear_mm is None else self.wear_mm / self.limit_mm

    @property
    def due(self) -> bool:
        """Changed at the next stop."""
        return self.stop == 1


def places_now(snapshot: Snapshot) -> dict[int, PlaceNow]:
    """Every place of the wheel as it stands, by number."""
    site, history = snapshot.site, snapshot.history
    if site is None or history is None:
        return {}
    layout = history.layout
    tools = snapshot.tools
    visits = [inspection.driven_m for inspection in site.inspections]
    stops = stop_numbers(snapshot)
    together = partners(layout.positions)
    rows = {}
    for index, position in enumerate(layout.positions):
        life = history.current.get(position.number)
        read = _last_sound(life)
        seen = history.last_seen.get(position.number)
        tool = tools.get(position.number)
        wear = tool.wear_now_mm.p50 if tool else (read.wear_mm if read else None)
        band = (tool.wear_now_mm.p05, tool.wear_now_mm.p95) if tool else (None, None)
        fresh = life is not None and life.fitted_by is not None
        rows[position.number] = PlaceNow(
            number=position.number,
            serial=life.serial if life else None,
            tool_type=position.tool_type,
            kind=layout.kinds[index],
            zone=position.zone,
            arm=position.arm,
            limit_mm=float(layout.limit_mm[index]),
            read_mm=read.wear_mm if read else None,
            read_at_m=read.driven_m if read else None,
            stops_ago=None if seen is None else sum(1 for at in visits if at > seen[0] + 1e-6),
            wear_mm=wear,
            band_mm=band,
            unknown=bool(getattr(tool, "unknown", False)) or (read is None and not fresh),
            damaged=is_damaged(life),
            trouble=trouble_of(life),
            stop=stops.get(position.number),
            partners=together.get(position.number, ()),
        )
    return rows


def stop_numbers(snapshot: Snapshot) -> dict[int, int]:
    """Place to the number of the first stop at which the plan changes it."""
    found: dict[int, int] = {}
    for number, stop in enumerate(snapshot.plan.stops if snapshot.plan else (), start=1):
        for change in stop.changes:
            for position in change.positions:
                found.setdefault(position, number)
    return found


def partners(positions: Iterable[Position]) -> dict[int, tuple[int, ...]]:
    """Place to the others of its housing or row."""
    groups: dict[tuple[str, str], list[int]] = {}
    for position in positions:
        for kind, code in (("housing", position.housing), ("row", position.row)):
            if code:
                groups.setdefault((kind, code), []).append(position.number)
    found: dict[int, set[int]] = {}
    for numbers in groups.values():
        for number in numbers:
            found.setdefault(number, set()).update(other for other in numbers if other != number)
    return {number: tuple(sorted(others)) for number, others in found.items() if others}


def links(positions: Iterable[Position]) -> tuple[tuple[int, int], ...]:
    """Pairs of positions that sit in one housing."""
    groups: dict[str, list[int]] = {}
    for position in positions:
        if position.housing:
            groups.setdefault(position.housing, []).append(position.number)
    return tuple(pair for numbers in groups.values() for pair in pairwise(sorted(numbers)))


def is_damaged(life: Life | None) -> bool:
    """Whether the last record of the tool in place says that it is damaged."""
    return life is not None and life.in_trouble


def _last_sound(life: Life | None) -> Reading | None:
    """The last reading of a tool that says how worn it was."""
    told = life.readings if life else ()
    return next((reading for reading in reversed(told) if reading.sound and reading.wear_mm is not None), None)


def marks_of(
    snapshot: Snapshot, rows: dict[int, PlaceNow], show: str, at_m: float | None, *, plain: bool
) -> list[Mark]:
    """The marks for a way of showing; ``at_m`` is the place the chance is for."""
    site, history, outlook = snapshot.site, snapshot.history, snapshot.outlook
    if site is None or history is None:
        return []
    chances: dict[int, float] = {}
    if show == "chance" and outlook is not None and at_m is not None:
        chances = dict(zip(outlook.numbers.tolist(), outlook.over_limit_probability(at_m).tolist(), strict=True))
    arms = sorted({position.arm for position in history.layout.positions if position.arm})
    marks = []
    for position in history.layout.positions:
        row = rows[position.number]
        if show == "wear":
            texts = wear_texts(row.share, row.number, damaged=row.damaged, due=row.due, plain=plain)
        elif show == "chance":
            cap = site.wheel.max_over_limit_probability.get(position.zone)
            texts = chance_texts(chances.get(position.number), cap, row.number)
        elif show == "seen":
            texts = age_texts(row.stops_ago, row.number)
        elif show == "zone":
            both = position.zone[0] + (position.arm or "")[:1]
            level = ("light", "worn", "near", "plain")[arms.index(position.arm) % 4] if position.arm else "plain"
            texts = {"short": both[0], "long": both, "level": level}
        else:
            name = str(position.number)
            texts = {"short": name[-1], "long": name, "level": "plain"}
        marks.append(
            Mark(
                number=position.number,
                track_radius_mm=position.track_radius_mm,
                angle_deg=position.angle_deg,
                **texts,
            )
        )
    return marks


def worst_first(rows: dict[int, PlaceNow]) -> list[int]:
    """Lost, seized, cracked, flat; other damaged; those nothing is known of; then by how much of the limit is used."""

    def key(row: PlaceNow) -> tuple[int, float, int]:
        if row.trouble is not None:
            return (-1, float(LEADING.index(row.trouble)), row.number)
        if row.damaged:
            return (0, 0.0, row.number)
        return (1, 0.0, row.number) if row.share is None else (2, -row.share, row.number)

    return [row.number for row in sorted(rows.values(), key=key)]


def bars_of(snapshot: Snapshot, rows: dict[int, PlaceNow], at_m: float | None) -> tuple[list[Bar], list[Bar]]:
    """Bars of discs and of the others, from the centre outwards; ``at_m`` is where a tool left would stand."""
    history, outlook = snapshot.history, snapshot.outlook
    later: dict[int, float] = {}
    if outlook is not None and at_m is not None:
        middle = np.median(outlook.wear_at(at_m), axis=0) / outlook.limit_mm
        later = dict(zip(outlook.numbers.tolist(), middle.tolist(), strict=True))
    groups: tuple[list[Bar], list[Bar]] = ([], [])
    positions = sorted(history.layout.positions if history else (), key=lambda p: (p.track_radius_mm, p.number))
    for position in positions:
        row = rows[position.number]
        bar = Bar(number=row.number, share=row.share, later=later.get(row.number), due=row.due, damaged=row.damaged)
        groups[0 if row.kind in ("disc", "centre tool") else 1].append(bar)
    return groups
