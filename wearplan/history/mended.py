"""What in the ring log was not taken as written, in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from wearplan.site.records import Origin, RingRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Mended:
    """Something in the ring log that was not taken as written."""

    what: str
    from_m: float
    to_m: float
    rings: tuple[int, ...]
    origins: tuple[Origin, ...] = ()

    def __str__(self) -> str:
        return self.what


def runs(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Unbroken runs in a set of numbers, as (first, last)."""
    found: list[tuple[int, int]] = []
    for number in sorted(set(numbers)):
        if found and number == found[-1][1] + 1:
            found[-1] = (found[-1][0], number)
        else:
            found.append((number, number))
    return found


def ring_words(numbers: Iterable[int]) -> str:
    """``ring 615`` or ``rings 611-620 and 633``; without a number ``a stretch without rings``."""
    spans = [f"{first}-{last}" if last > first else str(first) for first, last in runs(n for n in numbers if n > 0)]
    if not spans:
        return "a stretch without rings"
    if len(spans) == 1 and "-" not in spans[0]:
        return f"ring {spans[0]}"
    if len(spans) > 8:
        spans = [*spans[:7], f"{len(spans) - 7} further runs"]
    return "rings " + (", ".join(spans[:-1]) + " and " + spans[-1] if len(spans) > 1 else spans[0])


def at_line(row: RingRow) -> str:
    """Where a row was written, for the end of a sentence; empty for a row made in memory."""
    return f" ({row.origin.file}:{row.origin.line})" if row.origin.file else ""
