"""What machines and people logged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

from wearplan.site.records.places import NOWHERE, Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class RingRow:
    """One row of advance.csv as written; None where the cell was empty or bad (then ``damaged`` says why)."""

    ring: int
    start_chainage_m: float | None
    end_chainage_m: float | None
    start_m: float | None
    end_m: float | None
    finished_at: datetime | None = None
    revolutions_boring: float | None = None
    revolutions_idle: float | None = None
    revolutions_ccw_share: float | None = None
    regime: str | None = None
    thrust_kn: float | None = None
    torque_knm: float | None = None
    face_pressure_bar: float | None = None
    extra: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    damaged: str | None = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One place at one inspection, as found, before any fitting of that stop; exactly one way to read is set."""

    position: int
    wear_mm: float | None = None
    points_mm: tuple[float, ...] = ()
    """Several points round a ring: the rate is from their mean, the limit from the worst."""
    wear_below_mm: float | None = None
    wear_above_mm: float | None = None
    not_read: str | None = None
    method: str | None = None
    condition: str | None = None
    serial: str | None = None
    note: str | None = None
    taken_from: str | None = None
    """The file, sheet, cell and hash it was taken from; None for what was typed."""
    damaged: str | None = None
    """Why this record cannot be trusted; its place is unknown from this chainage on."""
    origin: Origin = NOWHERE

    @property
    def mean_mm(self) -> float | None:
        """The reading for the rate: the value, or the mean of the points; None without either."""
        if self.points_mm:
            return sum(self.points_mm) / len(self.points_mm)
        return self.wear_mm

    @property
    def worst_mm(self) -> float | None:
        """The reading to hold against the limit: the value, or the worst of the points; None without either."""
        return max(self.points_mm) if self.points_mm else self.wear_mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """What was taken off and put on at one place."""

    position: int
    action: str
    reason: str | None = None
    old_serial: str | None = None
    old_to: str | None = None
    new_serial: str | None = None
    new_tool_type: str | None = None
    new_batch: str | None = None
    new_wear_mm: float | None = None
    new_rebuilds: int | None = None
    from_position: int | None = None
    taken_from: str | None = None
    damaged: str | None = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureReading:
    point: str
    thickness_mm: float
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """One stop as recorded; written once, never edited."""

    id: str
    number: int | None = None
    ring: int
    chainage_m: float
    driven_m: float
    started_at: datetime
    ended_at: datetime | None = None
    mode: str
    pressure_bar: float | None = None
    entries: int | None = None
    person_hours: float | None = None
    parking_angle_deg: float | None = None
    measured_by: str | None = None
    entered_by: str | None = None
    checked_by: str | None = None
    corrects: str | None = None
    reason: str | None = None
    note: str | None = None
    taken_from: str | None = None
    measurements: tuple[Measurement, ...] = ()
    fittings: tuple[Fitting, ...] = ()
    structure: tuple[StructureReading, ...] = ()
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorWord:
    position: int
    chainage_m: float
    driven_m: float
    ring: int | None
    at: datetime | None
    reported_mm: float | None
    """The wear reported; None for ``line proved``."""
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    chainage_m: float
    driven_m: float
    ring: int | None
    at: datetime | None
    kind: str
    note: str | None = None
    origin: Origin = NOWHERE
