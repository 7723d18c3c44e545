"""The ground: which unit a tool meets at its radius, what volume of each is cut, and what is published of wear."""

from wearplan.ground import relations, scales
from wearplan.ground.relations import Expected, expected_mm_per_km
from wearplan.ground.sections import section_at, section_starts, unit_codes, unit_of
from wearplan.ground.shares import path_shares, volume_shares

__all__ = [
    "Expected",
    "expected_mm_per_km",
    "path_shares",
    "relations",
    "scales",
    "section_at",
    "section_starts",
    "unit_codes",
    "unit_of",
    "volume_shares",
]
