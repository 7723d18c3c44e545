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

from wearplan.site.records import EntryRow, Measurement, Site, Stops, ToolType, Window

from .crew import Crew
from .run import Run


@dataclass
class Account:
    """Money and hours from the face at the start on; amounts in the site's currency."""

    standstill: float = 0.0
    fixed: float = 0.0
    tools: float = 0.0
    """Steel used up: bought, less what sound cores and the life left at the end are worth."""
    late: float = 0.0
    """For tools worn past their damage limit: once each, by the metre, and the forced stop of the stretch."""
    broken: float = 0.0
    """For tools broken by damage: once each and by the metre until they are changed."""
    pressure: float = 0.0
    """The site's own price on hours under pressure."""
    stops: int = 0
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
        wheel = run.blueprint.wheel
        self.damage_mm = np.array([wheel.tool_type(p.tool_type).damage_limit_mm or np.inf for p in wheel.positions])

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
        state = self.run.state
        while self.run.ring < min(ring, self.run.process.rings):
            before = self.run.face_m
            self.run.drive_to(self.run.ring + 1)
            step = self.run.face_m - before
            worn = state.wear_mm > self.damage_mm
            for i in np.flatnonzero(worn | (state.trouble_ring >= 0)):
                key = (int(i), int(state.fitted_ring[i]))
                new = key not in self._late
                self._late.add(key)
                if worn[i]:
                    self.account.late += costs.late_tool_per_m * step
                    if new:
                        self.account.late_tools += 1
                        self.account.late += costs.late_tool + self._forced_hours() * costs.standstill_per_hour
                else:
                    self.account.broken += costs.late_tool_per_m * step
                    if new:
                        self.account.broken_tools += 1
                        self.account.broken += costs.late_tool

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

        ``numbers`` limits the reading to those places; without it all are read. Costs of set-up are booked here,
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
        everywhere = [p.number for p in self.run.blueprint.wheel.positions]
        readings = self.crew.read(reach=1.0, numbers=everywhere if numbers is None else numbers)
        for m in readings:
            value = m.worst_mm if m.worst_mm is not None else m.wear_above_mm
            if value is not None and value > self.run.limit_mm[self.run.index[m.position]]:
                self.account.over_limit_found += 1
        self.run.stop(readings, mode=found.mode, pressure_bar=found.pressure_bar or None, hours=1.0)
        self.crew.learn(self.crew.seen(readings))
        self.account.stops += 1
        return readings

    def change(
        self, numbers: Iterable[int] = (), *, reasons: Mapping[int, str] | None = None,
        moves: Iterable[tuple[int, int]] = (), hours: float | None = None, entries: int | None = None,
    ) -> None:  # fmt: skip
        """Change the tools at these positions (housings whole) at the stop reached, and book the stop.

        ``moves`` (to, from) puts the tool of one single place on another, whose own is taken off; the place it comes
        from must be among ``numbers``, else the place it goes to is changed like the others.
        ``hours`` and ``entries`` of the planner may be given so that both reckon alike; without them `StopTerms`.
        """
        assert self._window is not None, "advance_to a stop first"
        stops, wheel = self.run.blueprint.stops, self.run.blueprint.wheel
        assert stops is not None
        chosen = set(numbers)
        moves = [(to, source) for to, source in moves if source in chosen and wheel.position(to).housing is None]
        chosen |= {to for to, _ in moves}
        housings = {wheel.position(n).housing for n in chosen} - {None}
        chosen |= {p.number for p in wheel.positions if p.housing in housings}
        places: dict[str, list[int]] = {}
        for n in sorted(chosen):
            places.setdefault(wheel.position(n).housing or str(n), []).append(n)
        terms = stop_terms(stops, self._window)
        types = {code: wheel.tool_type(wheel.position(edges[0]).tool_type) for code, edges in places.items()}
        work = sum(tool_type.change_hours.get(self._window.mode, 1.0) for tool_type in types.values())
        entries = terms.entries(work) if entries is None else entries
        hours = terms.hours(work) if hours is None else hours
        account = self.account
        account.standstill += hours * stops.costs.standstill_per_hour
        account.fixed += terms.fixed_cost
        if terms.under_pressure:
            person_hours = entries * terms.persons * terms.hours_per_entry
            account.entries_under_pressure += entries
            account.person_hours_under_pressure += person_hours
            account.pressure += person_hours * stops.costs.compressed_air_per_person_hour
        arrivals, departures = {to for to, _ in moves}, {source for _, source in moves}
        for code, edges in places.items():
            account.tools += 0.0 if edges[0] in arrivals else types[code].price
            if edges[0] not in departures and self._sound(edges):
                account.tools -= core_worth(types[code])
        account.changes += len(places)
        account.log.append(f"{self.face_m:.1f} m {self._window.name}: {len(places)} changed, {hours:.0f} h")
        self.run.fit(sorted(chosen - arrivals), reasons=reasons, moves=moves)
        for to, source in moves:
            a, b = self.run.index[to], self.run.index[source]
            self.crew.level_mm[a], self.crew.level_m[a] = self.crew.level_mm[b], self.crew.level_m[b]
        for n in chosen - arrivals:
            i = self.run.index[n]
            self.crew.level_mm[i], self.crew.level_m[i] = 0.0, self.face_m
        self.crew.last_m = self.face_m

    def _sound(self, edges: Iterable[int]) -> bool:
        state = self.run.state
        at = [self.run.index[n] for n in edges]
        return all(state.wear_mm[i] <= self.damage_mm[i] and state.trouble_ring[i] < 0 for i in at)

    def finish(self) -> Account:
        """Drive to the end without a further stop and credit cores and the life left in the tools on the wheel."""
        self._drive(self.run.process.rings)
        wheel = self.run.blueprint.wheel
        places: dict[str, list[int]] = {}
        for position in wheel.positions:
            places.setdefault(position.housing or str(position.number), []).append(position.number)
        for edges in places.values():
            if not self._sound(edges):
                continue
            tool_type = wheel.tool_type(wheel.position(edges[0]).tool_type)
            at = [self.run.index[n] for n in edges]
            left = min(max(0.0, 1.0 - self.run.state.wear_mm[i] / self.run.limit_mm[i]) for i in at)
            self.account.tools -= core_worth(tool_type) + left * (tool_type.price - core_worth(tool_type))
        return self.account
