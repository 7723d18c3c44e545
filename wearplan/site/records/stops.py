"""Where the drive may stop, under which entry procedure, at what cost."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Annotated

from wearplan.site.records.key import Chainage, Hours, Key, Line, Money, Name, Note, PressureBar
from wearplan.site.records.places import NOWHERE, Origin
from wearplan.site.records.words import MINOR, WINDOW_KINDS, Condition, Mode


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What the site puts on standstill, on late tools and on damage."""

    standstill_per_hour: Annotated[Money, Key()]
    late_tool: Annotated[
        Money,
        Key("Expected when a tool passes its damage limit, beside the hours of the stop it forces and the new tool."),
    ]
    late_tool_per_m: Annotated[Money, Key("For every metre driven with a tool that is broken.")] = 0.0
    noticed_after_m: Annotated[
        float | None,
        Key(
            "Metres driven until a passed damage limit is noticed, each at `late_tool_per_m`; at once without it.",
            ge=0, le=1000,
        ),
    ] = None
    compressed_air_per_person_hour: Annotated[
        Money, Key("The price the site puts on an hour under pressure when plans are compared.")
    ] = 0.0
    max_compressed_air_entries: Annotated[int | None, Key(ge=0, le=100_000)] = None
    minor_damage: Annotated[Money, Key("Expected when a tool is chipped or the like and goes on working.")] = 0.0
    major_damage: Annotated[
        Money | None,
        Key("Expected when a tool is cracked, seized, lost or the like; `late_tool` without it."),
    ] = None
    """None: what a late tool costs."""
    major_damage_per_m: Annotated[
        Money | None, Key("For every metre driven with it until it is changed; `late_tool_per_m` without it.")
    ] = None
    """None: ``late_tool_per_m``."""
    minor_conditions: Annotated[
        tuple[Condition, ...], Key("Which conditions of a reading are minor; all other damage is major.")
    ] = MINOR

    @property
    def passed_limit(self) -> float:
        """What a tool costs that passes its damage limit, beside the stop it forces and the new tool."""
        return self.late_tool + self.late_tool_per_m * (self.noticed_after_m or 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ForcedStop:
    """What a stop outside the windows costs on a stretch; without a row the hours of the slowest window are taken."""

    from_m: float
    to_m: float
    from_chainage_m: Annotated[Chainage, Key()]
    to_chainage_m: Annotated[Chainage, Key()]
    hours: Annotated[Hours, Key()]
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class EntryRow:
    """A row of the site's own approved procedure. The program has no values of its own."""

    mode: Annotated[Mode, Key()]
    up_to_pressure_bar: Annotated[
        PressureBar,
        Key("Between rows the next higher one holds; above the last a window cannot be used; never interpolated."),
    ]
    working_hours_per_entry: Annotated[float, Key(gt=0, le=24)]
    entries_per_day: Annotated[float, Key(gt=0, le=24)]
    persons: Annotated[int, Key(ge=1, le=50)]
    places: Annotated[int, Key("Tools that can be worked on at once.", ge=1, le=50)]
    document: Annotated[Line | None, Key("Document and revision.")] = None
    approved_by: Annotated[Line | None, Key()] = None
    approved_on: Annotated[date | None, Key()] = None
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Where the drive may stop for an entry."""

    from_chainage_m: Annotated[Chainage, Key()]
    to_chainage_m: Annotated[Chainage, Key()]
    from_m: float
    to_m: float
    name: Annotated[Name, Key()]
    kind: Annotated[str, Key(words=WINDOW_KINDS)]
    mode: Annotated[Mode, Key()]
    pressure_bar: Annotated[PressureBar, Key("From the approved face-stability calculation; bar gauge at the axis.")]
    pressure_source: Annotated[Line | None, Key('Without it: "not approved, planning only", on every output.')] = None
    setup_hours: Annotated[Hours, Key()]
    fixed_cost: Annotated[Money, Key("Treatment and the like.")] = 0.0
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepOut:
    """A stretch on which nobody may stop."""

    from_chainage_m: Annotated[Chainage, Key()]
    to_chainage_m: Annotated[Chainage, Key()]
    from_m: float
    to_m: float
    reason: Annotated[Note, Key()]
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stops:
    """stops.toml: what stops cost and where they may be."""

    costs: Annotated[Costs, Key()]
    forced_stops: Annotated[tuple[ForcedStop, ...], Key(at="forced_stop", most=1000)] = ()
    steps: Annotated[Mapping[Name, Hours], Key("Site durations in hours, for the schedule of a stop.")] = field(
        default_factory=lambda: MappingProxyType({})
    )
    """By the step's name, in the file's order."""
    entry_rows: Annotated[tuple[EntryRow, ...], Key(at="entry", most=200)] = ()
    windows: Annotated[tuple[Window, ...], Key(at="window", most=1000)] = ()
    """In the order of the drive."""
    keep_outs: Annotated[tuple[KeepOut, ...], Key(at="keep_out", most=1000)] = ()
