"""The true wear process, reckoned in a plain way of its own.

Nothing here uses the program's kinematics, shares, lives or rates: the two must be able to disagree.

All chance is drawn beforehand by place and ring (uniform numbers for the steps and the damage, a life factor for a
tool fitted after that ring), so the same decisions always meet the same fate, and other decisions can be compared
with them on one truth.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv

from .blueprint import Blueprint, TrueSection

RUN_IN_M = 60.0


def arc_share_above(height_m: float, radius_m: float) -> float:
    """Share of a circle of that radius round the axis which lies above a height."""
    if radius_m <= abs(height_m):
        return 1.0 if height_m < 0 else 0.0
    return math.acos(height_m / radius_m) / math.pi


def shares(section: TrueSection, radius_m: float) -> dict[str, float]:
    """Share of one turn at that radius spent in each unit."""
    if not section.cut:
        return {}
    if section.mix:
        return dict(section.mix)
    found: dict[str, float] = {}
    for index, (unit, top) in enumerate(section.strata):
        above_top = 0.0 if index == 0 else arc_share_above(float(top or 0.0), radius_m)
        last = index + 1 == len(section.strata)
        above_bottom = 1.0 if last else arc_share_above(float(section.strata[index + 1][1] or 0.0), radius_m)
        found[unit] = found.get(unit, 0.0) + above_bottom - above_top
    return found


@dataclass
class State:
    """The tools in place; arrays over positions, changed by `Process.advance` and `Process.fit`."""

    wear_mm: np.ndarray
    mean_mm: np.ndarray
    """What a tool of factor 1 without random steps would have gathered."""
    factor: np.ndarray
    fitted_ring: np.ndarray
    """Rings built when it was fitted; 0 for the first tools."""
    condition: list[str]
    """`even` or the trouble."""
    trouble_ring: np.ndarray
    """Ring index after which trouble stands; -1: none."""

    def copy(self) -> State:
        return State(
            self.wear_mm.copy(), self.mean_mm.copy(), self.factor.copy(), self.fitted_ring.copy(),
            list(self.condition), self.trouble_ring.copy(),
        )  # fmt: skip


class Process:
    """Mean wear, hazard and fate of every place in every ring of the whole drive."""

    def __init__(self, blueprint: Blueprint, rng: np.random.Generator):
        self.blueprint = blueprint
        options = blueprint.options
        self.positions = blueprint.wheel.positions
        self.numbers = np.array([p.number for p in self.positions])
        self.kinds = [blueprint.wheel.tool_type(p.tool_type).kind for p in self.positions]
        self.theta_mm = options.theta_mm
        self.life_sd = options.life_sd
        edges = blueprint.ring_edges_m
        self.edges_m = edges
        lengths = np.diff(edges)
        rings = len(lengths)
        places = len(self.positions)

        unit_codes = [u.code for u in blueprint.units]
        rate = {(u.code, kind): u.mm_per_km[kind] for u in blueprint.units for kind in set(self.kinds)}
        hazard = {
            (u.code, kind): u.damage_per_1000_km.get(kind, 0.0) for u in blueprint.units for kind in set(self.kinds)
        }
        share = np.zeros((len(blueprint.sections), places, len(unit_codes)))
        overlap = np.zeros((rings, len(blueprint.sections)))
        for k, section in enumerate(blueprint.sections):
            low = np.maximum(edges[:-1], section.from_m)
            high = np.minimum(edges[1:], section.to_m)
            overlap[:, k] = np.maximum(high - low, 0.0)
            for p, position in enumerate(self.positions):
                for unit, part in shares(section, position.track_radius_mm / 1000.0).items():
                    share[k, p, unit_codes.index(unit)] = part

        radius_m = np.array([p.track_radius_mm for p in self.positions]) / 1000.0
        pitch_m = np.where(blueprint.turns > 0, lengths / np.maximum(blueprint.turns, 1e-9), 0.0)
        turn_m = np.hypot(2 * np.pi * radius_m[:, None], pitch_m[None, :])
        ccw = blueprint.ccw_share
        counted = np.stack([{"both": np.ones(rings), "cw": 1 - ccw, "ccw": ccw}[p.cuts] for p in self.positions])
        self.path_km = turn_m * (blueprint.turns * counted) / 1000.0
        """(P, N) path while boring, in the direction the tool cuts in."""
        ring_share = np.einsum("nk,kpu->pnu", overlap / lengths[:, None], share)
        self.unit_path_km = self.path_km[:, :, None] * ring_share
        """(P, N, U)."""
        zone = np.array(
            [blueprint.zone_factor[kind][p.zone] for kind, p in zip(self.kinds, self.positions, strict=True)]
        )
        damage_zone = np.array([blueprint.damage_zone_factor[p.zone] for p in self.positions])
        rates = np.array([[rate[u, kind] for u in unit_codes] for kind in self.kinds])
        hazards = np.array([[hazard[u, kind] for u in unit_codes] for kind in self.kinds]) / 1000.0
        hidden = blueprint.hidden_factor
        by_unit = hidden if hidden is not None and hidden.ndim == 2 else np.ones((rings, len(unit_codes)))
        self.mean_mm = np.einsum("pnu,pu,nu->pn", self.unit_path_km, rates, by_unit) * zone[:, None]
        """(P, N) wear a tool of factor 1 gathers on average in each ring."""
        self.hazard = np.einsum("pnu,pu->pn", self.unit_path_km, hazards) * damage_zone[:, None]
        for ring in blueprint.boulder_rings:
            self.hazard[:, ring] += np.where(self.hazard[:, ring] > 0, 0.06, 0.0)
        if hidden is not None and hidden.ndim == 1:
            self.mean_mm = self.mean_mm * hidden[None, :]
        self.limit_mm = np.array(
            [p.wear_limit_mm or blueprint.wheel.tool_type(p.tool_type).wear_limit_mm for p in self.positions]
        )
        self.batch_from = int(0.5 * options.driven_share * rings)
        """Ring from which on the bad batch is fitted, where there is one."""

        shape = 1.0 / self.life_sd**2 if self.life_sd > 0 else None
        self._step = rng.random((places, rings))
        self._fate = rng.random((places, rings))
        self._trouble = rng.random((places, rings))
        self._factor = rng.gamma(shape, 1.0 / shape, (places, rings + 1)) if shape else np.ones((places, rings + 1))

    @property
    def rings(self) -> int:
        return len(self.edges_m) - 1

    def first(self) -> State:
        """All tools new, nothing driven."""
        places = len(self.positions)
        return State(
            np.zeros(places), np.zeros(places), self._factor[:, 0].copy(), np.zeros(places, int),
            ["even"] * places, np.full(places, -1),
        )  # fmt: skip

    def advance(self, state: State, ring: int) -> None:
        """Drive ring index ``ring`` with the tools of ``state``."""
        mean = self.mean_mm[:, ring]
        run_in = self.blueprint.options.run_in
        if run_in != 1.0:
            young = self.edges_m[ring] - self.edges_m[state.fitted_ring] < RUN_IN_M
            mean = np.where(young, mean * run_in, mean)
        if self.blueprint.options.bend:
            mean = mean * np.exp(-self.blueprint.options.bend * np.minimum(state.wear_mm / self.limit_mm, 1.5) ** 3)
        state.wear_mm += self.theta_mm * gammaincinv(
            np.maximum(mean * state.factor / self.theta_mm, 1e-12), self._step[:, ring]
        )
        state.mean_mm += mean
        struck = (self._fate[:, ring] < -np.expm1(-self.hazard[:, ring])) & (state.trouble_ring < 0)
        for p in np.flatnonzero(struck):
            state.trouble_ring[p] = ring
            state.condition[p] = self._kind_of_trouble(p, ring)

    def _kind_of_trouble(self, place: int, ring: int) -> str:
        draw = self._trouble[place, ring]
        if self.kinds[place] == "disc":
            words, edges = ("chipped", "flat", "cracked", "seized", "ring lost"), (0.40, 0.65, 0.78, 0.90)
        else:
            words, edges = ("chipped", "tool lost"), (0.8,)
        return words[int(np.searchsorted(edges, draw))]

    def fit(self, state: State, place: int, ring: int, *, wear_mm: float = 0.0, factor: float | None = None) -> None:
        """Put a tool at position index ``place`` after ``ring`` rings are built."""
        state.wear_mm[place] = wear_mm
        state.mean_mm[place] = wear_mm
        state.factor[place] = self.factor_of_new(place, ring) if factor is None else factor
        state.fitted_ring[place] = ring
        state.condition[place] = "even"
        state.trouble_ring[place] = -1

    def factor_of_new(self, place: int, ring: int) -> float:
        """Life factor of a tool made like the first ones, fitted there; of the bad batch where it is one of it."""
        bad = self.bad(place, ring)
        return float(self._factor[place, ring]) * (self.blueprint.options.batch_factor if bad else 1.0)

    def bad(self, place: int, ring: int) -> bool:
        """Whether what is fitted there then is of the bad batch: every third ring from the middle on."""
        if self.blueprint.options.batch_factor == 1.0 or ring < self.batch_from:
            return False
        return self.kinds[place] == "disc" and (place + ring) % 3 == 0

    def swap(self, state: State, one: int, other: int) -> None:
        """The tools of two position indices change places, wear, factor and age along."""
        for array in (state.wear_mm, state.mean_mm, state.factor, state.fitted_ring, state.trouble_ring):
            array[[one, other]] = array[[other, one]]
        state.condition[one], state.condition[other] = state.condition[other], state.condition[one]
