"""What a site folder says, as frozen records.

Every record that was read from a file keeps its ``origin`` so that a later word about it can point home. Where a
record names a chainage as the site writes it (``chainage_m``), it also carries the distance driven from the start of
the drive to there (``driven_m``, ``from_m``, ``to_m``). The rooms below reckon in driven metres only: they grow
with the drive whether its chainage rises, falls or jumps. Chainage comes back for people, by `Drive.chainage_m`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from wearplan.site.facts.drive import ChainageEquation, Drive, Pace
from wearplan.site.facts.ground import ExpectedRate, Ground, Section, Stratum, Unit
from wearplan.site.facts.log import Event, Fitting, Inspection, Measurement, RingRow, SensorWord, StructureReading
from wearplan.site.facts.places import NOWHERE, Fault, Origin
from wearplan.site.facts.stops import Costs, EntryRow, ForcedStop, KeepOut, Stops, Window
from wearplan.site.facts.stores import Borrow, OnOrder, PartWorn, Stock, Stores
from wearplan.site.facts.wheel import Gauging, LayoutChange, Position, Row, StructurePoint, ToolType, Wheel
from wearplan.site.facts.words import (
    ACTIONS,
    ANSWERS,
    CONDITIONS,
    KINDS,
    MODES,
    NOT_READ,
    PLANNED_MODES,
    REASONS,
    TROUBLE,
    WINDOW_KINDS,
    ZONES,
)

__all__ = [
    "ACTIONS",
    "ANSWERS",
    "CONDITIONS",
    "KINDS",
    "MODES",
    "NOT_READ",
    "NOWHERE",
    "PLANNED_MODES",
    "REASONS",
    "TROUBLE",
    "WINDOW_KINDS",
    "ZONES",
    "Borrow",
    "ChainageEquation",
    "Costs",
    "Drive",
    "EntryRow",
    "Event",
    "ExpectedRate",
    "Fault",
    "Fitting",
    "ForcedStop",
    "Gauging",
    "Ground",
    "Inspection",
    "KeepOut",
    "LayoutChange",
    "Loaded",
    "Measurement",
    "OnOrder",
    "Origin",
    "Pace",
    "PartWorn",
    "Position",
    "RingRow",
    "Row",
    "Section",
    "SensorWord",
    "Site",
    "Stock",
    "Stops",
    "Stores",
    "Stratum",
    "StructurePoint",
    "StructureReading",
    "ToolType",
    "Unit",
    "Wheel",
    "Window",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One drive of one machine. Immutable; `wearplan.site.load` makes it from a folder."""

    name: str
    invented: bool = False
    currency: str = "EUR"
    jurisdiction: str | None = None
    drive: Drive
    pace: Pace
    wheel: Wheel
    grounds: tuple[Ground, ...] = ()
    """By the date they were known, oldest first."""
    stops: Stops | None = None
    stores: Stores | None = None
    rings: tuple[RingRow, ...] = ()
    """As written, in file order: gaps, doubles and damage included. `wearplan.history.clean_rings` mends them."""
    inspections: tuple[Inspection, ...] = ()
    """Those in force, in the order of the drive."""
    corrected: tuple[Inspection, ...] = ()
    """Those that a later record replaced."""
    sensor_words: tuple[SensorWord, ...] = ()
    events: tuple[Event, ...] = ()
    faults: tuple[Fault, ...] = ()
    folder: Path | None = None
    inputs_sha256: str = ""

    def ground(self, known_on: date | None = None) -> Ground | None:
        """The newest ground known on a date (None: the newest of all); None if nothing was known then."""
        known = [ground for ground in self.grounds if known_on is None or ground.known_on <= known_on]
        return known[-1] if known else None

    def forbidding(self, answer: str) -> tuple[Fault, ...]:
        """The faults that forbid an answer of `ANSWERS`."""
        return tuple(fault for fault in self.faults if answer in fault.forbids)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What came of reading a folder: a site as far as one can be built, and all faults."""

    site: Site | None
    faults: tuple[Fault, ...]
