"""A drive that goes on beyond the face under somebody's decisions, with its costs counted from the truth.

The loop of a study::

    follower = world.follow()
    while (stop := decide(follower.site())) is not None:      # a plan, re-made from what is known by now, or a rule
        readings = follower.advance_to(stop.driven_m, window=stop.window)
        follower.change(chosen(readings))                      # position numbers
    follower.finish()
    follower.account.total
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from wearplan.site.records import EntryRow, Measurement, Site, Stops, Window

from .crew import Crew
from .run import Run


@dataclass
class Account:
    """Money and hours from the face at the start on; amounts in the site's currency."""

    standstill: float = 0.0
    fixed: float = 0.0
    tools: float = 0.0
    """Bought or rebuilt, less what life is left at the end of the drive."""
    late: float = 0.0
    """For tools that ran past their damage limit: once each, by the metre, and the forced stop of the stretch."""
    pressure: float = 0.0
    """The site's own price on hours under pressure."""
    stops: int = 0
    changes: int = 0
    late_tools: int = 0
    over_limit_found: int = 0
    entries_under_pressure: int = 0
    person_hours_under_pressure: float = 0.0
    log: list[str] = field(default_factory=list)

    @property
    def total(self) -> float:
        return self.standstill + self.fixed + self.tools + self.late + self.pressure


def entry_row(stops: Stops, mode: str, pressure_bar: float) -> EntryRow | None:
    """The row that holds: the lowest one at or above the pressure."""
    fitting = [r for r in stops.entry_rows if r.mode == mode and r.up_to_pressure_bar >= pressure_bar]
    return min(fitting, key=lambda r: r.up_to_pressure_bar, default=None)


