"""Tools whose damage is on record and that still stand on the wheel: they lead every list of what is due."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from wearplan.report.words import chainage_text, listing, plain
from wearplan.site.records import Site

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.wear import Fit

LEADING = ("tool lost", "ring lost", "seized", "cracked", "flat")
"""Whatever the wear, such a tool is due; the worst first."""


def trouble_of(life: Life | None) -> str | None:
    """The worst such word on record of the tool in place; None without one."""
    said = life.conditions if life is not None else frozenset()
    return next((word for word in LEADING if word in said), None)


def troubles(current: Mapping[int, Life]) -> dict[int, str]:
    """Place to word, the worst first."""
    found = {number: word for number, life in current.items() if (word := trouble_of(life)) is not None}
    return dict(sorted(found.items(), key=lambda one: (LEADING.index(one[1]), one[0])))


def trouble_lines(current: Mapping[int, Life]) -> list[str]:
    """A line on what leads the lists, where there is any."""
    found = troubles(current)
    told = [f"{number} ({word})" for number, word in found.items()]
    return [f"still on the wheel: {listing(told, 12)}"] if told else []


def to_look_at(site: Site, fit: Fit) -> dict[int, tuple[str, ...]]:
    """Places that events ask to be looked at and that no stop since has looked at, with the events that ask.

    Looked at is a place that was read, of which a condition or "seen, not measured" is on record, or whose tool was
    changed, at a stop at or after the event.
    """
    from wearplan.gate import ACCEPTANCE
    from wearplan.wear import asked_by_event

    asked: dict[int, list[str]] = {}
    seen_from: dict[int, float] = {}
    for stop in site.inspections:
        read = {m.position for m in stop.measurements if m.condition or m.not_read in (None, "seen, not measured")}
        for number in read | {fitting.position for fitting in stop.fittings}:
            seen_from[number] = stop.driven_m
    kinds: dict[float, dict[str, None]] = {}
    for event in site.events:
        if event.kind != ACCEPTANCE:
            kinds.setdefault(event.driven_m, {})[event.kind] = None
    unseen_from = min((seen_from.get(place.number, -1.0) for place in site.wheel.positions), default=0.0)
    for driven_m, said in kinds.items():
        if driven_m <= unseen_from:
            continue
        words = f"{plain(' and '.join(said))} at {chainage_text(site.drive.chainage_m(driven_m))}"
        for number in asked_by_event(fit, driven_m):
            if seen_from.get(number, -1.0) < driven_m - 1e-6:
                asked.setdefault(number, []).append(words)
    return {number: tuple(words) for number, words in sorted(asked.items())}


def look_at_lines(asked: Mapping[int, Sequence[str]]) -> list[str]:
    """A line for the places still to be looked at after each set of events."""
    groups: dict[tuple[str, ...], list[int]] = {}
    for number, words in asked.items():
        groups.setdefault(tuple(words), []).append(number)
    return [
        f"look at {listing([str(number) for number in numbers], 12)}: {listing(list(words), 2)}"
        for words, numbers in groups.items()
    ]
