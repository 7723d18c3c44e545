"""One drive under way: the true state of the tools and everything the site has written down so far.

`Run` knows both sides. A crew (`crew.py`) or a planner (`follow.py`) only ever sees what `Run.site` and the readings
of a stop tell it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from wearplan.site.records import Event, Fitting, Inspection, Measurement, RingRow, SensorWord, Site

from .clock import Clock
from .machine import OTHER_GRADE
from .process import Process


@dataclass(frozen=True, kw_only=True)
class TrueLife:
    """One tool (or ring on a hub) from fitting to removal, as it truly was."""

    serial: str
    rebuilds: int
    tool_type: str
    factor: float
    stints: tuple[tuple[int, float, float | None], ...]
    """(position, from driven m, to driven m; None while in place)."""


@dataclass
class _Tool:
    serial: str
    rebuilds: int
    tool_type: str
    factor: float
    stints: list[tuple[int, float, float | None]]


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What a stop told about one place, as the crew takes it."""

    estimate_mm: float
    trouble: bool


class Run:
    """State, log and records of one drive; see the module's words."""

    def __init__(self, process: Process, rng: np.random.Generator):
        self.process = process
        self.blueprint = process.blueprint
        self.rng = rng
        self.state = process.first()
        self.ring = 0
        self.clock = Clock(self.blueprint.start, self.blueprint.pace)
        wheel = self.blueprint.wheel
        self.index = {int(number): i for i, number in enumerate(process.numbers)}
        self.limit_mm = np.array(
            [
                p.wear_limit_mm if p.wear_limit_mm is not None else wheel.tool_type(p.tool_type).wear_limit_mm
                for p in wheel.positions
            ]
        )
        self.type_now = [p.tool_type for p in wheel.positions]
        """Tool type now asked for at each position, by index."""
        self.tells_of_metal = False
        """Whether lost rings and tools are noticed in the muck now and then."""
        self._fitted_count = 0
        self._rebuilt: dict[str, list[tuple[int, str, int]]] = {}
        self.tools = [self._new_tool(i, 0.0, float(self.state.factor[i])) for i in range(len(wheel.positions))]
        self.ended: list[_Tool] = []
        places, rings = len(wheel.positions), process.rings
        self.found_mm = np.full((places, rings + 1), np.nan)
        """(P, N + 1) true wear after each ring, before any fitting there."""
        self.left_mm = np.full((places, rings + 1), np.nan)
        """(P, N + 1) true wear after each ring, after any fitting there."""
        self.found_mm[:, 0] = self.left_mm[:, 0] = 0.0
        self.rows: list[RingRow] = []
        self.inspections: list[Inspection] = []
        self.words: list[SensorWord] = []
        self.events: list[Event] = []
        self._reported: set[tuple[int, float, float]] = set()

    # where it stands

    @property
    def face_m(self) -> float:
        return float(self.process.edges_m[self.ring])

    def chainage_m(self, driven_m: float) -> float:
        return round(self.blueprint.drive.chainage_m(driven_m), 3)

    def fitted_m(self) -> np.ndarray:
        """(P,) driven metres at which each tool in place was put on the wheel."""
        return self.process.edges_m[self.state.fitted_ring]

    # driving

    def drive_to(self, ring: int) -> None:
        """Build rings until ``ring`` are built."""
        while self.ring < min(ring, self.process.rings):
            self._one_ring()

    def _one_ring(self) -> None:
        n = self.ring
        before, whole = self.state.wear_mm.copy(), list(self.state.condition)
        self.process.advance(self.state, n)
        self.ring = n + 1
        self.found_mm[:, n + 1] = self.left_mm[:, n + 1] = self.state.wear_mm
        start, end = float(self.process.edges_m[n]), float(self.process.edges_m[n + 1])
        hours = 24.0 * (end - start) / self.blueprint.pace.advance_m_per_day
        self.clock.work(hours * float(np.exp(self.rng.normal(0.0, 0.15))))
        self.rows.append(self._row(n, start, end))
        if n in self.blueprint.boulder_rings:
            kind = "boulder"
            self.events.append(
                Event(
                    chainage_m=self.chainage_m(end),
                    driven_m=end,
                    ring=n + 1,
                    at=self.clock.minute(),
                    kind=kind,
                    note="banging at the face, torque peaks",
                )
            )
        if self.tells_of_metal:
            self._find_metal(whole, end)
        if self.blueprint.options.sensors:
            self._listen(before, end)

    def _find_metal(self, whole: list[str], end: float) -> None:
        for i, word in enumerate(self.state.condition):
            if word != whole[i] and word in ("ring lost", "tool lost") and i % 3:
                self.events.append(
                    Event(
                        chainage_m=self.chainage_m(end), driven_m=end, ring=self.ring, at=self.clock.minute(),
                        kind="metal in muck", note="piece of steel on the belt magnet",
                    )
                )  # fmt: skip

    def _row(self, n: int, start: float, end: float) -> RingRow:
        b = self.blueprint
        pressure = b.turns[n] / max(end - start, 1e-9)
        thrust = 9000.0 + 60.0 * pressure + float(self.rng.normal(0, 400.0))
        return RingRow(
            ring=n + 1, start_chainage_m=self.chainage_m(start), end_chainage_m=self.chainage_m(end),
            start_m=start, end_m=end, finished_at=self.clock.minute(),
            revolutions_boring=round(float(b.turns[n]), 1), revolutions_idle=round(float(b.idle_turns[n]), 1),
            revolutions_ccw_share=round(float(b.ccw_share[n]), 2), regime=b.regime[n] if b.regime else None,
            thrust_kn=round(thrust, -1), torque_knm=round(0.18 * thrust + float(self.rng.normal(0, 120.0)), -1),
            face_pressure_bar=round(1.4 + 0.2 * float(np.sin(n / 90.0)) + float(self.rng.normal(0, 0.03)), 2),
        )  # fmt: skip

    def _listen(self, before: np.ndarray, end: float) -> None:
        for i, position in enumerate(self.blueprint.wheel.positions):
            for level in position.sensor_mm:
                key = (i, level, float(self.fitted_m()[i]))
                if before[i] < level <= self.state.wear_mm[i] and key not in self._reported:
                    self._reported.add(key)
                    self.words.append(self._word(position.number, end, level))

    def _word(self, number: int, driven_m: float, level: float | None) -> SensorWord:
        return SensorWord(
            position=number, chainage_m=self.chainage_m(driven_m), driven_m=driven_m, ring=self.ring,
            at=self.clock.minute(), reported_mm=level,
        )  # fmt: skip

    # a stop

    def stop(
        self, measurements: Sequence[Measurement], *, mode: str = "free air", hours: float = 24.0,
        pressure_bar: float | None = None, **more: object,
    ) -> Inspection:  # fmt: skip
        """Record an inspection here with what was read; fittings follow with `fit`."""
        started = self.clock.minute()
        ended = self.clock.work(hours).replace(second=0, microsecond=0)
        number = len(self.inspections) + 1
        mark = "".join("abcdefghjkmnpqrstuvwxyz23456789"[k] for k in self.rng.integers(0, 31, 4))
        inspection = Inspection(
            id=f"{ended:%Y%m%dT%H%M}-{mark}", number=number, ring=self.ring, chainage_m=self.chainage_m(self.face_m),
            driven_m=self.face_m, started_at=started, ended_at=ended, mode=mode, pressure_bar=pressure_bar,
            measurements=tuple(measurements), **more,  # type: ignore[arg-type]
        )  # fmt: skip
        self.inspections.append(inspection)
        if self.blueprint.options.sensors:
            for position in self.blueprint.wheel.positions:
                if position.sensor_mm and self.rng.random() < 0.8:
                    self.words.append(self._word(position.number, self.face_m, None))
        return inspection

    def fit(
        self, changes: Sequence[int] = (), *, reasons: Mapping[int, str] | None = None,
        moves: Sequence[tuple[int, int]] = (), swaps: Sequence[tuple[int, int]] = (),
        retypes: Mapping[int, str] | None = None,
    ) -> None:  # fmt: skip
        """Change, move (to, from) and swap tools at the last recorded stop; numbers are position numbers.

        A place a tool is moved away from must be among ``changes``; it is fitted after the move. ``retypes`` gives
        changed places another tool type from here on.
        """
        reasons = reasons or {}
        options = self.blueprint.options
        fittings: list[Fitting] = []
        here = self.face_m
        for one, other in swaps:
            a, b = self.index[one], self.index[other]
            self.process.swap(self.state, a, b)
            self._swap_tools(a, b, here)
            fittings.append(Fitting(position=one, action="swap", reason="preventive", from_position=other))
        for to, source in moves:
            a, b = self.index[to], self.index[source]
            old = self._take_off(a, here)
            self.process.swap(self.state, a, b)
            moved = self.tools[b]
            self._close(moved, here)
            moved.stints.append((to, here, None))
            self.tools[a] = moved
            self.tools[b] = None  # type: ignore[call-overload]
            fittings.append(
                Fitting(
                    position=to,
                    action="move",
                    reason="limit",
                    from_position=source,
                    old_serial=old.serial,
                    old_to=self._where_to(a, old, "even"),
                    new_serial=moved.serial,
                )
            )
        for number in changes:
            i = self.index[number]
            condition = self.state.condition[i]
            old_tool = self.tools[i]
            old_to = None
            if old_tool is not None:
                old_tool = self._take_off(i, here)
                old_to = self._where_to(i, old_tool, condition)
            retype = (retypes or {}).get(number)
            # another grade is no matter of chance: the factor of the life times that of its grade
            graded = options.grade_factor if (retype or self.type_now[i]) == OTHER_GRADE else 1.0
            factor = self.process.factor_of_new(i, self.ring) * graded
            self.process.fit(self.state, i, self.ring, factor=factor)
            self.type_now[i] = retype or self.type_now[i]
            new = self._new_tool(i, here, float(self.state.factor[i]))
            self.tools[i] = new
            fittings.append(
                Fitting(
                    position=number,
                    action="change",
                    reason=reasons.get(number, "limit"),
                    old_serial=old_tool.serial if old_tool else None,
                    old_to=old_to,
                    new_serial=new.serial,
                    new_rebuilds=new.rebuilds or None,
                    new_tool_type=retype,
                    **self._label(i),
                )
            )
        self.left_mm[:, self.ring] = self.state.wear_mm
        self.inspections[-1] = replace(self.inspections[-1], fittings=self.inspections[-1].fittings + tuple(fittings))

    def _label(self, i: int) -> dict[str, str]:
        """What the record says of the batch."""
        label = self.blueprint.options.batch_label
        return {"new_batch": label} if label and self.process.bad(i, self.ring) else {}

    # tools by serial

    def _new_tool(self, i: int, here: float, factor: float) -> _Tool:
        position = self.blueprint.wheel.positions[i]
        tool_type = self.type_now[i]
        rack = self._rebuilt.get(tool_type, [])
        ready = [k for k, (since, _, _) in enumerate(rack) if self.ring - since >= 60]
        if ready and self.rng.random() < 0.7:
            _, serial, rebuilds = rack.pop(ready[0])
            return _Tool(serial, rebuilds + 1, tool_type, factor, [(position.number, here, None)])
        self._fitted_count += 1
        letter = self.process.kinds[i][0].upper()
        serial = f"{letter}-{self._fitted_count:04d}"
        return _Tool(serial, 0, tool_type, factor, [(position.number, here, None)])

    def _close(self, tool: _Tool, here: float) -> None:
        number, since, _ = tool.stints[-1]
        tool.stints[-1] = (number, since, here)

    def _take_off(self, i: int, here: float) -> _Tool:
        tool = self.tools[i]
        self._close(tool, here)
        self.ended.append(tool)
        return tool

    def _swap_tools(self, a: int, b: int, here: float) -> None:
        for i, j in ((a, b), (b, a)):
            self._close(self.tools[i], here)
            self.tools[i].stints.append((int(self.process.numbers[j]), here, None))
        self.tools[a], self.tools[b] = self.tools[b], self.tools[a]

    def _where_to(self, i: int, tool: _Tool, condition: str) -> str:
        tool_type = self.blueprint.wheel.tool_type(tool.tool_type)
        if tool_type.rebuild_price and condition in ("even", "flat", "chipped") and tool.rebuilds < 3:
            self._rebuilt.setdefault(tool.tool_type, []).append((self.ring, tool.serial, tool.rebuilds))
            return "rebuild"
        return "scrap"

    def lives(self) -> tuple[TrueLife, ...]:
        """All lives so far, ended ones first."""
        return tuple(
            TrueLife(
                serial=t.serial, rebuilds=t.rebuilds, tool_type=t.tool_type, factor=t.factor, stints=tuple(t.stints)
            )
            for t in [*self.ended, *self.tools]
        )

    # what the site knows

    def site(self) -> Site:
        """The records as they stand."""
        b = self.blueprint
        known = [ground for since, ground in b.grounds if since <= self.face_m + 1e-6]
        return Site(
            name=b.name, invented=b.invented, drive=b.drive, pace=b.pace, wheel=b.wheel, grounds=tuple(known),
            stops=b.stops, stores=b.stores, rings=self.log_of_rings(), inspections=tuple(self.inspections),
            sensor_words=tuple(self.words), events=tuple(self.events),
        )  # fmt: skip

    def log_of_rings(self) -> tuple[RingRow, ...]:
        """The ring log as a machine leaves it: some rings missing, one doubled."""
        options = self.blueprint.options
        rng = np.random.default_rng(int(self.blueprint.turns[0] * 1000) % 2**32)
        rows = list(self.rows)
        if len(rows) > 60 and options.missing_rings:
            at = int(rng.integers(20, 50))
            del rows[at : at + options.missing_rings]
        for _ in range(options.doubled_rings if len(rows) > 60 else 0):
            at = int(rng.integers(5, 50))
            rows.insert(at + 1, rows[at])
        return tuple(rows)
