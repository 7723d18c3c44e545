"""What is changed as one, what works as one, and what stands next to what."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from wearplan.site.records import ZONES
from wearplan.wheel.layout import Layout

SAME_TRACK_MM = 1.0
"""Tracks closer than this are one track."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """One physical tool: a single edge, or the edges of one housing."""

    code: str
    positions: tuple[int, ...]
    tool_type: str
    zone: str
    access: str
    row: str | None = None
    arm: str | None = None


def places(layout: Layout) -> tuple[Place, ...]:
    """The tools that are changed as one, by their lowest position.

    A housing that reaches over two zones counts as the outer one; it is changed from the chamber unless all its
    edges can be reached from inside.
    """
    groups: dict[str, list[int]] = {}
    for position in layout.positions:
        groups.setdefault(position.housing or str(position.number), []).append(position.number)
    found = []
    for code, numbers in groups.items():
        members = [layout.position(number) for number in numbers]
        inside = all(member.access == "inside" for member in members)
        found.append(
            Place(
                code=code,
                positions=tuple(numbers),
                tool_type=members[0].tool_type,
                zone=max((member.zone for member in members), key=ZONES.index),
                access="inside" if inside else "chamber",
                row=next((member.row for member in members if member.row), None),
                arm=next((member.arm for member in members if member.arm), None),
            )
        )
    return tuple(sorted(found, key=lambda place: place.positions[0]))


def place_of(layout: Layout, number: int) -> Place:
    """The place a position belongs to; `KeyError` if it does not stand there."""
    for place in places(layout):
        if number in place.positions:
            return place
    raise KeyError(number)


def neighbours(layout: Layout) -> tuple[tuple[int, int], ...]:
    """Pairs of positions on adjacent tracks, inner first; tracks are counted for each kind of tool by itself.

    Tools that share a track are no neighbours in this sense: they carry one another's load already.
    """
    pairs: list[tuple[int, int]] = []
    for kind in sorted(set(layout.kinds)):
        members = [position for position, other in zip(layout.positions, layout.kinds, strict=True) if other == kind]
        members.sort(key=lambda position: (position.track_radius_mm, position.number))
        tracks: list[list[int]] = []
        last = -float("inf")
        for position in members:
            if position.track_radius_mm - last > SAME_TRACK_MM:
                tracks.append([])
                last = position.track_radius_mm
            tracks[-1].append(position.number)
        for inner, outer in pairwise(tracks):
            pairs += [(one, other) for one in inner for other in outer]
    return tuple(pairs)
