"""Score tests of the fit against departures along the drive: stretches, boundaries, new tools running in.

A departure is a direction d (N,): how the expected readings would move if it were there by one unit. With the
residual r of the fit, ``d' S^-1 r`` over what is left of ``d' S^-1 d`` after the rates took their part estimates its
size, and its root makes it a number of standard deviations (Rao's score test; Cox & Hinkley 1974, section 9.3). Kinds
of tools add up. The strongest departure is taken first, and the others are judged with it in place, since each throws
a shadow on its neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearplan.site.records import ZONES
from wearplan.wear.evidence.readings import Floats
from wearplan.wear.regression.algebra import slopes_of
from wearplan.wear.regression.boundaries import Boundary, passed, shifts

if TYPE_CHECKING:
    from wearplan.wear.regression.kind import KindFit
    from wearplan.wear.results import Fit

RUN_IN_M = (30.0, 60.0, 100.0)
MOST = 8
"""Departures named at most."""


@dataclass(frozen=True, kw_only=True)
class Suspect:
    """A departure that may be there."""

    what: str
    """``run-in``, ``boundary`` or ``stretch``."""
    from_m: float
    to_m: float
    least_odds: float
    least_size: float
    most_size: float


@dataclass(frozen=True, kw_only=True)
class Departure:
    """One that is: estimated size, and how many standard deviations from none."""

    suspect: Suspect
    size: float
    odds: float


def departures(fit: Fit) -> list[Departure]:
    """The departures found, strongest first."""
    cuts = cuts_of(fit)
    if len(cuts) < 3:
        return []
    stops = np.unique(np.r_[0.0, [each.driven_m for each in fit.site.inspections], fit.face_m])
    inner = passed(fit.site, fit.face_m)
    suspects = [
        Suspect(what="run-in", from_m=0.0, to_m=length, least_odds=4.0, least_size=0.12, most_size=np.inf)
        for length in RUN_IN_M
    ]
    suspects += [
        Suspect(what="boundary", from_m=b.at_m, to_m=b.at_m, least_odds=3.5, least_size=5.0, most_size=0.7 * b.room_m)
        for b in inner
    ]
    suspects += [
        Suspect(what="stretch", from_m=low, to_m=high, least_odds=3.7, least_size=0.12, most_size=np.inf)
        for low, high in zip(stops[:-1].tolist(), stops[1:].tolist(), strict=True)
        if fit.ground is None  # else the effect of the ground has said it
    ]
    pull, gram = _scores(fit, cuts, stops, inner, len(suspects))
    return _strongest(suspects, pull, gram)


def _scores(fit: Fit, cuts: Floats, stops: Floats, inner: list[Boundary], count: int) -> tuple[Floats, Floats]:
    """Pull (M,) of every suspect and their Gram matrix (M, M), cleared of the rates, over all kinds."""
    middle = 0.5 * (cuts[1:] + cuts[:-1])
    group = np.eye(len(stops) - 1)[np.clip(np.searchsorted(stops, middle) - 1, 0, len(stops) - 2)]
    pull, gram = np.zeros(count), np.zeros((count, count))
    for one in fit.by_kind.values():
        if not len(one.gathered.readings):
            continue
        parts = [young(fit, one)]
        if inner:
            parts.append(shifts(fit.site, fit.exposure, one, inner))
        if fit.ground is None:
            parts.append(wear_by_piece(fit, one, cuts) @ group)
        moved = np.hstack(parts)
        readings, posterior = one.gathered.readings, one.posterior
        solver = one.solver()
        slopes = slopes_of(readings, solver.coefficients)
        solved = solver.solve(np.c_[moved, slopes])
        rates = slopes.T @ solved[:, count:] + np.linalg.inv(posterior.prior.covariance)
        cross = moved.T @ solved[:, count:]
        pull += moved.T @ posterior.at_mode.alpha
        gram += moved.T @ solved[:, :count] - cross @ np.linalg.solve(rates, cross.T)
    return pull, gram + 1e-9 * np.eye(count)


def _strongest(suspects: list[Suspect], pull: Floats, gram: Floats) -> list[Departure]:
    chosen: list[int] = []
    found: list[Departure] = []
    least = np.array([suspect.least_odds for suspect in suspects])
    small = np.array([suspect.least_size for suspect in suspects])
    large = np.array([suspect.most_size for suspect in suspects])
    while len(chosen) < MOST:
        known = np.linalg.solve(gram[np.ix_(chosen, chosen)], np.c_[pull[chosen], gram[chosen]]) if chosen else None
        left = pull if known is None else pull - gram[:, chosen] @ known[:, 0]
        weight = (
            np.diag(gram) if known is None else np.diag(gram) - np.einsum("mc,cm->m", gram[:, chosen], known[:, 1:])
        )
        # what the rates or those already named leave nothing of cannot be judged
        weight = np.where(weight > 0.02 * np.diag(gram), weight, np.inf)
        odds, size = left / np.sqrt(weight), left / weight
        odd = np.where((np.abs(size) > small) & (np.abs(size) < large), np.abs(odds) / least, 0.0)
        odd[chosen] = 0.0
        best = int(np.argmax(odd))
        if odd[best] <= 1.0:
            break
        chosen.append(best)
        found.append(Departure(suspect=suspects[best], size=float(size[best]), odds=float(odds[best])))
    return found


def words(fit: Fit, found: list[Departure]) -> list[str]:
    """One remark a departure."""
    out = []
    chainage = fit.site.drive.chainage_m
    for departure in found:
        suspect, sure = departure.suspect, f"({abs(departure.odds):.1f} standard deviations)"
        times = f"about {max(1.0 + departure.size, 0.1):.2f} times"
        if suspect.what == "run-in":
            out.append(
                f"new tools wear {times} their later pace over their first {suspect.to_m:.0f} m or so {sure};"
                " the rates are means over both"
            )
        elif suspect.what == "boundary":
            way = "further on" if departure.size > 0 else "earlier"
            out.append(
                f"section boundary at {chainage(suspect.from_m):.1f}: the wear read agrees better with one some"
                f" {abs(departure.size):.0f} m {way} {sure}"
            )
        else:
            out.append(
                f"stretch {chainage(suspect.from_m):.1f} to {chainage(suspect.to_m):.1f}: tools wore {times} what the"
                f" rates of the whole drive say {sure}; look for ground, regime or records that differ there"
            )
    return out


def cuts_of(fit: Fit) -> Floats:
    """Driven metres (C,) of start, stops, section ends and face."""
    ground = fit.site.ground()
    points = [0.0, fit.face_m, *(inspection.driven_m for inspection in fit.site.inspections)]
    points += [section.to_m for section in ground.sections] if ground else []
    inside = np.array([point for point in points if 0.0 <= point <= fit.face_m])
    return np.unique(np.round(inside, 3))


def _rate_by_zone(fit: Fit, one: KindFit) -> Floats:
    """Rates (Z, U) at the mode."""
    return np.asarray(one.base_rates(one.posterior.mode).mean(axis=-1))


def wear_by_piece(fit: Fit, one: KindFit, cuts: Floats) -> Floats:
    """Expected wear (N, C - 1) of every reading gathered between neighbouring cuts."""
    pieces = len(cuts) - 1
    sources = one.gathered.sources
    rate = _rate_by_zone(fit, one)
    table: dict[int, Floats] = {}
    for number in sorted({stint.position for life, _ in sources for stint in life.stints}):
        position = fit.site.wheel.position(number)
        around = np.full(pieces, position.track_radius_mm)
        path = fit.exposure.path_km(track_radius_mm=around, from_m=cuts[:-1], to_m=cuts[1:], cuts=position.cuts)
        table[number] = path @ rate[ZONES.index(position.zone)]
    out = np.zeros((len(sources), pieces))
    for row, (life, reading) in enumerate(sources):
        for stint in life.stints:
            end = reading.driven_m if stint.to_m is None else min(stint.to_m, reading.driven_m)
            low, high = np.searchsorted(cuts, [stint.from_m - 0.01, end - 0.01])
            if high > low:
                out[row, low:high] = table[stint.position][low:high]
    return out


def young(fit: Fit, one: KindFit) -> Floats:
    """Expected wear (N, 3) of every reading gathered over the life's first `RUN_IN_M` metres."""
    rate = _rate_by_zone(fit, one)
    sources = one.gathered.sources
    positions = [fit.site.wheel.position(life.stints[0].position) for life, _ in sources]
    first = np.array([life.stints[0].from_m for life, _ in sources])
    last = np.array([reading.driven_m for _, reading in sources])
    radius = np.array([position.track_radius_mm for position in positions])
    zone = np.array([ZONES.index(position.zone) for position in positions], np.int64)
    out = np.zeros((len(sources), len(RUN_IN_M)))
    for way in {position.cuts for position in positions}:
        rows = np.flatnonzero([position.cuts == way for position in positions])
        for column, length in enumerate(RUN_IN_M):
            path = fit.exposure.path_km(
                track_radius_mm=radius[rows], from_m=first[rows], to_m=np.minimum(first + length, last)[rows], cuts=way
            )
            out[rows, column] = (path * rate[zone[rows]]).sum(axis=1)
    return out
