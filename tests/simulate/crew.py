"""A site crew: reads with a real gauge, stops and changes by a simple rule, sees nothing of the truth."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

import numpy as np

from wearplan.site.records import Measurement

from .machine import OTHER_GRADE
from .run import Run, Seen

CHANGE_AT = 0.8
"""A tool read past this share of its limit is changed."""
LOST = ("ring lost", "tool lost")


class Crew:
    """Habits of a crew on one `Run`."""

    def __init__(self, run: Run, rng: np.random.Generator, *, closest_m: float = 30.0, widest_m: float = 140.0):
        self.run = run
        self.rng = rng
        self.closest_m = closest_m
        self.widest_m = widest_m
        places = len(run.limit_mm)
        self.level_mm = np.zeros(places)
        """Estimate at the place's last reading."""
        self.level_m = np.zeros(places)
        guess = np.median(run.process.mean_mm.sum(axis=1) / run.process.edges_m[-1])
        self.rate_mm_per_m = np.full(places, guess)
        self.last_m = 0.0
        self.inspections = 0
        self.parked_deg = 0.0
        """Angle about which the wheel was reached at the last reading."""

    # when to stop

    def expected_mm(self) -> np.ndarray:
        """(P,) what the crew reckons each tool has lost, by a straight line."""
        return self.level_mm + self.rate_mm_per_m * (self.run.face_m - self.level_m)

    def wants_to_stop(self) -> bool:
        since = self.run.face_m - self.last_m
        if since < self.closest_m:
            return False
        worn = self.expected_mm() > 0.9 * self.run.blueprint.options.boldness * self.run.limit_mm
        enough = max(2, len(worn) // 25)
        return bool(since >= self.widest_m or worn.sum() >= enough)

    # reading

    def read(self, *, reach: float | None = None, numbers: Iterable[int] | None = None) -> tuple[Measurement, ...]:
        """Readings of this stop, in the order of the wheel; places out of reach are written down as such."""
        options = self.run.blueprint.options
        crude = options.crude_crew_step_mm and self.inspections % 3 == 1
        step = options.crude_crew_step_mm if crude else options.step_mm
        shared = float(self.rng.normal(0.0, options.inspection_sd_mm))
        if reach is None:
            reach = 1.0 if self.rng.random() < 0.4 else float(self.rng.uniform(0.45, 0.9))
        middle = float(self.rng.uniform(0.0, 360.0))
        self.parked_deg = middle
        measurements: list[Measurement] = []
        wheel = self.run.blueprint.wheel
        chosen = None if numbers is None else set(numbers)
        missed = options.missed_share if chosen is None else 0.0
        for i, position in enumerate(wheel.positions):
            if chosen is not None and position.number not in chosen:
                continue
            off = abs((position.angle_deg - middle + 180.0) % 360.0 - 180.0)
            if off > 180.0 * reach and chosen is None:
                measurements.append(Measurement(position=position.number, not_read="not reached"))
                continue
            if self.rng.random() < missed * 0.6:
                if self.rng.random() < 0.3:
                    measurements.append(Measurement(position=position.number, not_read="not looked at"))
                continue
            measurements.append(self._one(i, shared, step))
        if options.misplaced_share:
            measurements = self._misplace(measurements, options.misplaced_share)
        return tuple(measurements)

    def _one(self, i: int, shared: float, step: float) -> Measurement:
        run, options = self.run, self.run.blueprint.options
        position = run.blueprint.wheel.positions[i]
        condition = run.state.condition[i]
        limit = float(run.limit_mm[i])
        value = float(run.state.wear_mm[i]) + shared + float(self.rng.normal(0.0, options.gauge_sd_mm))
        if condition in LOST:
            return Measurement(position=position.number, wear_above_mm=limit, method="gauge", condition=condition)
        if condition != "even":
            value += float(self.rng.uniform(2.0, 9.0))
        elif self.rng.random() < options.go_no_go_share:
            template = float(self.rng.choice([t for t in (1.0, 2.0, 5.0, 10.0, limit) if t <= limit]))
            if value < template:
                return Measurement(position=position.number, wear_below_mm=template, method="gauge", condition="even")
            return Measurement(position=position.number, wear_above_mm=template, method="gauge", condition="even")
        if value > limit + 8.0:
            return Measurement(position=position.number, wear_above_mm=limit + 8.0, method="gauge", condition=condition)
        rounded = max(0.0, round(value / step) * step)
        if rounded == 0.0 and self.rng.random() < 0.5:
            return Measurement(position=position.number, wear_below_mm=1.0, method="gauge", condition=condition)
        return Measurement(position=position.number, wear_mm=rounded, method="gauge", condition=condition)

    def _misplace(self, measurements: list[Measurement], share: float) -> list[Measurement]:
        for k in range(len(measurements) - 1):
            one, other = measurements[k], measurements[k + 1]
            kinds = {self.run.process.kinds[self.run.index[m.position]] for m in (one, other)}
            if one.not_read or other.not_read or len(kinds) > 1 or self.rng.random() > share / 2:
                continue
            measurements[k] = replace(other, position=one.position)
            measurements[k + 1] = replace(one, position=other.position)
        return measurements

    # deciding

    def seen(self, measurements: Iterable[Measurement]) -> dict[int, Seen]:
        """What the crew takes the readings for, by position number."""
        found = {}
        for m in measurements:
            if m.not_read is not None:
                continue
            value = m.mean_mm
            if value is None:
                value = m.wear_below_mm / 2.0 if m.wear_below_mm is not None else 1.15 * float(m.wear_above_mm or 0.0)
            found[m.position] = Seen(estimate_mm=value, trouble=m.condition not in (None, "even"))
        return found

    def learn(self, seen: dict[int, Seen]) -> None:
        """Take the readings into the straight lines."""
        here = self.run.face_m
        fitted = self.run.fitted_m()
        for number, what in seen.items():
            i = self.run.index[number]
            if here - fitted[i] > 15.0 and not what.trouble:
                self.rate_mm_per_m[i] = max(what.estimate_mm / (here - fitted[i]), 0.2 * self.rate_mm_per_m[i])
            self.level_mm[i], self.level_m[i] = what.estimate_mm, here

    def choose(self, seen: dict[int, Seen]) -> dict[int, str]:
        """Places to change with the reason."""
        options = self.run.blueprint.options
        reasons: dict[int, str] = {}
        housings: dict[str, list[int]] = {}
        for position in self.run.blueprint.wheel.positions:
            if position.housing:
                housings.setdefault(position.housing, []).append(position.number)
        for number, what in seen.items():
            limit = self.run.limit_mm[self.run.index[number]]
            if what.trouble:
                reasons[number] = "damage"
            elif what.estimate_mm >= CHANGE_AT * options.boldness * limit:
                reasons[number] = "limit"
        for edges in housings.values():
            if any(number in reasons for number in edges):
                for number in edges:
                    reasons.setdefault(number, "neighbour")
        return reasons

    def swaps_and_moves(
        self, seen: dict[int, Seen], reasons: dict[int, str]
    ) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
        """Now and then a part-worn tool goes where it wears less: (swaps, moves)."""
        share = self.run.blueprint.options.swap_share
        wheel = self.run.blueprint.wheel
        swaps: list[tuple[int, int]] = []
        moves: list[tuple[int, int]] = []
        used: set[int] = set()
        for number in sorted(seen):
            here = wheel.position(number)
            if here.housing or here.tool_type == "" or number in used or self.rng.random() > share:
                continue
            for other in sorted(seen):
                there = wheel.position(other)
                if other == number or other in used or there.housing or there.tool_type != here.tool_type:
                    continue
                if reasons.get(number) == "limit" and here.zone == "gauge" and reasons.get(other) == "limit":
                    room = self.run.limit_mm[self.run.index[other]] - seen[number].estimate_mm
                    if there.zone == "face" and room > 7.0:
                        moves.append((other, number))
                        used |= {number, other}
                        break
                elif number not in reasons and other not in reasons:
                    gap = seen[number].estimate_mm - seen[other].estimate_mm
                    if here.track_radius_mm > there.track_radius_mm + 300.0 and gap > 4.0:
                        swaps.append((other, number))
                        used |= {number, other}
                        break
        return swaps, moves

    def stop_here(
        self, *, reach: float | None = None, mode: str | None = None, pressure_bar: float | None = None,
        retypes: Mapping[int, str] | None = None, **words: object,
    ) -> None:  # fmt: skip
        """A whole stop by the rule: read, decide, fit. ``words`` go into the record (who measured, note, ...)."""
        if mode is None:
            mode = "compressed air" if self.rng.random() < 0.5 else "free air"
        if mode != "free air" and pressure_bar is None:
            pressure_bar = round(float(self.rng.uniform(0.8, 1.8)), 1)
        measurements = self.read(reach=reach)
        seen = self.seen(measurements)
        reasons = self.choose(seen)
        swaps, moves = self.swaps_and_moves(seen, reasons)
        moved_to = {to for to, _ in moves}
        changes = [number for number in sorted(reasons) if number not in moved_to]
        if self.run.blueprint.options.grade_factor != 1.0 and retypes is None:
            retypes = self.grades(changes)
        hours = 10.0 + 0.8 * len(changes)
        more = {} if mode == "free air" else {"entries": max(1, round(hours / 5)), "person_hours": round(3 * hours, 1)}
        self.run.stop(measurements, mode=mode, pressure_bar=pressure_bar, hours=hours, **more, **words)
        self.learn(seen)
        self.run.fit(changes, reasons=reasons, moves=moves, swaps=swaps, retypes=retypes)
        for one, other in swaps:
            a, b = self.run.index[one], self.run.index[other]
            self.level_mm[[a, b]] = self.level_mm[[b, a]]
        for to, source in moves:
            self.level_mm[self.run.index[to]] = self.level_mm[self.run.index[source]]
            self.level_m[self.run.index[to]] = self.run.face_m
        for number in changes:
            self.level_mm[self.run.index[number]] = 0.0
            self.level_m[self.run.index[number]] = self.run.face_m
        self.inspections += 1
        self.last_m = self.run.face_m

    def grades(self, changes: Iterable[int]) -> dict[int, str]:
        """The grade each changed disc gets: one or the other, by lot."""
        out = {}
        for number in changes:
            if self.run.type_now[self.run.index[number]] in ("disc-a", OTHER_GRADE):
                out[number] = str(self.rng.choice(["disc-a", OTHER_GRADE]))
        return out

    def drive(self, to_ring: int, *, stop_at_end: bool = False) -> None:
        """Drive on to a ring, stopping by the rule."""
        while self.run.ring < to_ring:
            self.run.drive_to(self.run.ring + 1)
            if self.run.ring < to_ring and self.wants_to_stop():
                self.stop_here()
        if stop_at_end and self.run.face_m - self.last_m > 1.0:
            self.stop_here()
