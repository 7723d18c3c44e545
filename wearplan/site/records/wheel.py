"""The cutterhead as the site describes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Annotated

from wearplan.site.records.key import Angle, Chainage, Days, Key, Money, Name, PositionNumber, Radius, Share
from wearplan.site.records.places import NOWHERE, Origin
from wearplan.site.records.words import Kind, Mode, Term, Zone

_Limit = Annotated[float, Key(gt=0, le=1000)]
_Thickness = Annotated[float, Key(ge=0, le=2000)]
_Change = Annotated[float, Key(gt=0, le=1000)]
_Probability = Annotated[float, Key(gt=0, le=1)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauging:
    """Error of one reading by a method."""

    method: Annotated[Name, Key()]
    sd_mm: Annotated[float, Key("Standard deviation of the error of one reading.", ge=0, le=100)]
    step_mm: Annotated[float, Key("The step a reading is rounded to.", ge=0, le=100)]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolType:
    """A type of tool, with its limits, its price and what it takes to change one."""

    code: Annotated[Name, Key()]
    kind: Annotated[Kind, Key()]
    make: Annotated[Name | None, Key("Who made it; two types of one make are told to be so.")] = None
    diameter_mm: Annotated[float | None, Key("Of a new ring; discs need it.", gt=0, le=2000)] = None
    wear_limit_mm: Annotated[_Limit, Key("Change at; a position may set its own.")]
    damage_limit_mm: Annotated[_Limit | None, Key("Beyond it the holder and the wheel suffer.")] = None
    price: Annotated[Money, Key()]
    rebuild_price: Annotated[Money | None, Key("New ring and seals on a sound hub.")] = None
    rebuildable_share: Annotated[Share, Key("Share of the worn ones that can be rebuilt.")] = 0.0
    lead_time_days: Annotated[Days, Key()]
    rebuild_days: Annotated[Days | None, Key()] = None
    change_hours: Annotated[
        Mapping[Mode, _Change], Key("One tool, one work place, by mode of entry; the site's own figures.")
    ] = field(default_factory=lambda: MappingProxyType({}))
    origin: Origin = NOWHERE

    @property
    def most_wear_mm(self) -> float:
        """More than such a tool can lose is no reading: a disc's radius, four times the limit of other kinds."""
        if self.kind == "disc" and self.diameter_mm:
            return self.diameter_mm / 2
        return 4 * max(self.wear_limit_mm, self.damage_limit_mm or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """One cutting edge on one track."""

    number: Annotated[PositionNumber, Key()]
    tool_type: Annotated[Name, Key("A code of [[tool_type]].")]
    track_radius_mm: Annotated[Radius, Key()]
    angle_deg: Annotated[Angle, Key("On the face seen from the machine, 12 o'clock = 0, clockwise.")]
    tilt_deg: Annotated[float, Key("Of gauge tools.", ge=-90, le=90)] = 0.0
    zone: Annotated[Zone, Key()]
    wear_limit_mm: Annotated[_Limit | None, Key("In place of the tool type's.")] = None
    sensor_mm: Annotated[tuple[_Limit, ...], Key("Wear at which a sensor in the tool reports.", most=20)] = ()
    housing: Annotated[Name | None, Key("Edges of one physical tool, changed together (twin discs).")] = None
    row: Annotated[Name | None, Key("Tools on the same track working as a row: a code of [[row]].")] = None
    arm: Annotated[Name | None, Key("For the order of the sheet.")] = None
    access: Annotated[str, Key("inside: changed from within the wheel in free air.", words=("chamber", "inside"))] = (
        "chamber"
    )
    cuts: Annotated[str, Key("The sense of rotation it cuts in.", words=("both", "cw", "ccw"))] = "both"
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Tools on one track that work as a row."""

    code: Annotated[Name, Key()]
    may_be_over: Annotated[int, Key("So many of its tools may be past their limit at once.", ge=0, le=1000)]
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutChange:
    """Exactly one of: another ``tool_type``; ``blanked``; ``added`` (which may come with a tool type).

    A position listed under ``[[position]]`` whose first layout change is an ``added`` one does not exist before it.
    """

    from_chainage_m: Annotated[Chainage, Key()]
    from_m: float
    position: Annotated[PositionNumber, Key()]
    tool_type: Annotated[Name | None, Key("The tool type from here on.")] = None
    blanked: Annotated[bool, Key("True: nothing stands there from here on.")] = False
    added: Annotated[bool, Key("True: the position exists from here on only (or again, after it was blanked).")] = False
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class StructurePoint:
    """The wheel itself: face plate, rim, bucket lip, injection port."""

    code: Annotated[Name, Key()]
    thickness_new_mm: Annotated[float, Key(gt=0, le=2000)]
    thickness_min_mm: Annotated[_Thickness, Key()]
    track_radius_mm: Annotated[Radius, Key()]
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheel:
    """wheel.toml: the wheel, its tool types, and what stands where."""

    bore_diameter_m: Annotated[float, Key("With new gauge tools.", gt=0.5, le=30, at="[wheel]")]
    shield_diameter_m: Annotated[
        float | None,
        Key("With it the overcut left by worn gauge tools is followed.", gt=0.5, le=30, at="[wheel]"),
    ] = None
    neighbour_step_limit_mm: Annotated[
        float | None, Key("Largest wear difference between neighbouring tracks.", gt=0, le=500, at="[wheel]")
    ] = None
    gauging: Annotated[
        tuple[Gauging, ...], Key("By method: error of one reading and the step it is rounded to.", by="method")
    ] = ()
    max_over_limit_probability: Annotated[Mapping[Zone, _Probability], Key("Hard caps the plan keeps, by zone.")] = (
        field(default_factory=lambda: MappingProxyType({}))
    )
    tool_types: Annotated[tuple[ToolType, ...], Key(at="tool_type", most=200, needed=True)] = ()
    positions: Annotated[
        tuple[Position, ...], Key("One cutting edge on one track each.", at="position", most=2000, needed=True)
    ] = ()
    """By number."""
    rows: Annotated[tuple[Row, ...], Key(at="row", most=500)] = ()
    layout_changes: Annotated[tuple[LayoutChange, ...], Key(at="layout_change", most=2000)] = ()
    """In the order of the drive."""
    structure_points: Annotated[tuple[StructurePoint, ...], Key(at="structure_point", most=500)] = ()
    factors: Annotated[
        tuple[Name, ...],
        Key(
            'Columns of advance.csv ("regime", "penetration" or a further one) the regression is asked to try.',
            most=20, at="[wheel]",
        ),
    ] = ()  # fmt: skip
    leave_out: Annotated[
        tuple[Term, ...],
        Key(
            'Terms of wear to leave out where `backtest` finds them no help: "stretches", "types", "curves".',
            most=3, at="[wheel]",
        ),
    ] = ()  # fmt: skip

    def tool_type(self, code: str) -> ToolType:
        """The tool type of that code; `KeyError` if there is none."""
        for tool_type in self.tool_types:
            if tool_type.code == code:
                return tool_type
        raise KeyError(code)

    def position(self, number: int) -> Position:
        """The position of that number; `KeyError` if there is none."""
        for position in self.positions:
            if position.number == number:
                return position
        raise KeyError(number)

    def limit_mm(self, position: Position, tool_type: str | None = None) -> float:
        """Wear to change at: the position's own limit before that of its tool type, or of another one it carries."""
        own = position.wear_limit_mm
        return own if own is not None else self.tool_type(tool_type or position.tool_type).wear_limit_mm
