"""What machines and people logged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType
from typing import Annotated

from wearplan.site.records.key import (
    Angle,
    Chainage,
    Key,
    Line,
    Name,
    Note,
    PositionNumber,
    PressureBar,
    RingNumber,
    Share,
    WearMm,
)
from wearplan.site.records.places import NOWHERE, Origin
from wearplan.site.records.words import ACTIONS, NOT_READ, OLD_TO, REASONS, Condition, Mode

_Turns = Annotated[float, Key(ge=0, le=1e6)]
TakenFrom = Annotated[
    Line, Key("The office's file, sheet, cell and the file's hash, where the record was taken in and not typed.")
]


@dataclass(frozen=True, slots=True, kw_only=True)
class RingRow:
    """One row of advance.csv as written; None where the cell was empty or bad (then ``damaged`` says why)."""

    ring: Annotated[RingNumber, Key(needed=True)]
    start_chainage_m: Annotated[Chainage | None, Key(needed=True)]
    end_chainage_m: Annotated[Chainage | None, Key(needed=True)]
    start_m: float | None
    end_m: float | None
    finished_at: Annotated[datetime | None, Key("With its offset from UTC.")] = None
    revolutions_boring: Annotated[_Turns | None, Key("While the wheel cut.")] = None
    revolutions_idle: Annotated[_Turns | None, Key("Turning without advance.")] = None
    revolutions_ccw_share: Annotated[Share | None, Key("Of those while boring.")] = None
    regime: Annotated[Name | None, Key("How the machine was run, in the site's words.")] = None
    thrust_kn: Annotated[float | None, Key(ge=-1e4, le=1e6)] = None
    torque_knm: Annotated[float | None, Key(ge=-1e6, le=1e6)] = None
    face_pressure_bar: Annotated[float | None, Key(ge=-1, le=30)] = None
    extra: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    damaged: str | None = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Measurement:
    """One place as found, before any fitting of this stop. Exactly one way of reading it."""

    position: Annotated[PositionNumber, Key()]
    wear_mm: Annotated[
        WearMm | None,
        Key(
            "0.0 = less than half a step of the method.", one_of="reading", head="READING mm", also=("reading", "wear")
        ),
    ] = None
    points_mm: Annotated[
        tuple[WearMm, ...],
        Key("Points round a ring: rate from the mean, limit from the worst.", least=1, most=64, one_of="reading"),
    ] = ()
    wear_below_mm: Annotated[
        float | None, Key("Nothing to be seen at this resolution.", gt=0, le=1000, one_of="reading")
    ] = None
    wear_above_mm: Annotated[WearMm | None, Key("Past what can be measured.", one_of="reading")] = None
    not_read: Annotated[str | None, Key(words=NOT_READ, one_of="reading", head="not read: why")] = None
    method: Annotated[Name | None, Key("A method of [gauging] in wheel.toml.", head="method", also=("gauge",))] = None
    condition: Annotated[Condition | None, Key(head="condition")] = None
    serial: Annotated[Name | None, Key("Of the tool found there.")] = None
    note: Annotated[Note | None, Key(head="note")] = None
    taken_from: Annotated[TakenFrom | None, Key()] = None
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

    position: Annotated[PositionNumber, Key()]
    action: Annotated[str, Key(words=ACTIONS, head="action")]
    reason: Annotated[str | None, Key(words=REASONS, head="reason")] = None
    old_serial: Annotated[Name | None, Key(head="old serial")] = None
    old_to: Annotated[str | None, Key(words=OLD_TO, head="old goes to")] = None
    new_serial: Annotated[Name | None, Key(head="new serial")] = None
    new_tool_type: Annotated[Name | None, Key(head="new tool")] = None
    new_batch: Annotated[
        Name | None, Key("The delivery or heat it is of, as the works or the box names it.", head="new batch")
    ] = None
    new_wear_mm: Annotated[WearMm | None, Key("Of a part-worn tool put on.", head="new tool's wear mm")] = None
    new_rebuilds: Annotated[int | None, Key(ge=0, le=100)] = None
    from_position: Annotated[
        PositionNumber | None, Key("Of move and swap.", head="from place", also=("from position",))
    ] = None
    taken_from: Annotated[TakenFrom | None, Key()] = None
    damaged: str | None = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class StructureReading:
    """The thickness of one point of the wheel itself."""

    point: Annotated[Name, Key("A code of [[structure_point]] in wheel.toml.")]
    thickness_mm: Annotated[float, Key(ge=0, le=2000)]
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Inspection:
    """inspections/....toml: one stop as recorded; never edited, only corrected by a later record."""

    id: Annotated[Name, Key("The file's name without its ending.")]
    number: Annotated[int | None, Key("A label only.", ge=0, le=1_000_000, head="number")] = None
    ring: Annotated[RingNumber, Key(head="ring")]
    chainage_m: Annotated[Chainage, Key(head="chainage")]
    driven_m: float
    started_at: Annotated[datetime, Key(head="started", also=("start",))]
    ended_at: Annotated[datetime | None, Key(head="ended", also=("end",))] = None
    mode: Annotated[Mode, Key(head="mode")]
    pressure_bar: Annotated[PressureBar | None, Key(head="pressure")] = None
    entries: Annotated[int | None, Key(ge=0, le=10_000, head="entries")] = None
    person_hours: Annotated[float | None, Key(ge=0, le=1_000_000, head="person hours")] = None
    parking_angle_deg: Annotated[
        Angle | None, Key("The angle the wheel stood at: what could be reached.", head="parking angle")
    ] = None
    measured_by: Annotated[Line | None, Key(head="measured by", also=("read by",))] = None
    entered_by: Annotated[Line | None, Key(head="entered by")] = None
    checked_by: Annotated[Line | None, Key(head="checked by")] = None
    corrects: Annotated[Name | None, Key("The id of the record this one replaces; a reason goes with it.")] = None
    reason: Annotated[Note | None, Key("Why the other record is corrected.")] = None
    note: Annotated[Note | None, Key(head="note")] = None
    taken_from: Annotated[Line | None, Key("The take that brought it: its name, the files and their hashes.")] = None
    measurements: Annotated[tuple[Measurement, ...], Key(at="measurement", most=5000)] = ()
    fittings: Annotated[tuple[Fitting, ...], Key(at="fitting", most=5000)] = ()
    structure: Annotated[tuple[StructureReading, ...], Key(most=2000)] = ()
    origin: Origin = NOWHERE

    @property
    def withdraws(self) -> bool:
        """Whether it takes another record back and says nothing in its place."""
        return self.corrects is not None and not (self.measurements or self.fittings or self.structure)


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorWord:
    """A row of sensors.csv: what a sensor reported, or that its line was proved live."""

    position: Annotated[PositionNumber, Key(needed=True)]
    chainage_m: Annotated[Chainage, Key(needed=True)]
    driven_m: float
    ring: Annotated[RingNumber | None, Key()]
    at: Annotated[datetime | None, Key()]
    reported_mm: Annotated[WearMm | None, Key(at="word", needed=True)]
    """The wear reported; None for ``line proved``."""
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """A row of events.csv: a boulder, steel, a jump of torque."""

    chainage_m: Annotated[Chainage, Key(needed=True)]
    driven_m: float
    ring: Annotated[RingNumber | None, Key()]
    at: Annotated[datetime | None, Key()]
    kind: Annotated[Name, Key(needed=True)]
    note: Annotated[Note | None, Key()] = None
    origin: Origin = NOWHERE
