"""From a fit to the outlook of every tool in place."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from wearplan.site.records import ZONES, Site
from wearplan.wear.evidence.gather import usable
from wearplan.wear.evidence.levels import shares_ahead
from wearplan.wear.evidence.readings import Floats
from wearplan.wear.findings.curvature import limit_of
from wearplan.wear.findings.damage_seen import by_zone
from wearplan.wear.regression.algebra import HYPER
from wearplan.wear.regression.boundaries import all_of, since_reading
from wearplan.wear.regression.factors import paths_by_column
from wearplan.wear.regression.kind import KindFit
from wearplan.wear.regression.states import gamma_steps, rows_of, states
from wearplan.wear.results import Fit

from .ahead import Ahead, look_at_drive
from .outlook import CurveOf, Outlook

if TYPE_CHECKING:
    from wearplan.history import Life

LEAST_NODES = 40


def look_ahead(
    site: Site,
    fit: Fit,
    *,
    draws: int = 400,
    seed: int = 1,
    ground_factor: float = 1.0,
    extra_grid_m: Sequence[float] = (),
) -> Outlook:
    """Wear now and ahead of every tool in place, in ``draws`` futures.

    Parameters
    ----------
    ground_factor : float
        What if the ground ahead wears tools by this factor more than learnt.
    extra_grid_m : sequence of float
        Driven metres to have on the grid besides windows, sections and an even spread.
    """
    from wearplan import history

    rng = np.random.default_rng(seed)
    layout = history.fitted_layout(site, fit.lives, fit.face_m)
    ahead = look_at_drive(site, layout, fit.units, history.clean_rings(site), fit.face_m)
    grid = grid_for(site, ahead, extra_grid_m)
    boundaries = all_of(site)
    shift = np.array([boundary.sd_m for boundary in boundaries] + [0.0]) * rng.standard_normal(
        (draws, len(boundaries) + 1)
    )
    felt = None if fit.ground is None else fit.ground.draw(draws, rng)
    warp = None if fit.ground is None or felt is None else fit.ground.warp(felt, ahead.end_m, rng)
    metres, felt_metres = (each.astype(np.float32) for each in ahead.draw(draws, grid, rng, shift, warp))
    count = len(layout.positions)
    current = history.current_lives(fit.lives)
    lives = tuple(current.get(position.number) for position in layout.positions)
    unknown = np.array([life is None or life.unknown_from_m is not None for life in lives])
    per_m = np.zeros((draws, count, len(ahead.ends_m)), np.float32)
    hazard_per_m = np.zeros_like(per_m)
    wear, factor = np.zeros((draws, count)), np.ones((draws, count))
    life_sd, step = np.ones((draws, count)), np.ones((draws, count))
    units = len(fit.units)
    curves: list[CurveOf] = []
    zone_of = np.array(layout.zones)

    def in_zones(places: NDArray[np.intp]) -> Iterator[tuple[int, NDArray[np.intp]]]:
        """(index of a zone, those of the places that stand in it)."""
        for index, zone in enumerate(ZONES):
            if len(rows := places[zone_of[places] == zone]):
                yield index, rows

    for kind, one in fit.by_kind.items():
        places = np.flatnonzero(np.array(layout.kinds) == kind)
        if not len(places):
            continue
        damage, striking = by_zone(fit.damage_by_kind[kind].draw(draws, rng), units)
        tools, positions = [lives[p] for p in places], [layout.positions[p] for p in places]
        for those, form in one.among(draws, rng):
            parameters, shared = form.draw(len(those), rng, None if felt is None else felt[those])
            columns = form.base_rates(parameters)
            worn = _worn(site, fit, form, tools, positions, parameters, shared, shift[those], rng)
            here = np.ix_(those, places)
            wear[here], factor[here] = worn.wear_mm, worn.factor
            life_sd[here], step[here] = worn.life_sd, worn.step_mm
            if form.curve is not None:
                curves.append(CurveOf(those, places, form.curve))
            for zone_index, rows in in_zones(places):
                shape = (len(those), len(rows), len(ahead.ends_m))
                rate = ground_factor * _per_metre(ahead, form, rows, columns[:, zone_index]).reshape(shape)
                per_m[np.ix_(those, rows)] = rate * worn.to_come[:, np.isin(places, rows), None]
        for zone_index, rows in in_zones(places):
            shape = (draws, len(rows), len(ahead.ends_m))
            flat = ahead.path_km_per_m[rows].reshape(-1, units)
            hazard_per_m[:, rows] = (damage[:, zone_index] @ flat.T).reshape(shape)
            hazard_per_m[:, rows] += striking[:, zone_index, None, None] * ahead.layered_turns_per_m[rows]
    # a place whose record is damaged may be worse than its readings say, never better
    doubtful = np.flatnonzero(unknown)
    wear[:, doubtful] *= np.exp(np.abs(rng.normal(0.0, 0.35, (draws, len(doubtful)))))
    return Outlook(
        site=site, layout=layout, face_m=fit.face_m, end_m=ahead.end_m, grid_m=grid, numbers=layout.numbers,
        limit_mm=np.asarray(layout.limit_mm, float), damage_limit_mm=np.asarray(layout.damage_limit_mm, float),
        wear_now_mm=wear, life_factor=factor, potential_mm=np.matmul(per_m, felt_metres.transpose(0, 2, 1)),
        hazard_per_m=hazard_per_m, metres=metres, life_sd=life_sd, step_mm=step, lives=lives, unknown=unknown,
        seed=seed, curves=tuple(curves),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Worn:
    """The tools of one kind in place, arrays (D, P)."""

    wear_mm: Floats
    factor: Floats
    """Against the mean wear of the type its place carries."""
    life_sd: Floats
    step_mm: Floats
    to_come: Floats
    """Factor of type (and of a batch going about) on the mean wear of the places."""


def _worn(
    site: Site, fit: Fit, one: KindFit, tools: Sequence[Life | None], positions: Sequence[Any], parameters: Floats,
    shared: Floats, shift: Floats, rng: np.random.Generator,
) -> _Worn:  # fmt: skip
    """Wear at the face and life factors, from each tool's own readings on."""
    scale = np.exp(parameters[:, one.posterior.terms :])
    tau, theta = scale[:, [HYPER.index("tau")]], scale[:, [HYPER.index("theta")]]
    index = one.gathered.life_index
    indices = np.array([index.get(life.id, -1) if life else -1 for life in tools], np.int64)
    state = states(one.gathered.readings, rows_of(one.gathered.readings, indices), parameters, shared, one.posterior)
    path = _paths_here(site, fit, one, tools, positions)
    in_place, to_come, spread = _lifts(one, parameters, tau[:, 0], tools, positions, rng)
    expected = one.posterior.column_rates(parameters) @ path.T * in_place
    since = np.array([_last_reading_m(life) for life in tools])
    numbers = [position.number for position in positions]
    moved = since_reading(site, fit.exposure, one, numbers, since, np.full(len(tools), fit.face_m), shift)
    own, at_reading = state.draw(rng, tau)
    grown = gamma_steps(rng, own * np.maximum(expected - state.expected + moved * in_place, 0.0), theta)
    begun = np.array([life.start_wear_mm if life else 0.0 for life in tools])
    doubt = np.array([life.start_sd_mm if life else 0.0 for life in tools]) * ~state.read
    begun = np.maximum(begun + doubt * rng.standard_normal((len(parameters), len(tools))), 0.0)
    worn = begun + at_reading + grown
    if one.curve is not None:
        limits = np.array([limit_of(site, life) if life else np.inf for life in tools])
        limits = np.where(np.isfinite(limits), limits, 1e6)
        worn = one.curve.worn(one.curve.even(begun, limits) + at_reading + grown, limits)
    # ahead a place's mean wear is that of the type it carries; what else a tool in place has is its own
    return _Worn(
        wear_mm=worn, factor=own * in_place / to_come, life_sd=spread,
        step_mm=np.broadcast_to(theta, own.shape), to_come=to_come,
    )  # fmt: skip


