"""What a site folder says, as frozen records.

Every record that was read from a file keeps its ``origin`` so that a later word about it can point home. Where a
record names a chainage as the site writes it (``chainage_m``), it also carries the distance driven from the start of
the drive to there (``driven_m``, ``from_m``, ``to_m``). The rooms below reckon in driven metres only: they grow
with the drive whether its chainage rises, falls or jumps. Chainage comes back for people, by `Drive.chainage_m`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType

KINDS = ("disc", "scraper", "ripper", "bucket tool", "centre tool", "copy tool")
ZONES = ("centre", "face", "gauge")
MODES = ("free air", "compressed air", "mixed gas", "saturation", "divers")
PLANNED_MODES = ("free air", "compressed air")
NOT_READ = ("not reached", "not looked at", "seen, not measured")
CONDITIONS = (
    "even", "flat", "chipped", "cracked", "mushroomed", "ring lost", "seized", "leaking", "holder worn", "tool lost",
)  # fmt: skip
TROUBLE = ("flat", "chipped", "cracked", "ring lost", "seized", "tool lost")
"""Conditions after which a reading says nothing of abrasion."""
ACTIONS = ("change", "move", "swap", "turn", "blank")
REASONS = ("limit", "damage", "neighbour", "preventive", "overcut")
WINDOW_KINDS = ("shaft", "treated block", "competent ground", "station box", "other")
ANSWERS = ("rates", "outlook", "plan", "demand", "backtest")
"""Answers that a fault can forbid."""


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a record was written; an empty file means it was made in memory."""

    file: str = ""
    line: int = 0


NOWHERE = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something wrong in the folder, with its place and the way out."""

    file: str
    line: int
    place: str
    """As ``[table] key``; for a CSV the column; empty for a whole file."""
    what: str
    """What is wrong and what to do about it, one sentence or two."""
    code: str
    """A stable word for programs, such as ``unknown-key`` or ``ring-doubled``."""
    forbids: tuple[str, ...] = ()
    """The answers (of `ANSWERS`) this fault makes impossible; empty when it is only named."""

    def __str__(self) -> str:
        where = f" {self.place}:" if self.place else ""
        return f"{self.file}:{self.line}:{where} {self.what}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainageEquation:
    back_m: float
    ahead_m: float
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Drive:
    start_chainage_m: float
    end_chainage_m: float
    ring_length_m: float
    face_ahead_of_ring_m: float = 0.0
    equations: tuple[ChainageEquation, ...] = ()
    """In the order of the drive."""

    @property
    def sign(self) -> int:
        """+1 when chainage rises as the drive advances, -1 when it falls."""
        return 1 if self.end_chainage_m >= self.start_chainage_m else -1

    def _pieces(self) -> list[tuple[float, float, float]]:
        """(driven from, driven to, chainage at from) of each stretch between equations."""
        pieces = []
        driven, at = 0.0, self.start_chainage_m
        for equation in self.equations:
            length = (equation.back_m - at) * self.sign
            pieces.append((driven, driven + length, at))
            driven, at = driven + length, equation.ahead_m
        pieces.append((driven, driven + (self.end_chainage_m - at) * self.sign, at))
        return pieces

    @property
    def length_m(self) -> float:
        """Driven length of the whole drive."""
        return self._pieces()[-1][1]

    def chainage_m(self, driven_m: float) -> float:
        """Chainage of the face after ``driven_m`` metres (beyond either end: straight on)."""
        pieces = self._pieces()
        for start, end, at in pieces:
            if driven_m <= end or end == pieces[-1][1]:
                return at + self.sign * (driven_m - start)
        raise AssertionError("unreachable")

    def driven_m(self, chainage_m: float, *, near_m: float | None = None) -> float:
        """Driven metres at a chainage.

        Where an equation makes a chainage occur twice, the one nearest to ``near_m`` is taken (without it the
        first); where an equation skips it, the place of the jump.
        """
        pieces = self._pieces()
        found, best = [], None
        for index, (start, end, at) in enumerate(pieces):
            low = -float("inf") if index == 0 else start
            high = float("inf") if index == len(pieces) - 1 else end
            here = start + self.sign * (chainage_m - at)
            if low - 1e-9 <= here <= high + 1e-9:
                found.append(here)
            off = max(low - here, here - high, 0.0)
            if best is None or off < best[0]:
                best = (off, min(max(here, low), high))
        if found:
            return found[0] if near_m is None else min(found, key=lambda here: abs(here - near_m))
        assert best is not None
        return best[1]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    advance_m_per_day: float
    advance_doubt: float = 0.2
    working_days_per_week: int = 6
    holidays: tuple[date, ...] = ()


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


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedRate:
    """The site's own expectation; ``factor`` covers about two thirds of the doubt, up and down."""

    kind: str
    mm_per_km: float
    factor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    code: str
    name: str
    cai: float | None = None
    lac_g_per_t: float | None = None
    ucs_mpa: float | None = None
    eqc_pct: float | None = None
    shear_strength_kpa: float | None = None
    d60_mm: float | None = None
    boulders: bool = False
    expected_rate: tuple[ExpectedRate, ...] = ()
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stratum:
    """One layer; from the crown down. ``top_m`` is above the axis; None for the one that reaches the crown."""

    unit: str
    top_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    from_chainage_m: float
    to_chainage_m: float
    from_m: float
    to_m: float
    mix: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    strata: tuple[Stratum, ...] = ()
    cut: bool = True
    boundary_sd_m: float = 0.0
    """Doubt (sd) in where this section ends."""
    penetration_mm_per_rev: float | None = None
    required_overcut_mm: float | None = None
    water_head_m: float | None = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The ground as known on a date, whole."""

    known_on: date
    source: str
    units: tuple[Unit, ...]
    sections: tuple[Section, ...]
    """In the order of the drive; they tile it."""
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    standstill_per_hour: float
    late_tool: float
    late_tool_per_m: float = 0.0
    compressed_air_per_person_hour: float = 0.0
    max_compressed_air_entries: int | None = None


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


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWorn:
    serial: str | None
    wear_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OnOrder:
    quantity: int
    due: date
    due_doubt_days: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    tool_type: str
    on_hand: int
    part_worn: tuple[PartWorn, ...] = ()
    in_rebuild: int = 0
    on_order: tuple[OnOrder, ...] = ()
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stores:
    no_stockout_probability: float = 0.95
    review_days: float = 7.0
    holding_per_year: float = 0.15
    hurry_factor: float = 1.6
    stock: tuple[Stock, ...] = ()


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
    """One place at one inspection, as found, before any fitting of that stop. Exactly one of the ways to read is set."""

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
    new_wear_mm: float | None = None
    new_rebuilds: int | None = None
    from_position: int | None = None
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
