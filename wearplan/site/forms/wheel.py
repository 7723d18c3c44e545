"""The form of wheel.toml."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from wearplan.site.forms.site import (
    Angle,
    Chainage,
    Days,
    Kind,
    Mode,
    Money,
    Name,
    PositionNumber,
    Radius,
    Strict,
    Zone,
)


class WheelTable(Strict):
    bore_diameter_m: float = Field(gt=0.5, le=30, description="With new gauge tools.")
    shield_diameter_m: float | None = Field(
        None, gt=0.5, le=30, description="With it the overcut left by worn gauge tools is followed."
    )
    neighbour_step_limit_mm: float | None = Field(
        None, gt=0, le=500, description="Largest wear difference between neighbouring tracks."
    )
    factors: list[Name] = Field(
        default=[],
        max_length=20,
        description='Columns of advance.csv ("regime", "penetration" or a further one) the regression is asked to try.',
    )


class GaugingTable(Strict):
    sd_mm: float = Field(ge=0, le=100, description="Standard deviation of the error of one reading.")
    step_mm: float = Field(ge=0, le=100, description="The step a reading is rounded to.")


class ToolTypeTable(Strict):
    code: Name
    kind: Kind
    make: Name | None = Field(None, description="Who made it; two types of one make are told to be so.")
    diameter_mm: float | None = Field(None, gt=0, le=2000, description="Of a new ring; discs need it.")
    wear_limit_mm: float = Field(gt=0, le=1000, description="Change at; a position may set its own.")
    damage_limit_mm: float | None = Field(None, gt=0, le=1000, description="Beyond it the holder and the wheel suffer.")
    price: Money
    rebuild_price: Money | None = Field(None, description="New ring and seals on a sound hub.")
    rebuildable_share: float = Field(0.0, ge=0, le=1, description="Share of the worn ones that can be rebuilt.")
    lead_time_days: Days
    rebuild_days: Days | None = None
    change_hours: dict[Mode, Annotated[float, Field(gt=0, le=1000)]] = Field(
        default={}, description="One tool, one work place, by mode of entry; the site's own figures."
    )


class PositionTable(Strict):
    number: PositionNumber
    tool_type: Name = Field(description="A code of [[tool_type]].")
    track_radius_mm: Radius
    angle_deg: Angle = Field(description="On the face seen from the machine, 12 o'clock = 0, clockwise.")
    tilt_deg: float = Field(0.0, ge=-90, le=90, description="Of gauge tools.")
    zone: Zone
    wear_limit_mm: float | None = Field(None, gt=0, le=1000, description="In place of the tool type's.")
    sensor_mm: list[Annotated[float, Field(gt=0, le=1000)]] = Field(
        default=[], max_length=20, description="Wear at which a sensor in the tool reports."
    )
    housing: Name | None = Field(None, description="Edges of one physical tool, changed together (twin discs).")
    row: Name | None = Field(None, description="Tools on the same track working as a row: a code of [[row]].")
    arm: Name | None = Field(None, description="For the order of the sheet.")
    access: Literal["chamber", "inside"] = Field(
        "chamber", description="inside: changed from within the wheel in free air."
    )
    cuts: Literal["both", "cw", "ccw"] = Field("both", description="The sense of rotation it cuts in.")


class RowTable(Strict):
    code: Name
    may_be_over: int = Field(ge=0, le=1000, description="So many of its tools may be past their limit at once.")


class LayoutChangeTable(Strict):
    """Exactly one of: another ``tool_type``; ``blanked``; ``added`` (which may come with a tool type)."""

    from_chainage_m: Chainage
    position: PositionNumber
    tool_type: Name | None = Field(None, description="The tool type from here on.")
    blanked: bool = Field(False, description="True: nothing stands there from here on.")
    added: bool = Field(
        False, description="True: the position exists from here on only (or again, after it was blanked)."
    )


class StructurePointTable(Strict):
    """The wheel itself: face plate, rim, bucket lip, injection port."""

    code: Name
    thickness_new_mm: float = Field(gt=0, le=2000)
    thickness_min_mm: float = Field(ge=0, le=2000)
    track_radius_mm: Radius


class WheelFile(Strict):
    """wheel.toml: the wheel, its tool types, and what stands where."""

    wheel: WheelTable
    gauging: dict[Name, GaugingTable] = Field(
        default={}, description="By method: error of one reading and the step it is rounded to."
    )
    max_over_limit_probability: dict[Zone, Annotated[float, Field(gt=0, le=1)]] = Field(
        default={}, description="Hard caps the plan keeps, by zone."
    )
    tool_type: list[ToolTypeTable] = Field(max_length=200)
    position: list[PositionTable] = Field(max_length=2000, description="One cutting edge on one track each.")
    row: list[RowTable] = Field(default=[], max_length=500)
    layout_change: list[LayoutChangeTable] = Field(default=[], max_length=2000)
    structure_point: list[StructurePointTable] = Field(default=[], max_length=500)


__all__ = [
    "GaugingTable", "LayoutChangeTable", "PositionTable", "RowTable", "StructurePointTable", "ToolTypeTable",
    "WheelFile", "WheelTable",
]  # fmt: skip
