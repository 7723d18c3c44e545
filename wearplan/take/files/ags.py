"""AGS 4: groups, headings, units, types and data; a broken line is told with its number and the rest is read."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

_NUMBER_TYPE = re.compile(r"(\d)(DP|SF|SCI)\Z")
Fault = tuple[int, str]


@dataclass(slots=True)
class Group:
    name: str
    heads: list[str] = field(default_factory=list)
    types: list[str] = field(default_factory=list)
    units: list[str] = field(default_factory=list)
    rows: list[tuple[int, dict[str, str]]] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class AgsTest:
    """One laboratory result with the stratum it was taken from."""

    kind: str
    value: float
    spread: float | None = None
    hole: str
    depth_m: float
    stratum: str
    described: str
    line: int


def groups_of(text: str) -> tuple[dict[str, Group], list[Fault]]:
    """All groups; lines that cannot be read are faults."""
    groups: dict[str, Group] = {}
    faults: list[Fault] = []
    group: Group | None = None
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        try:
            cells = next(csv.reader([line], strict=True))
        except (csv.Error, StopIteration):
            faults.append((number, "the quotes of the line do not close; the line is not read"))
            continue
        kind, rest = cells[0].strip().upper(), cells[1:]
        if kind == "GROUP":
            group = groups.setdefault(rest[0] if rest else "?", Group(rest[0] if rest else "?"))
        elif group is None:
            faults.append((number, f"{kind} before any GROUP; the line is not read"))
        elif kind == "HEADING":
            group.heads = rest
        elif kind in ("UNIT", "TYPE"):
            setattr(group, f"{kind.lower()}s", rest)
        elif kind == "DATA":
            if len(rest) != len(group.heads):
                faults.append(
                    (
                        number,
                        f"{group.name}: the line has {len(rest)} fields, HEADING has "
                        f"{len(group.heads)}; it is not read",
                    )
                )
                continue
            row = dict(zip(group.heads, rest, strict=True))
            why = _bad_number(group, row)
            if why:
                faults.append((number, f"{group.name}: {why}; the line is not read"))
                continue
            group.rows.append((number, row))
        else:
            faults.append((number, f"{kind[:20]!r} is no word that begins a line of AGS 4; the line is not read"))
    return groups, faults


def _bad_number(group: Group, row: Mapping[str, str]) -> str:
    for head, kind in zip(group.heads, group.types, strict=False):
        if row[head] and _NUMBER_TYPE.match(kind) and not re.fullmatch(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?", row[head]):
            return f"{head}: {row[head]!r} is no number of type {kind}"
    return ""


def ags_tests(text: str) -> tuple[list[AgsTest], list[dict[str, Any]], list[Fault]]:
    """Cerchar, strength and D60 results by stratum, holes with chainage and strata, and faults by line."""
    groups, faults = groups_of(text)
    holes = {row["LOCA_ID"]: row for _, row in _rows(groups, "LOCA") if "LOCA_ID" in row}
    strata: dict[str, list[dict[str, str]]] = {}
    for line, row in _rows(groups, "GEOL"):
        if row.get("LOCA_ID") not in holes:
            faults.append((line, f"GEOL: there is no location {row.get('LOCA_ID')}; its stratum is not taken"))
            continue
        strata.setdefault(row["LOCA_ID"], []).append(row)
    for line, row in _rows(groups, "SAMP"):
        if row.get("LOCA_ID") not in holes:
            faults.append(
                (
                    line,
                    f"SAMP: there is no location {row.get('LOCA_ID')}: its tests have no chainage and "
                    "no stratum; not taken",
                )
            )
    lost = {row.get("SAMP_ID") for _, row in _rows(groups, "SAMP") if row.get("LOCA_ID") not in holes}
    tests: list[AgsTest] = []
    for group, kind, head, spread in (("RCAG", "cai", "RCAG_CAIM", "RCAG_CAIS"), ("RUCS", "ucs", "RUCS_UCS", "")):
        factor = _factor(groups, group, head)
        for line, row in _rows(groups, group):
            if row.get(head):
                _result(
                    tests,
                    faults,
                    holes,
                    strata,
                    lost,
                    line,
                    row,
                    kind,
                    float(row[head]) * factor,
                    _float(row.get(spread, "")),
                )
    for line, row, d60 in _gradings(groups, faults):
        _result(tests, faults, holes, strata, lost, line, row, "d60", d60, None)
    told = [
        {
            "hole": name,
            "chainage": row.get("LOCA_CNGE", ""),
            "offset_m": row.get("LOCA_OFFS", ""),
            "strata": [(s.get("GEOL_TOP"), s.get("GEOL_BASE"), s.get("GEOL_GEOL")) for s in strata.get(name, [])],
        }
        for name, row in holes.items()
    ]
    return tests, told, sorted(faults)


def _rows(groups: Mapping[str, Group], name: str) -> Iterator[tuple[int, dict[str, str]]]:
    yield from groups[name].rows if name in groups else ()


def _factor(groups: Mapping[str, Group], group: str, head: str) -> float:
    found = groups.get(group)
    if found is None or head not in found.heads or found.heads.index(head) >= len(found.units):
        return 1.0
    return {"kN/m2": 1e-3, "kPa": 1e-3}.get(found.units[found.heads.index(head)], 1.0)


def _float(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None


def _result(
    tests: list[AgsTest],
    faults: list[Fault],
    holes: Mapping[str, Any],
    strata: Mapping[str, list[dict[str, str]]],
    lost: set[str | None],
    line: int,
    row: Mapping[str, str],
    kind: str,
    value: float,
    spread: float | None,
) -> None:
    hole = row.get("LOCA_ID", "")
    depth = _float(row.get("SPEC_DPTH") or row.get("SAMP_TOP", ""))
    if hole not in holes or depth is None:
        faults.append((line, f"a test without a location or depth ({hole}); not taken"))
        return
    if row.get("SAMP_ID") and row["SAMP_ID"] in lost:
        faults.append((line, f"its sample {row['SAMP_ID']} names a location that is not there; the test is not taken"))
        return
    layer = next(
        (s for s in strata.get(hole, []) if (_float(s["GEOL_TOP"]) or 0.0) <= depth < (_float(s["GEOL_BASE"]) or 0.0)),
        None,
    )
    if layer is None or not layer.get("GEOL_GEOL"):
        faults.append((line, f"no stratum holds {depth:g} m in {hole}; the test is not taken"))
        return
    tests.append(
        AgsTest(
            kind=kind,
            value=value,
            spread=spread,
            hole=hole,
            depth_m=depth,
            stratum=layer["GEOL_GEOL"],
            described=layer.get("GEOL_DESC", ""),
            line=line,
        )
    )


def _gradings(groups: Mapping[str, Group], faults: list[Fault]) -> Iterator[tuple[int, dict[str, str], float]]:
    """D60 of each grading: interpolated between its points, the size by its logarithm."""
    curves: dict[tuple[str, ...], list[tuple[int, dict[str, str]]]] = {}
    for line, row in _rows(groups, "GRAT"):
        key = tuple(
            row.get(head, "") for head in ("LOCA_ID", "SAMP_TOP", "SAMP_REF", "SAMP_ID", "SPEC_REF", "SPEC_DPTH")
        )
        curves.setdefault(key, []).append((line, row))
    for rows in curves.values():
        points = sorted(
            (float(r["GRAT_SIZE"]), float(r["GRAT_PERP"])) for _, r in rows if r.get("GRAT_SIZE") and r.get("GRAT_PERP")
        )
        points = [(size, share) for size, share in points if size > 0]
        for (a, low), (b, high) in pairwise(points):
            if low <= 60.0 <= high and high > low:
                t = (60.0 - low) / (high - low)
                yield rows[0][0], rows[0][1], float(f"{math.exp(math.log(a) + t * (math.log(b) - math.log(a))):.4g}")
                break
        else:
            faults.append((rows[0][0], "GRAT: the curve does not reach 60 %; no D60 is taken"))
