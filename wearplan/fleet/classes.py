"""Which units of different drives are one class of ground: by a mapping the user confirmed, or by abrasivity tests.

Never by name alone: two drives may call very different ground "clay". Units that bear the same name and share no test
that could tell are named, so that somebody can decide.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log
from pathlib import Path

ALIKE = 1.35
"""Tests that differ by less than this factor are alike: judgement. Two are needed, or one where the names agree too."""
Key = tuple[str, str]
"""Drive and unit code."""


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit of one drive, as far as matching it goes."""

    drive: str
    code: str
    name: str
    tests: Mapping[str, float]

    @property
    def key(self) -> Key:
        return self.drive, self.code


@dataclass(frozen=True, slots=True)
class Matched:
    """Units by class, and what was decided or left open."""

    names: tuple[str, ...]
    """By class."""
    of: Mapping[Key, int]
    why: Mapping[Key, str]
    """How a unit came to its class: the mapping, tests, or by itself."""
    remarks: tuple[str, ...]

    def members(self, number: int) -> tuple[Key, ...]:
        """The units of a class."""
        return tuple(key for key, each in self.of.items() if each == number)


class BadMapping(ValueError):
    """The mapping of units cannot be used; the message says where and what to do."""


def read_mapping(path: Path) -> dict[str, tuple[Key, ...]]:
    """Classes the user confirmed: ``[classes]``, then lines such as ``"gravel" = ["North drive: GC", "Ring 2: G1"]``.

    Raises
    ------
    BadMapping
        Where the file cannot be read or a line is not of that form.
    """
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError) as error:
        raise BadMapping(f"{path}: cannot be read: {error}") from error
    classes = table.get("classes")
    if not isinstance(classes, dict):
        raise BadMapping(f'{path}: has no table [classes]; write lines such as "gravel" = ["North drive: GC"] under it')
    found: dict[str, tuple[Key, ...]] = {}
    for name, members in classes.items():
        keys = []
        for member in members if isinstance(members, list) else [members]:
            drive, colon, code = str(member).rpartition(":")
            if not colon or not drive.strip() or not code.strip():
                raise BadMapping(f'{path}: [classes] {name}: {member!r} is not of the form "drive: unit code"')
            keys.append((drive.strip(), code.strip()))
        found[name] = tuple(keys)
    twice = [key for key in (k for keys in found.values() for k in keys)]
    doubled = sorted({f"{drive}: {code}" for drive, code in twice if twice.count((drive, code)) > 1})
    if doubled:
        raise BadMapping(f"{path}: [classes] names {', '.join(doubled)} more than once; a unit belongs to one class")
    return found


def match(units: Sequence[Unit], mapping: Mapping[str, Sequence[Key]] | None = None) -> Matched:
    """Put units into classes.

    Parameters
    ----------
    units : sequence of Unit
        Of all drives, each drive's in its own order.
    mapping : mapping of str to keys, optional
        What the user confirmed; it goes before any test.
    """
    names: list[str] = []
    of: dict[Key, int] = {}
    why: dict[Key, str] = {}
    known = {unit.key: unit for unit in units}
    remarks = []
    for name, keys in (mapping or {}).items():
        there = [key for key in keys if key in known]
        missing = [f"{drive}: {code}" for drive, code in keys if (drive, code) not in known]
        if missing:
            remarks.append(f"The mapping's {name} names {', '.join(missing)}, which no drive here has with readings.")
        for key in there:
            of[key], why[key] = len(names), "by the mapping"
        if there:
            names.append(name)
    open_ = [unit for unit in units if unit.key not in of]
    for unit in open_:
        best = _nearest(unit, [known[key] for key in of if why[key] != "by the mapping"], of)
        if best is None:
            of[unit.key], why[unit.key] = len(names), "by itself"
            names.append(unit.name)
        else:
            of[unit.key], why[unit.key] = of[best.key], "by tests"
            why[best.key] = "by tests"
    remarks += _same_names(open_, of)
    return Matched(names=tuple(names), of=of, why=why, remarks=tuple(remarks))


def _nearest(unit: Unit, others: Sequence[Unit], of: Mapping[Key, int]) -> Unit | None:
    """The unit of another drive most alike by tests; a class takes one unit of a drive."""
    taken = {of[key] for key in of if key[0] == unit.drive}
    near = [
        (distance, other)
        for other in others
        if other.drive != unit.drive and of[other.key] not in taken and (distance := _apart(unit, other)) is not None
    ]
    return min(near, key=lambda pair: pair[0])[1] if near else None


def _apart(one: Unit, other: Unit) -> float | None:
    """Largest factor between the tests both have; None where they differ or say too little."""
    shared = [key for key in one.tests if key in other.tests and one.tests[key] > 0 and other.tests[key] > 0]
    if len(shared) < (1 if _plain(one.name) == _plain(other.name) else 2):
        return None
    worst = exp(max(abs(log(one.tests[key] / other.tests[key])) for key in shared))
    return worst if worst < ALIKE else None


def _same_names(units: Sequence[Unit], of: Mapping[Key, int]) -> list[str]:
    """What bears one name in several classes: said, never settled here."""
    by_name: dict[str, list[Unit]] = {}
    for unit in units:
        by_name.setdefault(_plain(unit.name), []).append(unit)
    return [
        f"{', '.join(f'{unit.drive}: {unit.code}' for unit in same)} bear one name ({same[0].name}), but no tests show "
        "that they are the same ground: they are kept apart. A mapping (--classes) can join them."
        for same in by_name.values()
        if len({unit.drive for unit in same}) > 1 and len({of[unit.key] for unit in same}) > 1
    ]


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())
