"""A drive that goes on beyond the face under somebody's decisions, with its costs counted from the truth.

The loop of a study::

    follower = world.follow()
    while (stop := decide(follower.site())) is not None:      # a plan, re-made from what is known by now, or a rule
        readings = follower.advance_to(stop.driven_m, window=stop.window)
        follower.change(chosen(readings))                      # position numbers
    follower.finish()
    follower.account.total

A tool that passes its damage limit stops the drive at the end of that ring, wherever that is: the site's hours of a
forced stop once, ``late_tool`` and a new tool for each that is late. All places are read there, as at any stop, and
whoever decides may change more (``at_forced``): each costs its price and its work, shared over the work places. So it
is for every way of going on, perfect foresight too. It is taken that the passing is noticed at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from wearplan.site.records import Measurement, Site, ToolType, Window

from .booking import Account, core_worth, damage_price, stop_terms
from .crew import Crew, Seen
from .run import Run


@dataclass(frozen=True, kw_only=True)
class Forced:
    """One forced stop as it went."""

    driven_m: float
    day: date
    late: tuple[int, ...]
    """Position numbers past their damage limit."""
    also: tuple[int, ...]
    """Changed with them."""


AtForced = Callable[["Follower", dict[int, Seen]], Iterable[int]]
"""What else to change at a forced stop, from what was read there; the late tools are changed already."""


def nothing_else(follower: Follower, seen: dict[int, Seen]) -> tuple[int, ...]:
    """Only the tool that forced the stop."""
    return ()


class Follower:
    """See the module's words."""

    def __init__(self, run: Run, rng: np.random.Generator):
        self.run = run
        self.crew = Crew(run, rng)
        self.account = Account()
        self.at_forced: AtForced = nothing_else
        self.forced: list[Forced] = []
        self._window: Window | None = None
        self._broken: set[tuple[int, int]] = set()
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

    def _drive(self, ring: int, *, until_forced: bool = False) -> bool:
        """Build rings up to ``ring``; whether it was reached, which only ``until_forced`` may prevent."""
        costs = self.run.blueprint.stops.costs  # type: ignore[union-attr]
        state = self.run.state
        while self.run.ring < min(ring, self.run.process.rings):
            before = self.run.face_m
            self.run.drive_to(self.run.ring + 1)
            step = self.run.face_m - before
            for i in np.flatnonzero(state.trouble_ring >= 0):
                key = (int(i), int(state.fitted_ring[i]))
                once, per_m = damage_price(costs, state.condition[i])
                self.account.broken += per_m * step
                if key not in self._broken:
                    self._broken.add(key)
                    self.account.broken_tools += per_m > 0.0
                    self.account.broken += once
            late = np.flatnonzero(state.wear_mm > self.damage_mm)
            if len(late):
                self._forced_stop([int(self.run.process.numbers[i]) for i in late])
                if until_forced:
                    return False
        return True

    def _forced_stop(self, late: list[int]) -> None:
        stops = self.run.blueprint.stops
        assert stops is not None
        rows = [f for f in stops.forced_stops if f.from_m <= self.run.face_m <= f.to_m]
        hours = min((f.hours for f in rows), default=0.0)
        account, places = self.account, self._places(late)
        account.forced_stops += 1
        account.late_tools += len(places)
        account.late += hours * stops.costs.standstill_per_hour + len(places) * stops.costs.late_tool
        readings = self.crew.read(reach=1.0, numbers=[p.number for p in self.run.blueprint.wheel.positions])
        under_air = [r for r in stops.entry_rows if r.mode != "free air"]
        row = max(under_air, key=lambda r: r.up_to_pressure_bar, default=None)
        pressure = None if row is None else row.up_to_pressure_bar
        self.run.stop(readings, mode="compressed air", hours=max(hours, 1.0), pressure_bar=pressure)
        seen = self.crew.seen(readings)
        self.crew.learn(seen)
        self._swap_steel(places)
        self._fit([n for edges in places.values() for n in edges])
        more = self._places(set(self.at_forced(self, seen)) - set().union(*places.values()))
        work = sum(self._type(edges).change_hours.get("compressed air", 1.0) for edges in more.values())
        if row is not None:
            slowness = max(24.0 / row.entries_per_day, row.working_hours_per_entry) / row.working_hours_per_entry
            account.standstill += work / row.places * slowness * stops.costs.standstill_per_hour
        self._swap_steel(more)
        self._fit([n for edges in more.values() for n in edges])
        self.crew.last_m = self.face_m
        also = tuple(sorted(n for edges in more.values() for n in edges))
        self.forced.append(
            Forced(driven_m=self.face_m, day=self.run.clock.now.date(), late=tuple(sorted(late)), also=also)
        )
        account.log.append(f"{self.face_m:.1f} m forced: {len(places)} late, {len(more)} more changed, {hours:.0f} h")

    def drive_towards(self, driven_m: float) -> bool:
        """Drive on to the ring of ``driven_m``; False where a forced stop came first, which is then behind."""
        return self._drive(int(np.searchsorted(self.run.process.edges_m, driven_m - 1e-6)), until_forced=True)

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
        places = self._places(chosen)
        chosen = set().union(*places.values())
        terms = stop_terms(stops, self._window)
        work = sum(self._type(edges).change_hours.get(self._window.mode, 1.0) for edges in places.values())
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
        self._swap_steel(places, arrivals=arrivals, departures=departures)
        account.log.append(f"{self.face_m:.1f} m {self._window.name}: {len(places)} changed, {hours:.0f} h")
        self.run.fit(sorted(chosen - arrivals), reasons=reasons, moves=moves)
        for to, source in moves:
            a, b = self.run.index[to], self.run.index[source]
            self.crew.level_mm[a], self.crew.level_m[a] = self.crew.level_mm[b], self.crew.level_m[b]
        self._new_levels(chosen - arrivals)
        self.crew.last_m = self.face_m

    def _places(self, numbers: Iterable[int]) -> dict[str, list[int]]:
        """The whole places (housings) of these positions."""
        wheel = self.run.blueprint.wheel
        chosen = set(numbers)
        housings = {wheel.position(n).housing for n in chosen} - {None}
        chosen |= {p.number for p in wheel.positions if p.housing in housings}
        places: dict[str, list[int]] = {}
        for n in sorted(chosen):
            places.setdefault(wheel.position(n).housing or str(n), []).append(n)
        return places

    def _type(self, edges: list[int]) -> ToolType:
        wheel = self.run.blueprint.wheel
        return wheel.tool_type(wheel.position(edges[0]).tool_type)

    def _swap_steel(
        self, places: Mapping[str, list[int]], *, arrivals: Iterable[int] = (), departures: Iterable[int] = ()
    ) -> None:
        """Book the tools bought and the cores given back."""
        for edges in places.values():
            tool_type = self._type(edges)
            self.account.tools += 0.0 if edges[0] in arrivals else tool_type.price
            if edges[0] not in departures and self._sound(edges):
                self.account.tools -= core_worth(tool_type)
        self.account.changes += len(places)

    def _fit(self, numbers: list[int]) -> None:
        self.run.fit(sorted(numbers))
        self._new_levels(numbers)

    def _new_levels(self, numbers: Iterable[int]) -> None:
        for n in numbers:
            i = self.run.index[n]
            self.crew.level_mm[i], self.crew.level_m[i] = 0.0, self.face_m

    def _sound(self, edges: Iterable[int]) -> bool:
        state = self.run.state
        at = [self.run.index[n] for n in edges]
        minor = self.run.blueprint.stops.costs.minor_conditions  # type: ignore[union-attr]
        whole = [state.trouble_ring[i] < 0 or state.condition[i] in minor for i in at]
        return all(whole) and all(state.wear_mm[i] <= self.damage_mm[i] for i in at)

    def finish(self) -> Account:
        """Drive to the end without a further stop and credit cores and the life left in the tools on the wheel."""
        self._drive(self.run.process.rings)
        for edges in self._places(p.number for p in self.run.blueprint.wheel.positions).values():
            if not self._sound(edges):
                continue
            tool_type = self._type(edges)
            at = [self.run.index[n] for n in edges]
            left = min(max(0.0, 1.0 - self.run.state.wear_mm[i] / self.run.limit_mm[i]) for i in at)
            self.account.tools -= core_worth(tool_type) + left * (tool_type.price - core_worth(tool_type))
        return self.account