class Follower:
    """See the module's words."""

    def __init__(self, run: Run, rng: np.random.Generator):
        self.run = run
        self.crew = Crew(run, rng)
        self.account = Account()
        self._window: Window | None = None
        self._late: set[tuple[int, int]] = set()
        self._start_ring = run.ring - 1
        wheel = run.blueprint.wheel
        self.damage_mm = np.array(
            [wheel.tool_type(p.tool_type).damage_limit_mm or np.inf for p in wheel.positions]
        )

    def site(self) -> Site:
        """What is known now: at a stop, with this stop's readings and without its fittings until `change`."""
        return self.run.site()

    @property
    def face_m(self) -> float:
        return self.run.face_m

    @property
    def done(self) -> bool:
        return self.run.ring >= self.run.process.rings

    def _drive(self, ring: int) -> None:
        costs = self.run.blueprint.stops.costs  # type: ignore[union-attr]
        while self.run.ring < min(ring, self.run.process.rings):
            before = self.run.face_m
            self.run.drive_to(self.run.ring + 1)
            step = self.run.face_m - before
            for i in np.flatnonzero(self.run.state.wear_mm > self.damage_mm):
                key = (int(i), int(self.run.state.fitted_ring[i]))
                if key not in self._late:
                    self._late.add(key)
                    self.account.late_tools += 1
                    self.account.late += costs.late_tool + self._forced_hours() * costs.standstill_per_hour
                self.account.late += costs.late_tool_per_m * step

    def _forced_hours(self) -> float:
        stops = self.run.blueprint.stops
        rows = [f for f in stops.forced_stops if f.from_m <= self.run.face_m <= f.to_m] if stops else []
        return min((f.hours for f in rows), default=0.0)

    def window_at(self, driven_m: float) -> Window | None:
        """The window a stop there lies in."""
        stops = self.run.blueprint.stops
        for window in stops.windows if stops else ():
            if window.from_m - 1e-6 <= driven_m <= window.to_m + 1e-6:
                return window
        return None

    def advance_to(
        self, driven_m: float, *, window: str | None = None, numbers: Iterable[int] | None = None
    ) -> tuple[Measurement, ...]:
        """Drive to the first ring end at or after ``driven_m``, stop in its window and read the places.

        ``numbers`` limits the reading to those places; without it all are reached. Costs of set-up are booked here,
        hours of work by `change`. `ValueError` where no window holds the place.
        """
        ring = int(np.searchsorted(self.run.process.edges_m, driven_m - 1e-6))
        self._drive(ring)
        stops = self.run.blueprint.stops
        found = self.window_at(driven_m)
        if window is not None and stops is not None:
            found = next((w for w in stops.windows if w.name == window), found)
        if found is None:
            raise ValueError(f"no window at {driven_m} m driven")
        self._window = found
        readings = self.crew.read(reach=1.0, numbers=numbers)
        for m in readings:
            value = m.worst_mm if m.worst_mm is not None else m.wear_above_mm
            if value is not None and value > self.run.limit_mm[self.run.index[m.position]]:
                self.account.over_limit_found += 1
        self.run.stop(readings, mode=found.mode, pressure_bar=found.pressure_bar or None, hours=1.0)
        self.crew.learn(self.crew.seen(readings))
        self.account.stops += 1
        self.account.fixed += found.fixed_cost
        return readings

    def change(
        self, numbers: Iterable[int] = (), *, reasons: Mapping[int, str] | None = None,
        hours: float | None = None, entries: int | None = None,
    ) -> None:  # fmt: skip
        """Change the tools at these positions (housings whole) at the stop reached, and book the stop.

        ``hours`` and ``entries`` of the planner may be given so that both reckon alike; without them the stop takes
        set-up, the site's steps and the change hours over the work places in parallel, in whole entries.
        """
        assert self._window is not None, "advance_to a stop first"
        wheel = self.run.blueprint.wheel
        chosen = set(numbers)
        housings = {wheel.position(n).housing for n in chosen} - {None}
        chosen |= {p.number for p in wheel.positions if p.housing in housings}
        units: dict[str, int] = {}
        for n in sorted(chosen):
            units.setdefault(wheel.position(n).housing or str(n), n)
        window, stops = self._window, self.run.blueprint.stops
        assert stops is not None
        row = entry_row(stops, window.mode, window.pressure_bar)
        types = [wheel.tool_type(wheel.position(n).tool_type) for n in units.values()]
        work = sum(tool_type.change_hours.get(window.mode, 1.0) for tool_type in types)
        places = row.places if row else 1
        in_chamber = work / max(places, 1)
        if entries is None:
            entries = max(1, math.ceil(in_chamber / row.working_hours_per_entry - 1e-9)) if row else 1
        if hours is None:
            hours = window.setup_hours + sum(stops.steps.values())
            hours += max(in_chamber, 24.0 * entries / row.entries_per_day) if row else in_chamber
        self.account.standstill += hours * stops.costs.standstill_per_hour
        if window.mode != "free air" and row is not None:
            person_hours = entries * row.persons * row.working_hours_per_entry
            self.account.entries_under_pressure += entries
            self.account.person_hours_under_pressure += person_hours
            self.account.pressure += person_hours * stops.costs.compressed_air_per_person_hour
        self.account.tools += sum(self._price(n) for n in units.values())
        self.account.changes += len(units)
        self.account.log.append(f"{self.face_m:.1f} m {window.name}: {len(units)} changed, {hours:.0f} h")
        self.run.fit(sorted(chosen), reasons=reasons)
        for n in chosen:
            i = self.run.index[n]
            self.crew.level_mm[i], self.crew.level_m[i] = 0.0, self.face_m
        self.crew.last_m = self.face_m

    def _price(self, number: int) -> float:
        """A new tool; rebuilds are left to the store, so that every policy pays alike."""
        wheel = self.run.blueprint.wheel
        return wheel.tool_type(wheel.position(number).tool_type).price

    def finish(self) -> Account:
        """Drive to the end without a further stop and credit the life left in the tools fitted on the way."""
        self._drive(self.run.process.rings)
        wheel = self.run.blueprint.wheel
        credited: set[str] = set()
        for i, position in enumerate(wheel.positions):
            unit = position.housing or str(position.number)
            edges = [k for k, p in enumerate(wheel.positions) if (p.housing or str(p.number)) == unit]
            if unit in credited:
                continue
            credited.add(unit)
            if int(self.run.state.fitted_ring[i]) > self._start_ring:
                left = min(max(0.0, 1.0 - self.run.state.wear_mm[k] / self.run.limit_mm[k]) for k in edges)
                self.account.tools -= left * self._price(position.number)
        return self.account
