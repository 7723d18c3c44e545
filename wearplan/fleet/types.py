"""Types and batches of tools compared across drives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp

import numpy as np

from wearplan.fleet.pool import Own, pool
from wearplan.fleet.rates import Band, drive_names
from wearplan.fleet.records import Line, TypeSeen

SPREAD = 0.1
"""Scale of the half-normal prior of how far the ratio of two types differs between drives, in its log: judgement. What
two types differ by is of the steel more than of the drive."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetType:
    """One type against another, over all drives that have both."""

    kind: str
    tool_type: str
    reference: str
    wear_times: Band
    """Wear of the type by wear of the reference, on a next drive."""
    drives: tuple[str, ...]
    by_drive: tuple[float, ...]
    """The ratio by each drive's own readings."""
    tools: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetTypes:
    """Every pair of types that two drives or more have, and batches that stood out on several."""

    types: tuple[FleetType, ...]
    remarks: tuple[str, ...]


def fleet_types(lines: Sequence[Line]) -> FleetTypes:
    """Compare types over drives; a type is the same where code, diameter and wear limit are."""
    names = drive_names(lines)
    by_pair: dict[tuple, list[tuple[str, TypeSeen]]] = {}
    for name, line in zip(names, lines, strict=True):
        for each in line.types:
            by_pair.setdefault((each.kind, each.tool_type, each.reference, each.sizes), []).append((name, each))
    found = []
    for (kind, code, reference, _), seen in by_pair.items():
        if len(seen) < 2:
            continue
        owns = [
            Own(drive=name, classes=(0,), mean=np.array([each.mean]), precision=np.array([[each.precision]]))
            for name, each in seen
        ]
        ahead = pool(owns, 1, spread=SPREAD).following[0]
        found.append(
            FleetType(
                kind=kind,
                tool_type=code,
                reference=reference,
                wear_times=(exp(ahead.quantile(0.05)), exp(ahead.quantile(0.5)), exp(ahead.quantile(0.95))),
                drives=tuple(name for name, _ in seen),
                by_drive=tuple(exp(each.mean) for _, each in seen),
                tools=sum(each.tools for _, each in seen),
            )
        )
    return FleetTypes(types=tuple(found), remarks=(*_differing(by_pair), *_batches(names, lines)))


def _differing(by_pair: dict[tuple, list[tuple[str, TypeSeen]]]) -> list[str]:
    """Codes that stand for different tools on different drives."""
    sizes: dict[tuple[str, str], set[tuple]] = {}
    for kind, code, reference, size in by_pair:
        sizes.setdefault((kind, code), set()).add(size[:2])
        sizes.setdefault((kind, reference), set()).add(size[2:])
    return [
        f"{code}: drives give this type different diameters or wear limits, so they are not compared as one."
        for (_, code), many in sizes.items()
        if len(many) > 1
    ]


def _batches(names: Sequence[str], lines: Sequence[Line]) -> list[str]:
    where: dict[tuple[str, str], list[str]] = {}
    for name, line in zip(names, lines, strict=True):
        for batch in line.batches:
            words = f"{name} x{batch.p50:.2f} ({batch.p05:.2f}-{batch.p95:.2f}) on {batch.tools} tools"
            where.setdefault((batch.kind, batch.label), []).append(words)
    return [
        f"Batch {label} of {kind}s stands out on {len(said)} drive{'s' * (len(said) > 1)}: {'; '.join(said)}."
        for (kind, label), said in where.items()
    ]
