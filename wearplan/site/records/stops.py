"""Where the drive may stop, under which entry procedure, at what cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType

from wearplan.site.records.places import NOWHERE, Origin
from wearplan.site.records.words import MINOR


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    standstill_per_hour: float
    late_tool: float
    late_tool_per_m: float = 0.0
    compressed_air_per_person_hour: float = 0.0
    max_compressed_air_entries: int | None = None
    minor_damage: float = 0.0
    major_damage: float | None = None
    """None: what a late tool costs."""
    major_damage_per_m: float | None = None
    """None: ``late_tool_per_m``."""
    minor_conditions: tuple[str, ...] = MINOR


@dataclass(frozen=True, slots=True, kw_only=True)
class ForcedStop:
    """What a stop outside the windows costs on a stretch."""

    from_m: float
    to_m: float
    hours: float
    from_chainage_m: float
    to_chainage_m: float
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryRow:
    """A row of the site's own approved procedure."""

    mode: str
    up_to_pressure_bar: float
    working_hours_per_entry: float
    entries_per_day: float
    persons: int
    places: int
    document: str | None = None
    approved_by: str | None = None
    approved_on: date | None = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    name: str
    kind: str
    from_chainage_m: float
    to_chainage_m: float
    from_m: float
    to_m: float
    mode: str
    pressure_bar: float
    pressure_source: str | None = None
    setup_hours: float
    fixed_cost: float = 0.0
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    from_chainage_m: float
    to_chainage_m: float
    from_m: float
    to_m: float
    reason: str
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """stops.toml: what stops cost and where they may be."""

    costs: Costs
    forced_stops: tuple[ForcedStop, ...] = ()
    steps: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    """Site durations in hours by the step's name, in the file's order."""
    entry_rows: tuple[EntryRow, ...] = ()
    windows: tuple[Window, ...] = ()
    """In the order of the drive."""
    keep_outs: tuple[KeepOut, ...] = ()
