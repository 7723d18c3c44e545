"""Each tool's outlook: wear now and along the drive ahead, in draws shared by all tools."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.wear.evidence.readings import Floats
from wearplan.wear.quantiles import Quantiles
from wearplan.wear.regression.curve import Curve

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.site.records import Site
    from wearplan.wheel import Layout


@dataclass(frozen=True, slots=True, kw_only=True)
class ToolOutlook:
    """One tool in place."""

    position: int
    serial: str | None
    kind: str
    tool_type: str
    zone: str
    limit_mm: float
    damage_limit_mm: float
    last_read: tuple[float, float, str | None] | None
    """(driven_m, chainage_m, inspection id) of the reading its wear rests on."""
    wear_now_mm: Quantiles
    limit_chainage_m: Quantiles
    """By distance driven, not by size of the chainage; None beyond the drive, the face where past the limit now."""
    limit_driven_m: Quantiles
    beyond_drive_probability: float
    over_limit_now_probability: float
    unknown: bool
    life: Life | None = field(repr=False)


@dataclass(frozen=True)
class CurveOf:
    """The curve of wear by its level that some draws take for some places."""

    draws: Any
    places: Any
    curve: Curve


@dataclass(frozen=True, kw_only=True)
class Outlook:
    """Draws (D) of the tools in place (P) and of what each place costs along a grid (G) from the face to the end.

    Where wear slows or quickens with its level (``curves``), ``potential_mm``, ``life_factor`` and ``step_mm`` are of
    even wear, which meets wear at the limit (see `curve`); `evenly` is the outlook with all of it told so.
    """

    site: Site = field(repr=False)
    layout: Layout = field(repr=False)
    face_m: float
    end_m: float
    grid_m: Floats
    numbers: Any
    limit_mm: Floats
    damage_limit_mm: Floats
    wear_now_mm: Floats
    """(D, P)"""
    life_factor: Floats
    """(D, P) of the tools in place."""
    potential_mm: Floats
    """(D, P, G) float32: mean wear a tool of factor 1 gathers at the place from the face to the grid point."""
    hazard_per_m: Floats = field(repr=False)
    """(D, P, S) float32: expected damages by metre driven in each section ahead."""
    metres: Floats = field(repr=False)
    """(D, G, S) float32: metres driven in each section from the face to the grid point."""
    life_sd: Floats
    """(D, P) sd of the factor of a new tool (Gamma, mean 1)."""
    step_mm: Floats
    """(D, P) theta: mean m gives gamma wear of mean m * factor and variance theta * m * factor."""
    lives: tuple[Life | None, ...] = field(repr=False)
    """(P,)"""
    unknown: Any
    """(P,) bool: no record the wear could rest on, or a damaged one since."""
    seed: int = 1
    curves: tuple[CurveOf, ...] = field(default=(), repr=False)
    """Empty where wear is even."""

    @cached_property
    def even_now_mm(self) -> Floats:
        """(D, P) even wear of the tools in place."""
        return self._through(self.wear_now_mm, "even")

    @cached_property
    def evenly(self) -> Outlook:
        """The same with wear and damage limits as even wear, so that what a tool gathers adds up."""
        if not self.curves:
            return self
        damage = np.broadcast_to(self.damage_limit_mm, self.wear_now_mm.shape)
        return replace(
            self, wear_now_mm=self.even_now_mm, damage_limit_mm=self._through(damage, "even").mean(axis=0), curves=()
        )

    @cached_property
    def _scale(self) -> tuple[Floats, Floats]:
        """Shares of the limit (M,), and the mean over the draws of the wear at such an even wear (P, M), as shares."""
        shares = np.linspace(0.0, 3.0, 121)
        out = np.tile(shares, (len(self.limit_mm), 1))
        for place in range(len(out)):
            mine = [(len(each.draws), each.curve) for each in self.curves if place in each.places]
            if mine:
                out[place] = np.average([c.worn(shares, 1.0) for _, c in mine], axis=0, weights=[n for n, _ in mine])
        return shares, out

    def worn_mm(self, place: int, even_mm: Floats) -> Floats:
        """Wear of a tool at a place (its index here) at an even wear, any shape, on the mean over the draws."""
        if not self.curves:
            return even_mm
        shares, worn = self._scale
        limit = float(self.limit_mm[place])
        return np.asarray(np.interp(np.asarray(even_mm, float) / limit, shares, worn[place]) * limit)

    def as_even_mm(self, place: int, wear_mm: Floats) -> Floats:
        """The inverse of `worn_mm`."""
        if not self.curves:
            return wear_mm
        shares, worn = self._scale
        limit = float(self.limit_mm[place])
        return np.asarray(np.interp(np.asarray(wear_mm, float) / limit, worn[place], shares) * limit)

    def _through(self, table: Floats, way: str) -> Floats:
        """A table (D, P, ...) of wear as even wear (``even``), or the other way (``worn``)."""
        if not self.curves:
            return table
        out = np.array(table)
        for each in self.curves:
            here = np.ix_(each.draws, each.places)
            limit = self.limit_mm[each.places].reshape(-1, *(1,) * (table.ndim - 2))
            out[here] = getattr(each.curve, way)(out[here], limit)
        return out

    @cached_property
    def doubted_over_limit(self) -> tuple[tuple[int, float, float, float], ...]:
        """Tools last read over their limit that the estimate holds to be under it: (place, mm, limit mm, driven m).

        Such a reading counts little beside all others, yet nobody may overlook it: the tool may be worn through, or
        the record wrong.
        """
        held_over = np.mean(self.wear_now_mm > self.limit_mm, axis=0)
        found = []
        for number, life, limit, over in zip(self.numbers, self.lives, self.limit_mm, held_over, strict=True):
            last = life.last_reading if life is not None else None
            marks = () if last is None else (last.worst_mm, last.wear_mm, last.above_mm)
            told = max((mm for mm in marks if mm is not None), default=0.0)
            if last is not None and told > limit and over <= 0.5:
                found.append((int(number), float(told), float(limit), last.driven_m))
        return tuple(found)

    @cached_property
    def damage_hazard(self) -> Floats:
        """(D, P, G) float32: expected damages from the face to the grid point."""
        return np.asarray(np.matmul(self.hazard_per_m, self.metres.transpose(0, 2, 1)))

    @cached_property
    def wear_mm(self) -> Floats:
        """Wear of the tools in place if left, (D, P, G) float32."""
        rng = np.random.default_rng([self.seed, 77])
        out = np.empty(self.potential_mm.shape, np.float32)
        step = np.maximum(self.step_mm, 1e-4).astype(np.float32)[:, :, None]
        scaled = (self.life_factor[:, :, None] / step).astype(np.float32)
        now = self.even_now_mm.astype(np.float32)[:, :, None]
        coarse = coarse_of(self.grid_m)
        fill = between(self.grid_m, coarse)
        # a few draws at a time stay in the processor's cache
        block = max(1, 60_000 // max(out[0].size, 1))
        for low in range(0, len(out), block):
            part = slice(low, low + block)
            mean = self.potential_mm[part] if fill is None else np.take(self.potential_mm[part], coarse, axis=2)
            grown = mean.copy()
            grown[:, :, 1:] -= mean[:, :, :-1]
            np.maximum(grown, 0.0, out=grown)
            grown *= scaled[part]
            gathered = gamma32(rng, grown)
            gathered *= step[part]
            np.cumsum(gathered, axis=2, out=gathered)
            gathered += now[part]
            if fill is None:
                out[part] = gathered
            else:
                np.matmul(gathered, fill, out=out[part])
        return self._through(out, "worn")

    def _at(self, table: Floats, driven_m: float) -> Floats:
        """Linear between grid points; the end's value beyond it."""
        x = float(np.clip(driven_m, self.grid_m[0], self.grid_m[-1]))
        high = int(np.clip(np.searchsorted(self.grid_m, x), 1, len(self.grid_m) - 1)) if len(self.grid_m) > 1 else 0
        if high == 0:
            return table[:, :, 0]
        low_m, high_m = self.grid_m[high - 1], self.grid_m[high]
        part = (x - low_m) / (high_m - low_m) if high_m > low_m else 0.0
        return table[:, :, high - 1] * (1.0 - part) + table[:, :, high] * part

    def wear_at(self, driven_m: float) -> Floats:
        """Draws (D, P) of the wear at a point of the drive of the tools in place now, if left."""
        return self._at(self.wear_mm, driven_m)

    def potential_at(self, driven_m: float) -> Floats:
        """Mean wear (D, P) a tool of factor 1 gathers from the face to there."""
        return self._at(self.potential_mm, driven_m)

    def quantiles_at(self, driven_m: float) -> tuple[Quantiles, ...]:
        """Quantiles of `wear_at`, one a place."""
        return Quantiles.many(self.wear_at(driven_m))

    def over_limit_probability(self, driven_m: float) -> Floats:
        """Chance (P,) that the tool in place, if left, is past its limit there."""
        return np.asarray((self.wear_at(driven_m) > self.limit_mm).mean(axis=0))

    def over_damage_probability(self, driven_m: float) -> Floats:
        """Chance (P,) that its wear is past the damage limit there."""
        return np.asarray((self.wear_at(driven_m) > self.damage_limit_mm).mean(axis=0))

    def damage_probability(self, driven_m: float) -> Floats:
        """Chance (P,) that it meets trouble (chipped, lost, seized ...) between the face and there."""
        return np.asarray(-np.expm1(-self._at(self.damage_hazard, driven_m)).mean(axis=0))

    @cached_property
    def _limit_m(self) -> Floats:
        return first_passage(self.grid_m, self.wear_mm, self.limit_mm.astype(np.float32))

    def limit_m(self) -> Floats:
        """Draws (D, P) of the driven metres where the limit is reached; the face where it is past, inf beyond the
        drive."""
        return self._limit_m

    def tools(self) -> tuple[ToolOutlook, ...]:
        """One record for each place, in the order of the layout."""
        reached = self.limit_m()
        now = Quantiles.many(self.wear_now_mm)
        over = (self.wear_now_mm > self.limit_mm).mean(axis=0)
        out = []
        for index, position in enumerate(self.layout.positions):
            life = self.lives[index]
            driven = Quantiles.of(reached[:, index])
            chainage = Quantiles(
                *(None if value is None else self.site.drive.chainage_m(value) for value in driven.as_dict().values())
            )
            out.append(
                ToolOutlook(
                    position=position.number, serial=life.serial if life else None, kind=self.layout.kinds[index],
                    tool_type=position.tool_type, zone=position.zone, limit_mm=float(self.limit_mm[index]),
                    damage_limit_mm=float(self.damage_limit_mm[index]), last_read=_last_read(self.site, life),
                    wear_now_mm=now[index], limit_chainage_m=chainage, limit_driven_m=driven,
                    beyond_drive_probability=float(np.isinf(reached[:, index]).mean()),
                    over_limit_now_probability=float(over[index]), unknown=bool(self.unknown[index]), life=life,
                )
            )  # fmt: skip
        return tuple(out)


