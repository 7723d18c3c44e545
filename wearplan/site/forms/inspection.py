"""The form of the files in inspections/: one stop each, written once."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field

from wearplan.site.forms.site import (
    Angle,
    Chainage,
    Line,
    Mode,
    Name,
    Note,
    PositionNumber,
    PressureBar,
    RingNumber,
    Strict,
    WearMm,
)

WAYS = ("wear_mm", "points_mm", "wear_below_mm", "wear_above_mm", "not_read")
"""The ways to read a place; each measurement uses exactly one."""

TAKEN_FROM = "The office's file, sheet, cell and the file's hash, where the record was taken in and not typed."

Condition = Literal[
    "even", "flat", "chipped", "cracked", "mushroomed", "ring lost", "seized", "leaking", "holder worn", "tool lost",
]  # fmt: skip


class MeasurementTable(Strict):
    """One place as found, before any fitting of this stop. Exactly one way of reading it."""

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": [way]} for way in WAYS]})

    position: PositionNumber
    wear_mm: WearMm | None = Field(None, description="0.0 = less than half a step of the method.")
    points_mm: list[WearMm] | None = Field(
        None, min_length=1, max_length=64, description="Points round a ring: rate from the mean, limit from the worst."
    )
    wear_below_mm: Annotated[float, Field(gt=0, le=1000)] | None = Field(
        None, description="Nothing to be seen at this resolution."
    )
    wear_above_mm: WearMm | None = Field(None, description="Past what can be measured.")
    not_read: Literal["not reached", "not looked at", "seen, not measured"] | None = None
    method: Name | None = Field(None, description="A method of [gauging] in wheel.toml.")
    condition: Condition | None = None
    serial: Name | None = Field(None, description="Of the tool found there.")
    note: Note | None = None
    taken_from: Line | None = Field(None, description=TAKEN_FROM)


class FittingTable(Strict):
    """What was taken off and put on at one place."""

    position: PositionNumber
    action: Literal["change", "move", "swap", "turn", "blank"]
    reason: Literal["limit", "damage", "neighbour", "preventive", "overcut"] | None = None
    old_serial: Name | None = None
    old_to: Literal["rebuild", "scrap", "shelf"] | None = None
    new_serial: Name | None = None
    new_tool_type: Name | None = None
    new_wear_mm: WearMm | None = Field(None, description="Of a part-worn tool put on.")
    new_batch: Name | None = Field(None, description="The delivery or heat it is of, as the works or the box names it.")
    new_rebuilds: int | None = Field(None, ge=0, le=100)
    from_position: PositionNumber | None = Field(None, description="Of move and swap.")
    taken_from: Line | None = Field(None, description=TAKEN_FROM)


class StructureTable(Strict):
    point: Name = Field(description="A code of [[structure_point]] in wheel.toml.")
    thickness_mm: float = Field(ge=0, le=2000)


class InspectionFile(Strict):
    """inspections/....toml: one stop as recorded; never edited, only corrected by a later record."""

    id: Name = Field(description="The file's name without its ending.")
    number: int | None = Field(None, ge=0, le=1_000_000, description="A label only.")
    ring: RingNumber
    chainage_m: Chainage
    started_at: dt.datetime
    ended_at: dt.datetime | None = None
    mode: Mode
    pressure_bar: PressureBar | None = None
    entries: int | None = Field(None, ge=0, le=10_000)
    person_hours: float | None = Field(None, ge=0, le=1_000_000)
    parking_angle_deg: Angle | None = Field(None, description="The angle the wheel stood at: what could be reached.")
    measured_by: Line | None = None
    entered_by: Line | None = None
    checked_by: Line | None = None
    corrects: Name | None = Field(None, description="The id of the record this one replaces; a reason goes with it.")
    reason: Note | None = Field(None, description="Why the other record is corrected.")
    note: Note | None = None
    taken_from: Line | None = Field(None, description="The take that brought it: its name, the files and their hashes.")
    measurement: list[MeasurementTable] = Field(default=[], max_length=5000)
    fitting: list[FittingTable] = Field(default=[], max_length=5000)
    structure: list[StructureTable] = Field(default=[], max_length=2000)


def ways_used(measurement: Any) -> list[str]:
    """The ways of reading that are set."""
    return [way for way in WAYS if getattr(measurement, way) is not None]
