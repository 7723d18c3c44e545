"""What a site folder says, as frozen records.

Every record that was read from a file keeps its ``origin`` so that a later word about it can point home. Where a
record names a chainage as the site writes it (``chainage_m``), it also carries the distance driven from the start of
the drive to there (``driven_m``, ``from_m``, ``to_m``). The rooms below reckon in driven metres only: they grow
with the drive whether its chainage rises, falls or jumps. Chainage comes back for people, by `Drive.chainage_m`.
"""

from __future__ import annotations

from wearplan.site.records.drive import ChainageEquation, Drive, Pace
from wearplan.site.records.ground import ExpectedRate, Ground, Section, Stratum, Unit
from wearplan.site.records.log import Event, Fitting, Inspection, Measurement, RingRow, SensorWord, StructureReading
from wearplan.site.records.places import NOWHERE, Fault, Origin
from wearplan.site.records.site import Loaded, Site
from wearplan.site.records.stops import Costs, EntryRow, ForcedStop, KeepOut, Stops, Window
from wearplan.site.records.stores import Borrow, OnOrder, PartWorn, Stock, Stores
from wearplan.site.records.wheel import Gauging, LayoutChange, Position, Row, StructurePoint, ToolType, Wheel
from wearplan.site.records.wishes import KeptWishes
from wearplan.site.records.words import (
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
    "KeptWishes",
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