def coarse_of(grid_m: Floats, nodes: int = 50) -> Any:
    """Indices of grid points far enough apart to draw random steps between; first and last among them.

    Within the few metres of a window the steps of wear are far below anything that could be read.
    """
    least = (grid_m[-1] - grid_m[0]) / nodes
    kept = [0]
    for index in range(1, len(grid_m) - 1):
        if grid_m[index] - grid_m[kept[-1]] >= least:
            kept.append(index)
    if len(grid_m) > 1:
        kept.append(len(grid_m) - 1)
    return np.array(kept)


def between(grid_m: Floats, coarse: Any) -> Floats | None:
    """Matrix (coarse, G) that is linear between the coarse points; None where every point is one."""
    if len(coarse) == len(grid_m):
        return None
    out = np.zeros((len(coarse), len(grid_m)), np.float32)
    high = np.clip(np.searchsorted(grid_m[coarse], grid_m), 1, len(coarse) - 1)
    low_m, high_m = grid_m[coarse][high - 1], grid_m[coarse][high]
    part = (grid_m - low_m) / (high_m - low_m)
    column = np.arange(len(grid_m))
    out[high - 1, column] = 1.0 - part
    out[high, column] += part.astype(np.float32)
    return out


def gamma32(rng: np.random.Generator, shape: Floats) -> Floats:
    """Standard gamma draws in single precision.

    From shape 5 on by the cube of a normal (Wilson & Hilferty 1931), within 0.5 % of every quantile between 5 and
    95 % there and several times faster than the exact draw, which the rest takes.
    """
    out: Floats = rng.standard_normal(shape.shape, dtype=np.float32)
    large = np.maximum(shape, np.float32(5.0))
    root = np.float32(1.0 / 3.0) / np.sqrt(large)
    out *= root
    out += np.float32(1.0) - root * root
    large *= out
    out *= out
    out *= large
    small = shape < np.float32(5.0)
    if small.any():
        out[small] = rng.standard_gamma(shape[small].astype(np.float32), dtype=np.float32)
    return out


def first_passage(grid_m: Floats, wear: Floats, limit: Floats) -> Floats:
    """Where growing wear (D, P, G) first exceeds a limit (P,), linear between grid points; inf where it does not."""
    over = wear > limit[None, :, None]
    hit = np.argmax(over, axis=2)
    ever = over[:, :, -1]
    index = np.maximum(hit, 1) if wear.shape[2] > 1 else hit

    def take(at: Floats) -> Floats:
        return np.take_along_axis(wear, at[:, :, None], axis=2)[:, :, 0]

    low, high = take(np.maximum(index - 1, 0)), take(index)
    part = np.clip((limit - low) / np.maximum(high - low, 1e-9), 0.0, 1.0)
    start, end = grid_m[np.maximum(index - 1, 0)], grid_m[index]
    there = start + part * (end - start)
    there = np.where(over[:, :, 0], grid_m[0], there)
    return np.where(ever, there, np.inf)


def _last_read(site: Site, life: Life | None) -> tuple[float, float, str | None] | None:
    from wearplan.wear.evidence.gather import usable

    read = [reading for reading in life.readings if usable(reading)] if life else []
    if not read:
        return None
    last = read[-1]
    return last.driven_m, site.drive.chainage_m(last.driven_m), last.inspection_id
