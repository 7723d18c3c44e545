"""Score tests of the fit against departures along the drive.

A departure is a direction d (N,): how the expected readings would move if it were there by one unit. With the
residual r of the fit, ``d' S^-1 r`` over what is left of ``d' S^-1 d`` after the rates took their part estimates its
size, and its root makes it a number of standard deviations (Rao's score test; Cox & Hinkley 1974, section 9.3). Kinds
of tools add up.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearplan.site.records import ZONES

from .boundaries import passed, shifts
from .readings import Floats

if TYPE_CHECKING:
    from .kind import KindFit
    from .results import Fit


Directions = Callable[["KindFit"], Floats]
"""From a kind's fit to directions (N, M) in its readings."""


@dataclass(frozen=True, kw_only=True)
class Departure:
    """Estimated size of departures and how many standard deviations each lies from none; arrays (M,)."""

    size: Floats
    odds: Floats


def score_directions(fit: Fit, directions: Directions, count: int, beside: Directions | None = None) -> Departure:
    """Score tests of ``count`` directions, (N, count) for each kind, cleared of those ``beside``."""
    pull, weight = np.zeros(count), np.zeros(count)
    for one in fit.by_kind.values():
        if not len(one.gathered.readings):
            continue
        moved = directions(one)
        posterior, readings = one.posterior, one.gathered.readings
        solver = one.solver()
        rate = solver.rate
        slopes = readings.path_km @ (rate[:, None] * readings.loading)
        precision = np.linalg.inv(posterior.prior.covariance)
        if beside is not None:
            known = beside(one)
            slopes = np.c_[slopes, known]
            precision = np.block(
                [[precision, np.zeros((len(precision), known.shape[1]))], [np.zeros((known.shape[1], slopes.shape[1]))]]
            )
        solved = solver.solve(np.c_[moved, slopes])
        by_moved, by_slopes = solved[:, :count], solved[:, count:]
        inner = slopes.T @ by_slopes + precision
        cross = by_moved.T @ slopes
        pull += moved.T @ posterior.at_mode.alpha
        if beside is not None:
            # the rates are at their mode, what stands beside is not: take out its part of the residual
            left = np.zeros(slopes.shape[1])
            left[-known.shape[1] :] = known.T @ posterior.at_mode.alpha
            pull -= cross @ np.linalg.solve(inner, left)
        own = np.einsum("nm,nm->m", moved, by_moved)
        weight += np.maximum(own - np.einsum("mk,km->m", cross, np.linalg.solve(inner, cross.T)), 1e-12)
    weight = np.maximum(weight, 1e-12)
    return Departure(size=pull / weight, odds=pull / np.sqrt(weight))


def cuts_of(fit: Fit) -> Floats:
    """Driven metres (C,) of start, stops, section ends and face."""
    ground = fit.site.ground()
    points = [0.0, fit.face_m, *(inspection.driven_m for inspection in fit.site.inspections)]
    points += [section.to_m for section in ground.sections] if ground else []
    inside = np.array([point for point in points if 0.0 <= point <= fit.face_m])
    return np.unique(np.round(inside, 3))


def wear_by_piece(fit: Fit, one: KindFit, cuts: Floats) -> Floats:
    """Expected wear (N, C - 1) of every reading gathered between neighbouring cuts."""
    pieces = len(cuts) - 1
    sources = one.gathered.sources
    numbers = sorted({stint.position for life, _ in sources for stint in life.stints})
    table: dict[int, Floats] = {}
    rate = one.posterior.column_rates(one.posterior.mode).reshape(len(ZONES), len(fit.units), -1).mean(axis=2)
    for number in numbers:
        position = fit.site.wheel.position(number)
        path = fit.exposure.path_km(
            track_radius_mm=np.full(pieces, position.track_radius_mm),
            from_m=cuts[:-1],
            to_m=cuts[1:],
            cuts=position.cuts,
        )
        table[number] = path @ rate[ZONES.index(position.zone)]
    out = np.zeros((len(sources), pieces))
    for row, (life, reading) in enumerate(sources):
        for stint in life.stints:
            end = reading.driven_m if stint.to_m is None else min(stint.to_m, reading.driven_m)
            low, high = np.searchsorted(cuts, [stint.from_m - 0.01, end - 0.01])
            if high > low:
                out[row, low:high] = table[stint.position][low:high]
    return out


