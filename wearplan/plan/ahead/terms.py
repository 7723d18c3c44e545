"""What a stop in a window takes: hours, whole entries, people, out of the site's own rows and steps.

How the hours of a stop are put together
----------------------------------------
* Before the work: the longer of the window's ``setup_hours`` and the site's own ``[steps]`` that come before the
  look (set-up hours hold those steps; what is over is listed as set-up). ``air_support`` belongs to compressed air
  only.
* In the chamber: the step ``clean_and_look`` and the changes, shared over the work places of the entry row.
* Whole entries: chamber hours over ``working_hours_per_entry``, rounded up, at least one. The standstill of the work
  is then entries times 24 h / ``entries_per_day``: the site's own interval between entries. It includes whatever the
  approved procedure asks for between them, so that no time of locking in or out is ever reckoned here.
* After the work: the steps that follow the look, such as ``refill``.
* Tools reached from inside are changed in free air beside the chamber work; the longer of the two counts. A stop in a
  window of compressed air may also be made for them alone: no air support, no look, no entry.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from wearplan.site.records import PLANNED_MODES, Costs, EntryRow, Position, Stops, ToolType, Window

LOOK = "clean_and_look"
CLOSING = ("refill",)
AIR_ONLY = ("air_support",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """A window's terms for one stop."""

    window: Window
    row: EntryRow | None
    before: tuple[tuple[str, float], ...]
    look_hours: float
    after: tuple[tuple[str, float], ...]
    work_places: int
    persons: int
    hours_per_entry: float
    """Working hours of one entry; inf where no row sets them (free air)."""
    entry_interval_hours: float
    """Hours from the start of one entry to the next; 0 where no row sets them: the work counts by itself."""
    standstill_per_hour: float
    person_hour_price: float
    inside_only: bool = False
    """A stop at which only tools reached from inside are changed, in free air: nobody enters the chamber."""

    @property
    def mode(self) -> str:
        return "free air" if self.inside_only else self.window.mode

    @property
    def under_pressure(self) -> bool:
        return self.mode == "compressed air"

    @property
    def before_hours(self) -> float:
        return sum(hours for _, hours in self.before)

    @property
    def after_hours(self) -> float:
        return sum(hours for _, hours in self.after)

    @property
    def opening_cost(self) -> float:
        """Cost of a stop at which nobody works: set-up, close-out and what the window itself costs."""
        return (self.before_hours + self.after_hours) * self.standstill_per_hour + self.window.fixed_cost

    @property
    def entry_cost(self) -> float:
        """Standstill of one whole entry; 0 where no row counts entries."""
        return self.entry_interval_hours * self.standstill_per_hour

    def entries(self, chamber_hours: float) -> int:
        """Whole entries for so many hours in the chamber; at least one, unless nobody enters."""
        if self.inside_only:
            return 0
        if not math.isfinite(self.hours_per_entry):
            return 1
        return max(1, math.ceil(chamber_hours / self.hours_per_entry - 1e-9))

    def work_hours(self, chamber_hours: float) -> float:
        """Standstill while people work, in whole entries."""
        if self.entry_interval_hours <= 0.0:
            return chamber_hours
        return self.entries(chamber_hours) * self.entry_interval_hours

    @property
    def hour_cost(self) -> float:
        """Cost of one chamber hour when entries are not counted whole: standstill, and persons at the site's price."""
        stand = self.standstill_per_hour
        if self.entry_interval_hours > 0.0:
            stand *= self.entry_interval_hours / self.hours_per_entry
        return stand + self.person_cost

    @property
    def person_cost(self) -> float:
        """The site's price of the persons of one chamber hour under pressure."""
        return self.persons * self.person_hour_price if self.under_pressure else 0.0


def entry_row(rows: Sequence[EntryRow], window: Window) -> EntryRow | None:
    """The row of the next higher pressure for this window's mode, never interpolated; None where there is none."""
    fit = [r for r in rows if r.mode == window.mode and r.up_to_pressure_bar >= window.pressure_bar - 1e-9]
    return min(fit, key=lambda r: r.up_to_pressure_bar, default=None)


