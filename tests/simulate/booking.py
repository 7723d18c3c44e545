"""What a drive costs whoever goes on with it: the account, the terms of a stop, the worth of a worn tool.

Reckoned here in a plain way of its own; nothing of the program's plan is used.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from wearplan.site.records import Costs, EntryRow, Stops, ToolType, Window


@dataclass
class Account:
    """Money and hours from the face at the start on; amounts in the site's currency."""

    standstill: float = 0.0
    fixed: float = 0.0
    tools: float = 0.0
    """Steel used up: bought, less what sound cores and the life left at the end are worth."""
    late: float = 0.0
    """For tools worn past their damage limit: once each, and the hours of the stops they force."""
    broken: float = 0.0
    """For tools broken by damage: once each and, where it is major, by the metre until they are changed."""
    pressure: float = 0.0
    """The site's own price on hours under pressure."""
    stops: int = 0
    """Chosen ones, in windows."""
    forced_stops: int = 0
    """Outside any choice: a tool had passed its damage limit."""
    changes: int = 0
    late_tools: int = 0
    broken_tools: int = 0
    over_limit_found: int = 0
    entries_under_pressure: int = 0
    person_hours_under_pressure: float = 0.0
    log: list[str] = field(default_factory=list)

    @property
    def total(self) -> float:
        return self.standstill + self.fixed + self.tools + self.late + self.broken + self.pressure


@dataclass(frozen=True, kw_only=True)
class StopTerms:
    """What a stop in a window takes, by the site's own rows and steps."""

    outside_hours: float
    """Before and after the work."""
    look_hours: float
    places: int
    persons: int
    hours_per_entry: float
    entry_every_hours: float
    fixed_cost: float
    under_pressure: bool

    def entries(self, work_hours: float) -> int:
        """Whole entries for the look and so many hours of one work place."""
        return max(1, math.ceil((self.look_hours + work_hours / self.places) / self.hours_per_entry - 1e-9))

    def hours(self, work_hours: float) -> float:
        return self.outside_hours + self.entries(work_hours) * self.entry_every_hours


def stop_terms(stops: Stops, window: Window) -> StopTerms:
    """Terms of a window; `ValueError` where no entry row holds."""
    row = entry_row(stops, window.mode, window.pressure_bar)
    if row is None:
        raise ValueError(f"no entry row for {window.name}")
    steps = {k: v for k, v in stops.steps.items() if window.mode != "free air" or k != "air_support"}
    after = steps.pop("refill", 0.0)
    look = steps.pop("clean_and_look", 0.0)
    return StopTerms(
        outside_hours=max(window.setup_hours, sum(steps.values())) + after, look_hours=look, places=row.places,
        persons=row.persons, hours_per_entry=row.working_hours_per_entry,
        entry_every_hours=max(24.0 / row.entries_per_day, row.working_hours_per_entry), fixed_cost=window.fixed_cost,
        under_pressure=window.mode != "free air",
    )  # fmt: skip


def core_worth(tool_type: ToolType) -> float:
    """What a sound worn tool is worth to the rebuilder."""
    if tool_type.rebuild_price is None:
        return 0.0
    return tool_type.rebuildable_share * max(0.0, tool_type.price - tool_type.rebuild_price)


def damage_price(costs: Costs, condition: str) -> tuple[float, float]:
    """What a tool broken in that way costs at once and by the metre, by the site's own words and prices."""
    if condition in costs.minor_conditions:
        return costs.minor_damage, 0.0
    once = costs.late_tool if costs.major_damage is None else costs.major_damage
    return once, costs.late_tool_per_m if costs.major_damage_per_m is None else costs.major_damage_per_m


def entry_row(stops: Stops, mode: str, pressure_bar: float) -> EntryRow | None:
    """The row that holds: the lowest one at or above the pressure."""
    fitting = [r for r in stops.entry_rows if r.mode == mode and r.up_to_pressure_bar >= pressure_bar]
    return min(fitting, key=lambda r: r.up_to_pressure_bar, default=None)