def odd_stretches(fit: Fit, beside: Directions | None = None, *, odds: float = 3.7, size: float = 0.12) -> list[str]:
    """Words on stretches between stops where tools wore more or less than the rest of the drive says."""
    cuts = cuts_of(fit)
    if len(cuts) < 3:
        return []
    stops = np.unique(np.r_[0.0, [each.driven_m for each in fit.site.inspections], fit.face_m])
    middle = 0.5 * (cuts[1:] + cuts[:-1])
    which = np.clip(np.searchsorted(stops, middle) - 1, 0, len(stops) - 2)
    count = len(stops) - 1
    group = np.eye(count)[which]
    found = score_directions(fit, lambda one: wear_by_piece(fit, one, cuts) @ group, count, beside)
    out = []
    for k in np.flatnonzero((np.abs(found.odds) > odds) & (np.abs(found.size) > size)):
        out.append(
            f"stretch {_chainages(fit, stops[k], stops[k + 1])}: tools wore {_times(found.size[k])} what the"
            f" rates of the whole drive say ({abs(found.odds[k]):.1f} standard deviations); look for ground, regime or"
            " records that differ there"
        )
    return out


def odd_boundaries(fit: Fit, beside: Directions | None = None, *, odds: float = 3.5, size_m: float = 5.0) -> list[str]:
    """Words on boundaries between sections that seem to lie elsewhere, as far as their sections leave room."""
    inner = passed(fit.site, fit.face_m)
    if not inner:
        return []
    found = score_directions(fit, lambda one: shifts(fit.site, fit.exposure, one, inner), len(inner), beside)
    out = []
    for column, boundary in enumerate(inner):
        size = abs(found.size[column])
        if abs(found.odds[column]) > odds and size_m < size < 0.7 * boundary.room_m:
            way = "further on" if found.size[column] > 0 else "earlier"
            out.append(
                f"section boundary at {fit.site.drive.chainage_m(boundary.at_m):.1f}: the wear read agrees better with"
                f" one some {size:.0f} m {way} ({abs(found.odds[column]):.1f} standard deviations)"
            )
    return out


def run_in(fit: Fit, *, odds: float = 4.0, size: float = 0.12) -> tuple[list[str], Directions | None]:
    """A word if new tools wear at another pace over their first metres, and the direction to clear others of it."""
    lengths = (30.0, 60.0, 100.0)

    def young(one: KindFit) -> Floats:
        rate = one.posterior.column_rates(one.posterior.mode).reshape(len(ZONES), len(fit.units), -1).mean(axis=2)
        out = np.zeros((len(one.gathered.sources), len(lengths)))
        for way in ("both", "cw", "ccw"):
            rows, radius, start, end, zone = [], [], [], [], []
            for row, (life, reading) in enumerate(one.gathered.sources):
                position = fit.site.wheel.position(life.stints[0].position)
                if position.cuts == way:
                    rows.append(row)
                    radius.append(position.track_radius_mm)
                    start.append(life.from_m)
                    end.append(reading.driven_m)
                    zone.append(ZONES.index(position.zone))
            for column, length in enumerate(lengths if rows else ()):
                first, last = np.array(start), np.array(end)
                path = fit.exposure.path_km(
                    track_radius_mm=np.array(radius), from_m=first, to_m=np.minimum(first + length, last), cuts=way
                )
                out[rows, column] = (path * rate[zone]).sum(axis=1)
        return out

    found = score_directions(fit, young, len(lengths))
    best = int(np.argmax(np.abs(found.odds)))
    if abs(found.odds[best]) > odds and abs(found.size[best]) > size:
        words = [
            f"new tools wear {_times(found.size[best])} their later pace over their first {lengths[best]:.0f} m or so"
            f" ({abs(found.odds[best]):.1f} standard deviations); the rates are means over both"
        ]
        return words, lambda one: young(one)[:, [best]]
    return [], None


def _times(size: float) -> str:
    return f"about {max(1.0 + size, 0.1):.2f} times"


def _chainages(fit: Fit, low: float, high: float) -> str:
    drive = fit.site.drive
    return f"{drive.chainage_m(low):.1f} to {drive.chainage_m(high):.1f}"