def _per_metre(ahead: Ahead, one: KindFit, rows: Any, columns: Floats) -> Floats:
    """Mean wear (D, P * S) by metre in each section of tools of factor 1; ``columns`` (D, U, V): the zone's rates."""
    path = ahead.path_km_per_m[rows]
    if one.cut is None:
        return np.asarray(columns[:, :, 0] @ path.reshape(-1, path.shape[2]).T)
    share = shares_ahead(one.cut, ahead.penetration_mm)
    leveled = np.einsum("psu,sv->psuv", path, share).reshape(-1, columns[0].size)
    return np.asarray(columns.reshape(len(columns), -1) @ leveled.T)


def _lifts(
    one: KindFit, parameters: Floats, tau: Floats, lives: Sequence[Life | None], positions: Sequence[Any],
    rng: np.random.Generator,
) -> tuple[Floats, Floats, Floats]:  # fmt: skip
    """Factors (D, P) of type and batch of the tools in place and of those fitted hereafter, and their sd (D, P).

    Where a batch without a label goes about, a tool whose readings tell nothing yet is one of it by lot, and so is any
    fitted hereafter: its factor then has the mean and the spread of the mixture.
    """
    here = [one.groups.row(p.tool_type if life is None else life.tool_type, None if life is None else life.id)
            for life, p in zip(lives, positions, strict=True)]  # fmt: skip
    later = [one.groups.row(p.tool_type) for p in positions]
    in_place, to_come = one.lift(parameters, np.array(here)), one.lift(parameters, np.array(later))
    spread = np.repeat(tau[:, None], len(positions), axis=1)
    found = one.suspicion
    if found is None:
        return in_place, to_come, spread
    column = one.group_part.start + len(one.groups.types) + one.groups.batches.index(found.label)
    times = np.exp(parameters[:, column])[:, None]
    unread = np.array([
        found.chance[life.id] if life is not None and life.id in found.unsure else 0.0
        for life in lives
    ])  # fmt: skip
    in_place = in_place * np.where(rng.random(in_place.shape) < unread, times, 1.0)
    share = np.array([found.share if p.tool_type in found.types else 0.0 for p in positions])
    mean = 1.0 + share * (times - 1.0)
    second = (1.0 + spread**2) * (1.0 + share * (times**2 - 1.0))
    return in_place, to_come * mean, np.sqrt(np.maximum(second / mean**2 - 1.0, 1e-6))


