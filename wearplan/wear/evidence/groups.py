"""Types and batches of tools within a kind: which of them the readings can tell apart, and by how much they wear.

A type (and a batch) multiplies all wear of its tools by exp(t); the type with most readings is the reference, t = 0.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearplan.site.records import Site

from .gather import usable
from .readings import Floats

if TYPE_CHECKING:
    from wearplan.history import Life

GROUP_SD = 0.25
"""Prior sd of the log of a type against another: judgement."""
BATCH_SD = 0.35
"""The same for a batch against its type: a bad batch is further off than a grade."""


@dataclass(frozen=True, kw_only=True)
class Groups:
    """Coefficients of types and batches of one kind."""

    types: tuple[str, ...] = ()
    """Types with a coefficient."""
    batches: tuple[str, ...] = ()
    reference: str = ""
    """The type whose factor is 1."""
    apart: tuple[tuple[str, str], ...] = ()
    """(type, zones in words) that never stood where the reference did: not told from its zone."""
    batch_of: Mapping[str, str] | None = None
    """Batch by life."""

    @property
    def names(self) -> tuple[str, ...]:
        return (*(f"type {code}" for code in self.types), *(f"batch {code}" for code in self.batches))

    @property
    def sd(self) -> Floats:
        """(Q,) of the prior."""
        return np.array([GROUP_SD] * len(self.types) + [BATCH_SD] * len(self.batches))

    def row(self, tool_type: str | None, life_id: str | None = None) -> Floats:
        """(Q,) what a tool of that type, and that life, has of each coefficient."""
        batch = (self.batch_of or {}).get(life_id or "")
        return np.array([code == tool_type for code in self.types] + [code == batch for code in self.batches], float)


def groups_of(site: Site, kind: str, lives: Sequence[Life], batch_of: Mapping[str, str]) -> Groups:
    """The types and batches of a kind that can be told apart.

    A type that never stood in a zone where the reference stands cannot be told from its zone; it keeps the factor 1.
    """
    met: dict[str, Counter[str]] = defaultdict(Counter)
    for life in lives:
        for reading in life.readings:
            if usable(reading):
                met[life.tool_type][reading.zone] += 1
    codes = [each.code for each in site.wheel.tool_types if each.kind == kind]
    if not met:
        return Groups(batch_of=batch_of)
    reference = max(codes, key=lambda code: met[code].total() if code in met else -1)
    others = [code for code in codes if code != reference and code in met]
    types = tuple(code for code in others if set(met[code]) & set(met[reference]))
    apart = tuple((code, ", ".join(sorted(met[code]))) for code in others if code not in types)
    read = {life.id for life in lives if any(usable(reading) for reading in life.readings)}
    batches = tuple(sorted({batch for life, batch in batch_of.items() if life in read}))
    return Groups(types=types, batches=batches, reference=reference, apart=apart, batch_of=batch_of)


def labelled(site: Site, lives: Sequence[Life]) -> dict[str, str]:
    """Batch by life, as the records of fittings label it; labels that differ by case or space are one."""
    said = {
        (inspection.driven_m, fitting.position): fitting.new_batch
        for inspection in site.inspections
        for fitting in inspection.fittings
        if fitting.new_batch and not fitting.damaged
    }
    shown = {way: ways[0] for ways in spellings(said.values()) for way in ways}
    first: dict[str, str] = {}
    for life in lives:
        stint = life.stints[0]
        label = said.get((stint.from_m, stint.position))
        if label:
            first[life.id] = shown[label]
    return first


def spellings(labels: Iterable[str]) -> list[tuple[str, ...]]:
    """The ways each label was written, the commonest first: those that differ by case or space are one label."""
    count = Counter(labels)
    ways: dict[str, list[str]] = defaultdict(list)
    for label in sorted(count, key=lambda label: (-count[label], label)):
        ways["".join(label.split()).casefold()].append(label)
    return [tuple(each) for each in ways.values()]


def folded(site: Site) -> list[str]:
    """Remarks on labels of batches and makes that were written in several ways."""
    out = []
    batches = (fitting.new_batch for stop in site.inspections for fitting in stop.fittings if fitting.new_batch)
    makes = (each.make for each in site.wheel.tool_types if each.make)
    for what, labels in (("batch", batches), ("make", makes)):
        for ways in spellings(labels):
            if len(ways) > 1:
                rest = ", ".join(f'"{way}"' for way in ways[1:])
                out.append(f'{what} "{ways[0]}" is also written {rest}; they are taken as one')
    return out
