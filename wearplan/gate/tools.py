"""Serials, types and conditions against the wheel as the records leave it, after all fittings of the record."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from wearplan.gate.finding import CONTRADICTED, ODD, Finding
from wearplan.history.lives import follow
from wearplan.history.tools import Tool
from wearplan.site.records import Fitting, Inspection, Measurement, Site

ROLLING_ONLY = ("mushroomed", "ring lost", "seized", "leaking")
"""Conditions of a ring that turns on a shaft."""


def judge_tools(site: Site, inspection: Inspection, others: Sequence[Inspection]) -> Iterator[Finding]:
    here = (inspection.driven_m, inspection.started_at)
    before = tuple(each for each in others if (each.driven_m, each.started_at) < here)
    found = follow(replace(site, inspections=before), inspection.driven_m).at
    kinds = {each.code: each.kind for each in site.wheel.tool_types}
    kind_at = {each.number: kinds.get(each.tool_type, "") for each in site.wheel.positions}
    kind_at |= {number: kinds.get(tool.tool_type, "") for number, tool in found.items()}
    gone = set(kind_at) - set(found)
    for measurement in inspection.measurements:
        kind = kind_at.get(measurement.position, "disc")
        yield from _condition(measurement, kind)
        if measurement.position in gone and measurement.not_read is None:
            sentence, remedy = "a reading, but by the records the place was left blank.", "Check the place."
            yield _no("nothing-there", measurement.position, sentence, remedy)
    for fitting in inspection.fittings:
        yield from _removed(fitting, found)
        yield from _kind(fitting, kind_at, kinds)
    yield from _one_place_each(inspection.fittings, found)
    yield from _seen_elsewhere(inspection, found)


def _condition(measurement: Measurement, kind: str) -> Iterator[Finding]:
    """A word that fits no such tool; ``flat`` is of rings too, but others are said to wear flat, so it is asked."""
    word, number = measurement.condition, measurement.position
    if kind == "disc" or word not in (*ROLLING_ONLY, "flat"):
        return
    article = "an" if kind[:1] in "aeiou" else "a"
    if word == "flat":
        sentence = f"'flat' of {article} {kind} counts as damage, as of a ring that no longer turns."
        yield Finding(
            name=f"condition:{number}", kind=ODD, position=number, sentence=sentence,
            remedy="Where it is only worn, give the wear and no word.",
        )  # fmt: skip
        return
    yield _no("condition", number, f"{article} {kind} cannot be '{word}'.", "Check the place and the word.")


def _no(name: str, position: int, sentence: str, remedy: str) -> Finding:
    return Finding(name=f"{name}:{position}", kind=CONTRADICTED, position=position, sentence=sentence, remedy=remedy)


def _serial(found: Mapping[int, Tool], position: int | None) -> str | None:
    tool = found.get(position) if position is not None else None
    return tool.serial if tool is not None and not tool.identity_lost else None


def _removed(fitting: Fitting, found: Mapping[int, Tool]) -> Iterator[Finding]:
    stood = _serial(found, fitting.position)
    if fitting.old_serial and stood and fitting.old_serial != stood:
        sentence = f"{fitting.old_serial} is said to come off, but {stood} stands there by the records."
        yield _no("removed-serial", fitting.position, sentence, "Read the serial of the old tool again.")


def _kind(fitting: Fitting, kind_at: Mapping[int, str], kinds: Mapping[str, str]) -> Iterator[Finding]:
    carries, number = kind_at.get(fitting.position), fitting.position
    code = fitting.new_tool_type
    if code is not None and carries and kinds.get(code, carries) != carries:
        sentence = f"{code} is a {kinds[code]}, the place carries a {carries}."
        yield _no("kind", number, sentence, "Check the place and the tool type.")
    source = kind_at.get(fitting.from_position) if fitting.from_position is not None else None
    if source and carries and source != carries:
        sentence = f"{fitting.action} from {fitting.from_position} would bring a {source} where a {carries} stands."
        yield _no("kind", number, sentence, "Check both places.")


def _afterwards(fittings: Sequence[Fitting], found: Mapping[int, Tool]) -> dict[int, str | None]:
    """The serial at each place once all fittings are carried out on the wheel as it was found."""
    after = {number: _serial(found, number) for number in found}
    targets = {fitting.position for fitting in fittings}
    for fitting in fittings:
        number, source = fitting.position, fitting.from_position
        if fitting.action in ("move", "swap"):
            after[number] = _serial(found, source)
            if source is not None and source not in targets:
                after[source] = _serial(found, number) if fitting.action == "swap" else None
        elif fitting.action == "change":
            after[number] = fitting.new_serial
        elif fitting.action == "blank":
            after[number] = None
    return after


def _one_place_each(fittings: Sequence[Fitting], found: Mapping[int, Tool]) -> Iterator[Finding]:
    targets = {fitting.position for fitting in fittings}
    places: dict[str, list[int]] = defaultdict(list)
    for number, serial in _afterwards(fittings, found).items():
        if serial:
            places[serial].append(number)
    for serial, numbers in places.items():
        new = [number for number in numbers if number in targets]
        for number in new if len(numbers) > 1 else ():
            where = ", ".join(str(other) for other in numbers if other != number)
            name = "serial-twice" if len(new) > 1 else "serial-elsewhere"
            sentence = f"{serial} would stand here and at {where}."
            yield _no(name, number, sentence, "Read the serial again, or give the fitting that took it off there.")


def _seen_elsewhere(inspection: Inspection, found: Mapping[int, Tool]) -> Iterator[Finding]:
    at = {serial: number for number in found if (serial := _serial(found, number))}
    for measurement in inspection.measurements:
        stands = at.get(measurement.serial) if measurement.serial else None
        if stands is not None and stands != measurement.position:
            sentence = f"{measurement.serial} was seen here, by the records it stands at {stands}."
            yield _no("seen-elsewhere", measurement.position, sentence, "Check the place and the serial.")