def _last_reading_m(life: Life | None) -> float:
    """Where its wear was last read, or where it was put on."""
    if life is None:
        return 0.0
    return max([life.stints[0].from_m, *(reading.driven_m for reading in life.readings if usable(reading))])


def grid_for(site: Site, ahead: Ahead, extra_m: Sequence[float]) -> Floats:
    """Driven metres (G,): face, end, windows with every ring in them, sections, what is asked for, and an even
    spread."""
    face, end = ahead.face_m, max(ahead.end_m, ahead.face_m)
    points = [face, end, *extra_m, *ahead.ends_m[:-1]]
    ring = site.drive.ring_length_m
    for window in site.stops.windows if site.stops else ():
        low, high = sorted((window.from_m, window.to_m))
        points += [low, high]
        first = np.ceil((max(low, face) - face) / ring - 1e-9)
        points += list(face + ring * np.arange(first, np.floor((high - face) / ring + 1e-9) + 1))
    inside = np.array([point for point in points if face - 1e-9 <= point <= end + 1e-9], float)
    kept = np.unique(np.round(inside, 4))
    # even points only where the others leave a gap
    widest = max((end - face) / LEAST_NODES, 1e-6)
    filled = [
        np.linspace(low, high, int(np.ceil((high - low) / widest)), endpoint=False)[1:]
        for low, high in pairwise(kept.tolist()) if high - low > widest
    ]  # fmt: skip
    return np.unique(np.concatenate([kept, *filled])) if len(kept) else np.array([face])


@dataclass(frozen=True)
class _Stint:
    position: int
    from_m: float
    to_m: float | None = None


@dataclass(frozen=True)
class _Bare:
    stints: tuple[_Stint, ...]


def _paths_here(site: Site, fit: Fit, one: KindFit, lives: Sequence[Any], positions: Sequence[Any]) -> Any:
    """Path (P, C) of the tools in place from their start to the face.

    A place nobody has a record of counts as if its tool had stood there since the place was made.
    """
    whole = []
    for life, position in zip(lives, positions, strict=True):
        if life is not None:
            whole.append(life)
            continue
        made = [c.from_m for c in site.wheel.layout_changes if c.position == position.number and c.from_m <= fit.face_m]
        whole.append(_Bare((_Stint(position.number, max(made, default=0.0)),)))
    return paths_by_column(site, one, whole, fit.exposure, [fit.face_m] * len(whole), fit.ground)
