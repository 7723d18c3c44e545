"""ground/*.toml: the ground as known on a date."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import Any

from wearplan.site.forms.model import made, model_of
from wearplan.site.parse.document import Document, Parsed, parse
from wearplan.site.parse.faults import ALL, FaultLog
from wearplan.site.parse.stretches import SLACK_M, stretch
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.records import Drive, Ground, Section, Unit

_SUM_SLACK = 0.005
"""Shares of a mix may miss 1 by this much, as 0.333 three times does; they are then scaled to sum to 1."""


@dataclass
class _Revision:
    ground: Ground | None
    log: FaultLog
    known_on: date | None


def known_on(doc: Document) -> date | None:
    """The date of a revision, whatever else is wrong with it."""
    value = doc.data.get("known_on")
    return value if type(value) is date else None


def read_ground(doc: Document, drive: Drive | None, forbids: Iterable[str] = ALL) -> Ground | None:
    """One revision of the ground; None where it cannot be used whole, since what is left would look complete."""
    forbids = tuple(forbids)
    before = doc.log.count
    parsed = parse(doc, model_of(Ground), lambda loc: forbids)
    if parsed is None:
        return None
    for table in ("unit", "section"):
        if not getattr(parsed.model, table) and not parsed.bad.get(table):
            parsed.fault((table,), f"there is no [[{table}]]; describe the ground", code="to-fill", forbids=forbids)
    units = _units(parsed, forbids)
    sections = _sections(parsed, drive, {unit.code for unit in units}, forbids) if drive else ()
    if doc.log.count > before or not drive:
        return None
    return made(Ground, parsed.model, units=units, sections=sections, origin=doc.origin("known_on"))


def _units(parsed: Parsed, forbids: tuple[str, ...]) -> tuple[Unit, ...]:
    found: dict[str, Unit] = {}
    for index, item in enumerate(parsed.model.unit):
        if item.code in found:
            parsed.fault(
                parsed.loc("unit", index, "code"), f"{shown(item.code)} is there already; give each unit once",
                code="doubled", forbids=forbids,
            )  # fmt: skip
            continue
        kinds = [rate.kind for rate in item.expected_rate]
        if len(set(kinds)) < len(kinds):
            parsed.fault(
                parsed.loc("unit", index, "expected_rate"), f"{shown(item.code)}: one expected rate a kind of tool",
                code="doubled", forbids=forbids,
            )  # fmt: skip
        found[item.code] = made(Unit, item, origin=parsed.origin("unit", index))
    for at in parsed.bad.get("unit", {}):  # known, though faulty: those who refer to it need no fault of their own
        raw = parsed.doc.data["unit"][at]
        code = str(raw.get("code")) if isinstance(raw, dict) else ""
        found.setdefault(code, Unit(code=code, name=code))
    return tuple(found.values())


def _face_fault(item: Any, units: set[str]) -> tuple[str, str, str] | None:
    """What is wrong with how a section describes its face: key, code, sentence."""
    said = [item.mix is not None, item.strata is not None, not item.cut]
    if sum(said) != 1:
        return "", "face", "say the face in one way: mix, strata, or cut = false"
    names = list(item.mix or {}) + [stratum.unit for stratum in item.strata or []]
    for name in names:
        if name not in units:
            key = "mix" if item.mix else "strata"
            return key, "unknown-unit", f"no [[unit]] {shown(name)} in this file; {did_you_mean(name, units)}"
    if item.mix is not None:
        total = math.fsum(item.mix.values())
        if abs(total - 1) > _SUM_SLACK:
            return "mix", "mix-sum", f"the shares sum to {total:.3f}, they must sum to 1"
    if item.strata is not None:
        tops = [stratum.top_m for stratum in item.strata]
        if tops[0] is not None:
            return "strata", "strata-order", "the first layer reaches the crown and has no top_m"
        if None in tops[1:]:
            return "strata", "strata-order", "each layer below the first needs its top_m"
        levels = [top for top in tops if top is not None]
        if any(lower >= upper for upper, lower in itertools.pairwise(levels)):
            return "strata", "strata-order", "the layers are not in order: from the crown down, top_m falls"
    return None


def _sections(parsed: Parsed, drive: Drive, units: set[str], forbids: tuple[str, ...]) -> tuple[Section, ...]:
    found: list[Section] = []
    whole = not parsed.bad.get("section")
    near = 0.0
    for index, item in enumerate(parsed.model.section):
        fault = _face_fault(item, units)
        if fault:
            key, code, what = fault
            loc = parsed.loc("section", index, key) if key else parsed.loc("section", index)
            parsed.fault(loc, what, code=code, forbids=forbids)
        ends = stretch(parsed, "section", index, drive, forbids=forbids, near_m=near)
        if ends is None:
            whole = False
            continue
        near = ends[1]
        mix = dict(item.mix or {})
        total = math.fsum(mix.values())
        shares = MappingProxyType({unit: share / total for unit, share in mix.items() if total})
        origin = parsed.origin("section", index)
        found.append(made(Section, item, mix=shares, from_m=ends[0], to_m=ends[1], origin=origin))
    return _tiled(parsed, drive, found, forbids) if whole else tuple(found)


def _tiled(parsed: Parsed, drive: Drive, sections: list[Section], forbids: tuple[str, ...]) -> tuple[Section, ...]:
    """The sections with every gap and overlap named; ends that meet within a millimetre are made to meet."""
    from dataclasses import replace

    at = 0.0
    tiled = []
    for index, section in enumerate(sections):
        off = section.from_m - at
        if abs(off) > SLACK_M:
            what = "a gap" if off > 0 else "an overlap"
            parsed.fault(
                parsed.loc("section", index, "from_chainage_m"),
                f"{what} of {abs(off):.3f} m before this section: it should begin at {drive.chainage_m(at):.3f} m; "
                "sections tile the drive in its order",
                code="section-gap" if off > 0 else "section-overlap",
                forbids=forbids,
            )
        tiled.append(replace(section, from_m=at if abs(off) <= SLACK_M else section.from_m))
        at = section.to_m
    if sections and drive.length_m - at > SLACK_M:
        parsed.fault(
            parsed.loc("section", len(sections) - 1, "to_chainage_m"),
            f"the last section ends {drive.length_m - at:.3f} m before the drive; the ground must be described to "
            f"its end",
            code="section-gap",
            forbids=forbids,
        )
    elif tiled:
        tiled[-1] = replace(tiled[-1], to_m=drive.length_m)
    return tuple(tiled)
