"""The cutterhead as the site describes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from wearplan.site.records.places import NOWHERE, Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class Gauging:
    """Error of one reading by a method: standard deviation and the step it is rounded to."""

    method: str
    sd_mm: float
    step_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolType:
    code: str
    kind: str
    make: str | None = None
    diameter_mm: float | None = None
    wear_limit_mm: float
    damage_limit_mm: float | None = None
    price: float
    rebuild_price: float | None = None
    rebuildable_share: float = 0.0
    lead_time_days: float
    rebuild_days: float | None = None
    change_hours: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
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

    number: int
    tool_type: str
    track_radius_mm: float
    angle_deg: float
    tilt_deg: float = 0.0
    zone: str
    wear_limit_mm: float | None = None
    sensor_mm: tuple[float, ...] = ()
    housing: str | None = None
    row: str | None = None
    arm: str | None = None
    access: str = "chamber"
    cuts: str = "both"
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    code: str
    may_be_over: int
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutChange:
    """From a chainage on a position is blanked (``tool_type`` None), or gets another tool type.

    A position listed under ``[[position]]`` whose first layout change is an ``added`` one does not exist before it.
    """

    from_chainage_m: float
    from_m: float
    position: int
    tool_type: str | None = None
    blanked: bool = False
    added: bool = False
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class StructurePoint:
    code: str
    thickness_new_mm: float
    thickness_min_mm: float
    track_radius_mm: float
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Wheel:
    bore_diameter_m: float
    shield_diameter_m: float | None = None
    neighbour_step_limit_mm: float | None = None
    gauging: tuple[Gauging, ...] = ()
    max_over_limit_probability: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    tool_types: tuple[ToolType, ...] = ()
    positions: tuple[Position, ...] = ()
    """By number."""
    rows: tuple[Row, ...] = ()
    layout_changes: tuple[LayoutChange, ...] = ()
    """In the order of the drive."""
    structure_points: tuple[StructurePoint, ...] = ()
    factors: tuple[str, ...] = ()
    """Ring columns (``regime``, ``penetration`` or a further column) the site asks the regression to try."""

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