def missing_row(rows: Sequence[EntryRow], window: Window) -> str | None:
    """Why a window cannot be used for want of a row; None where it can.

    Free air without any row stands: one work place, hours as they come, and that is said elsewhere.
    """
    if window.mode not in PLANNED_MODES:
        return f"mode {window.mode!r} is recorded, never planned: this stop is for a specialist"
    if entry_row(rows, window) is not None:
        return None
    same = [r.up_to_pressure_bar for r in rows if r.mode == window.mode]
    if window.mode == "free air" and not same:
        return None
    have = f"the highest row there is goes up to {max(same):g} bar" if same else "there is no row for that mode"
    return (
        f'needs an [[entry]] row with mode = "{window.mode}" and up_to_pressure_bar of at least '
        f"{window.pressure_bar:g}; {have}. Add the row from the site's approved procedure to use this window"
    )


def split_steps(
    steps: Mapping[str, float], *, mode: str, setup_hours: float
) -> tuple[tuple[tuple[str, float], ...], float, tuple[tuple[str, float], ...]]:
    """Steps before the look, hours of the look, steps after the work."""
    names = [n for n in steps if mode == "compressed air" or n not in AIR_ONLY]
    if LOOK in names:
        at = names.index(LOOK)
    else:
        at = next((i for i, n in enumerate(names) if n in CLOSING), len(names))
    before = [(n, float(steps[n])) for n in names[:at] if n not in CLOSING]
    after = tuple((n, float(steps[n])) for n in names[at:] if n != LOOK)
    rest = setup_hours - sum(h for _, h in before)
    if rest > 1e-9:
        before.insert(0, ("set-up", rest))
    return tuple(before), float(steps.get(LOOK, 0.0)), after


def terms_of(stops: Stops, window: Window) -> Terms:
    """Terms of a usable window (see `missing_row`)."""
    costs: Costs = stops.costs
    row = entry_row(stops.entry_rows, window)
    before, look, after = split_steps(stops.steps, mode=window.mode, setup_hours=window.setup_hours)
    counted = row is not None and row.working_hours_per_entry > 0 and row.entries_per_day > 0
    return Terms(
        window=window,
        row=row,
        before=before,
        look_hours=look,
        after=after,
        work_places=max(1, row.places) if row else 1,
        persons=max(1, row.persons) if row else 1,
        hours_per_entry=row.working_hours_per_entry if row and counted else math.inf,
        entry_interval_hours=max(24.0 / row.entries_per_day, row.working_hours_per_entry) if row and counted else 0.0,
        standstill_per_hour=costs.standstill_per_hour,
        person_hour_price=costs.compressed_air_per_person_hour,
    )


def unplanned_hours(stops: Stops) -> float:
    """Hours taken for a stop that a late tool forces where no ``[[forced_stop]]`` row says: set-up, look, one entry and
    closing of the slowest window of the drive. Our own assumption, no published source.
    """
    hours = [sum(stops.steps.values())]
    for window in stops.windows:
        if missing_row(stops.entry_rows, window) is None:
            terms = terms_of(stops, window)
            hours.append(terms.before_hours + terms.work_hours(terms.look_hours) + terms.after_hours)
    return max(hours)


def inside_terms_of(stops: Stops, window: Window) -> Terms:
    """Terms of a stop in a window of compressed air for tools reached from inside alone."""
    before, _, after = split_steps(stops.steps, mode="free air", setup_hours=window.setup_hours)
    return Terms(
        window=window,
        row=None,
        before=before,
        look_hours=0.0,
        after=after,
        work_places=1,
        persons=1,
        hours_per_entry=math.inf,
        entry_interval_hours=0.0,
        standstill_per_hour=stops.costs.standstill_per_hour,
        person_hour_price=0.0,
        inside_only=True,
    )


def change_hours(tool_type: ToolType, *, mode: str, access: str) -> float | None:
    """Hours of one work place to change one tool; None where the site gives none for that mode.

    Tools reached from inside take the free-air hours whatever the mode of the window.
    """
    return tool_type.change_hours.get("free air" if access == "inside" else mode)


def access_of(positions: Sequence[Position]) -> str:
    """``inside`` only where every edge of the place is reached from inside."""
    return "inside" if all(p.access == "inside" for p in positions) else "chamber"


def makespan_hours(hours: Sequence[float], work_places: int) -> float:
    """Hours until all changes are done when each work place takes the longest job left (list scheduling).

    A change is not split between work places, so this may be longer than the sum over the places.
    """
    loads = [0.0] * max(1, work_places)
    for job in sorted(hours, reverse=True):
        loads[loads.index(min(loads))] += job
    return max(loads)
