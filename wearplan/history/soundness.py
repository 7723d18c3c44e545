"""Which sightings tell of abrasion, and which of them cannot all be true."""

from __future__ import annotations

from dataclasses import dataclass

from wearplan.history.gauging import allowed_fall_mm, gauging_of
from wearplan.history.tools import Sighting, Tool
from wearplan.site.records import TROUBLE, Wheel


def trouble_of(tool: Tool) -> tuple[float | None, float | None, str | None]:
    """(seen at, last seen without, condition) of a tool's first trouble; all None without any."""
    before = tool.stints[0][1]
    for sighting in sorted(tool.sightings, key=lambda each: each.driven_m):
        if sighting.condition in TROUBLE:
            return sighting.driven_m, before, sighting.condition
        if sighting.source == "inspection" and (tool.damage_m is None or sighting.driven_m < tool.damage_m):
            before = sighting.driven_m
    if tool.damage_m is not None:
        return tool.damage_m, before, tool.damage
    return None, None, None


def is_sound(sighting: Sighting, tool: Tool, trouble_from_m: float | None) -> bool:
    """Whether a sighting still speaks of abrasion.

    A tool taken off for damage whose condition was written down as one that leaves the reading meaningful
    (``leaking``, ``even`` ...) was read soundly at that last stop.
    """
    if trouble_from_m is None or sighting.driven_m < trouble_from_m:
        return True
    return tool.damage_m is not None and sighting.condition is not None and sighting.condition not in TROUBLE


@dataclass(frozen=True, slots=True)
class _Chain:
    """Readings that can stand together, up to one of them."""

    length: int
    before: int
    highest: int
    """Index of the sighting that claims most wear."""

    def better_than(self, other: _Chain, sightings: list[Sighting]) -> bool:
        if self.length != other.length:
            return self.length > other.length
        return (_high(sightings[self.highest]) or 0.0) < (_high(sightings[other.highest]) or 0.0)


def falling(sightings: list[Sighting], start_wear_mm: float, start_sd_mm: float, wheel: Wheel) -> dict[int, str]:
    """Indices of readings that cannot stand with the others because wear would have fallen, each with why.

    Wear of one life must not fall by more than the gauges' error. The fewest readings are doubted that let the others
    stand; between as many, the later ones.
    """
    chosen = [i for i, s in enumerate(sightings) if s.source != "sensor silence" and _low(s) is not None]
    if _rising([sightings[i] for i in chosen], start_wear_mm):
        return {}
    chains: list[_Chain | None] = []
    for j in chosen:
        fits_start = _falls_from_start(sightings[j], start_wear_mm, start_sd_mm) is None
        chains.append(_longest(j, chains, _Chain(1, -1, j) if fits_start else None, sightings, wheel))
    kept = _followed_back(chains, chosen)
    return {j: _why(j, kept, sightings, start_wear_mm, start_sd_mm, wheel) for j in chosen if j not in kept}


def _longest(
    j: int, chains: list[_Chain | None], alone: _Chain | None, sightings: list[Sighting], wheel: Wheel
) -> _Chain | None:
    """The best chain that ends with sighting ``j``, going on from one of those before it."""
    best = alone
    for h, before in enumerate(chains):
        if before is None or _fall(sightings[before.highest], sightings[j], wheel) is not None:
            continue
        highest = max(before.highest, j, key=lambda i: _high(sightings[i]) or 0.0)
        longer = _Chain(before.length + 1, h, highest)
        if best is None or longer.better_than(best, sightings):
            best = longer
    return best


def _followed_back(chains: list[_Chain | None], chosen: list[int]) -> set[int]:
    """The sightings of the longest chain."""
    lengths = [chain.length if chain else 0 for chain in chains]
    at = lengths.index(max(lengths)) if any(lengths) else -1
    kept: set[int] = set()
    while at >= 0:
        kept.add(chosen[at])
        chain = chains[at]
        at = chain.before if chain is not None else -1
    return kept


def _rising(sightings: list[Sighting], start_wear_mm: float) -> bool:
    """Whether nothing falls at all: the common case, and quickly seen."""
    highest = start_wear_mm
    for sighting in sightings:
        low, high = _low(sighting), _high(sighting)
        if low is not None and low < highest:
            return False
        highest = max(highest, high or 0.0)
    return True


def _high(sighting: Sighting) -> float | None:
    """The least wear a sighting claims."""
    return sighting.wear_mm if sighting.wear_mm is not None else sighting.above_mm


def _low(sighting: Sighting) -> float | None:
    """The most wear a sighting allows; infinite for one that only sets a lower bound."""
    if sighting.above_mm is not None:
        return float("inf")
    return sighting.wear_mm if sighting.wear_mm is not None else sighting.below_mm


def _fall(one: Sighting, other: Sighting, wheel: Wheel) -> float | None:
    high, low = _high(one), _low(other)
    if high is None or low is None:
        return None
    if high <= low:
        return None
    allowed = allowed_fall_mm(gauging_of(wheel, one.method), gauging_of(wheel, other.method))
    return high - low if high - low > allowed else None


def _falls_from_start(sighting: Sighting, start_wear_mm: float, start_sd_mm: float) -> float | None:
    low = _low(sighting)
    if low is None or start_wear_mm - low <= 4.0 * max(start_sd_mm, 0.5):
        return None
    return start_wear_mm - low


def _why(
    j: int, kept: set[int], sightings: list[Sighting], start_wear_mm: float, start_sd_mm: float, wheel: Wheel
) -> str:
    fall = _falls_from_start(sightings[j], start_wear_mm, start_sd_mm)
    if fall is not None:
        return f"{fall:.1f} mm less wear than when the tool was put on"
    for i in sorted(kept, reverse=True):
        if i < j and (fall := _fall(sightings[i], sightings[j], wheel)) is not None:
            return f"{fall:.1f} mm less wear than read at {_where(sightings[i])} before"
    for i in sorted(kept):
        if i > j and (fall := _fall(sightings[j], sightings[i], wheel)) is not None:
            return f"{fall:.1f} mm more wear than read at {_where(sightings[i])} after"
    return "does not agree with the other readings of this life"


def _where(sighting: Sighting) -> str:
    return f"ring {sighting.ring}" if sighting.ring else f"{sighting.driven_m:.1f} m"
