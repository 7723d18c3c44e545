"""A world: a drive run from a drawn truth up to its face, with the records a site would have by then.

Example
-------
>>> world = World(3, places=30, length_m=400.0)
>>> world.site.wheel.bore_diameter_m > 4.0
True
>>> world.truth.limit_m(int(world.site.wheel.positions[-1].number)) > 0.0
True
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np

from wearplan.site.records import ChainageEquation, Drive, Pace, Site

from .blueprint import Blueprint
from .crew import Crew
from .follow import Follower
from .geology import draw_grounds, draw_sections, draw_units
from .ground_drift import drift
from .machine import draw_wheel, with_other_grade
from .options import Options
from .process import Process
from .run import Run, TrueLife
from .stretch import draw_stops, draw_stores, ring_turns


def draw_blueprint(seed: int, options: Options) -> Blueprint:
    """The truth of a world, all but what the crew will decide."""
    rng = np.random.default_rng([seed, 1])
    wheel = draw_wheel(options, rng)
    if options.grade_factor != 1.0:
        wheel = with_other_grade(wheel)
    start_chainage = float(round(rng.uniform(100.0, 900.0)))
    half = round(options.length_m * options.driven_share / 2.0)
    sign = -1.0 if options.falling else 1.0
    if options.falling:
        start_chainage += options.length_m + 500.0
    equations: tuple[ChainageEquation, ...] = ()
    end = start_chainage + sign * options.length_m
    if options.equation_m:
        back = start_chainage + sign * half
        equations = (ChainageEquation(back_m=back, ahead_m=back + sign * options.equation_m),)
        end += sign * options.equation_m
    drive = Drive(
        start_chainage_m=start_chainage, end_chainage_m=end, ring_length_m=options.ring_length_m,
        face_ahead_of_ring_m=8.0, equations=equations,
    )  # fmt: skip
    pace = Pace(advance_m_per_day=12.0)
    start = date(2025, 1, 6)
    true_units, units = draw_units(options, rng)
    sections = draw_sections(options, true_units, 0.5 * wheel.bore_diameter_m, rng)
    grounds = draw_grounds(options, drive, start, pace.advance_m_per_day, units, sections, rng)
    rings = int(np.floor(options.length_m / options.ring_length_m + 1e-9))
    edges = np.append(np.arange(rings) * options.ring_length_m, options.length_m)
    turns, idle, side = ring_turns(edges, sections, rng)
    hidden = drift(options, edges, np.random.default_rng([seed, 6]))
    if options.unlogged_regime != 1.0:
        hidden = np.ones(rings)
        for at in rng.integers(20, max(21, int(rings * options.driven_share) - 70), 3):
            hidden[at : at + 60] = options.unlogged_regime
    return Blueprint(
        name=f"simulated drive {seed}", options=options, drive=drive, pace=pace, wheel=wheel, units=true_units,
        sections=sections,
        zone_factor={
            "disc": {"face": 1.0, "gauge": float(rng.uniform(1.15, 1.6)), "centre": float(rng.uniform(1.5, 3.0))},
            "scraper": {"face": 1.0, "gauge": float(rng.uniform(1.0, 1.4)), "centre": 1.5},
            "bucket tool": {"face": 1.0, "gauge": float(rng.uniform(1.0, 1.4)), "centre": 1.0},
        },
        damage_zone_factor={"face": 1.0, "gauge": 1.5, "centre": 1.5},
        grounds=grounds, ring_edges_m=edges, turns=turns, idle_turns=idle, ccw_share=side, hidden_factor=hidden,
        stops=draw_stops(options, drive, rng), stores=draw_stores(start),
    )  # fmt: skip


@dataclass(frozen=True)
class Truth:
    """What nobody on site knows. Positions are named by number, places along the drive in driven metres."""

    run: Run
    """The run as it stood at the face; never driven on."""

    @property
    def process(self) -> Process:
        return self.run.process

    @property
    def rates_mm_per_km(self) -> dict[tuple[str, str], float]:
        """By (kind, unit), of a face tool of life factor 1."""
        return {(k, u.code): rate for u in self.run.blueprint.units for k, rate in u.mm_per_km.items()}

    @property
    def zone_factor(self) -> dict[tuple[str, str], float]:
        """By (kind, zone)."""
        return {(k, z): f for k, zones in self.run.blueprint.zone_factor.items() for z, f in zones.items()}

    @property
    def lives(self) -> tuple[TrueLife, ...]:
        return self.run.lives()

    def factor(self, position: int) -> float:
        """Life factor of the tool in place at the face."""
        return float(self.run.state.factor[self.run.index[position]])

    def wear_mm(self, position: int, driven_m: float) -> float:
        """True wear there and then: of the tool found (before any fitting) behind the face, of the one left ahead."""
        i = self.run.index[position]
        edges = self.process.edges_m
        if driven_m >= self.run.face_m:
            return float(np.interp(driven_m, edges[self.run.ring :], self._ahead[i]))
        n = min(int(np.searchsorted(edges, driven_m - 1e-9)), self.run.ring)
        if n == 0:
            return 0.0
        before, after = self.run.left_mm[i, n - 1], self.run.found_mm[i, n]
        part = (driven_m - edges[n - 1]) / (edges[n] - edges[n - 1])
        return float(before + part * (after - before))

    @cached_property
    def _ahead(self) -> np.ndarray:
        """(P, rings ahead + 1) true wear of the tools in place if all are left to the end."""
        state = self.run.state.copy()
        columns = [state.wear_mm.copy()]
        for n in range(self.run.ring, self.process.rings):
            self.process.advance(state, n)
            columns.append(state.wear_mm.copy())
        return np.stack(columns, axis=1)

    def limit_m(self, position: int, limit_mm: float | None = None) -> float:
        """Where the tool in place reaches its limit (or ``limit_mm``) if left; the face if past it; inf beyond."""
        i = self.run.index[position]
        limit = float(self.run.limit_mm[i]) if limit_mm is None else limit_mm
        wear = self._ahead[i]
        over = np.flatnonzero(wear >= limit)
        if not len(over):
            return float("inf")
        k = int(over[0])
        edges = self.process.edges_m[self.run.ring :]
        if k == 0:
            return float(edges[0])
        part = (limit - wear[k - 1]) / (wear[k] - wear[k - 1])
        return float(edges[k - 1] + part * (edges[k] - edges[k - 1]))

    def interval_wear_mm(self, rings: np.ndarray) -> np.ndarray:
        """True wear of every service interval between the given ring counts: (P, S, S), NaN below the diagonal.

        Entry [p, s, t] is the wear found at ``rings[t]`` of a tool fitted at ``rings[s]``; where ``rings[s]`` is
        the face, of the tool in place. This is what perfect foresight would plan with.
        """
        count = len(rings)
        found = np.full((len(self.run.limit_mm), count, count), np.nan)
        for s, ring in enumerate(rings):
            state = self.run.state.copy()
            if ring > self.run.ring:
                for i in range(len(self.run.limit_mm)):
                    self.process.fit(state, i, int(ring))
            found[:, s, s] = state.wear_mm
            for t in range(s + 1, count):
                for n in range(int(rings[t - 1]), int(rings[t])):
                    self.process.advance(state, n)
                found[:, s, t] = state.wear_mm
        return found


class World:
    """One simulated drive: ``site`` as known at the face, ``truth`` behind it."""

    def __init__(self, seed: int, options: Options | None = None, **changes: object):
        self.seed = seed
        self.options = options or Options(**changes)  # type: ignore[arg-type]
        self._run = self._driven()
        self.site: Site = self._run.site()
        self.truth = Truth(self._run)

    def _driven(self) -> Run:
        blueprint = draw_blueprint(self.seed, self.options)
        process = Process(blueprint, np.random.default_rng([self.seed, 2]))
        run = Run(process, np.random.default_rng([self.seed, 3]))
        crew = Crew(run, np.random.default_rng([self.seed, 4]))
        crew.drive(int(process.rings * self.options.driven_share))
        return run

    @property
    def face_m(self) -> float:
        return self._run.face_m

    def follow(self) -> Follower:
        """The same world, alive, at its face: for a planner or a rule to go on with. Each call starts afresh."""
        return Follower(self._driven(), np.random.default_rng([self.seed, 5]))

    continue_with = follow
