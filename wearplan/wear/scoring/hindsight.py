"""How well outlooks of this drive would have done, had they been made at each past stop.

At every stop from the second on the fleet is fitted to what was known then (readings, rings and ground as known on
that date), and the readings of the next stop are forecast for every tool that went on, given the path it in fact
travelled.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np

from wearplan.site.records import ZONES, Site
from wearplan.wear.evidence.gather import SENSOR_SD_MM, usable
from wearplan.wear.evidence.levels import extended
from wearplan.wear.evidence.paths import life_paths
from wearplan.wear.evidence.readings import Floats
from wearplan.wear.findings.curvature import limit_of
from wearplan.wear.findings.oddities import coarse_steps
from wearplan.wear.fit import learn
from wearplan.wear.regression.boundaries import all_of, since_reading
from wearplan.wear.regression.factors import life_level_paths, paths_by_column
from wearplan.wear.regression.states import gamma_steps, rows_of, states
from wearplan.wear.results import Fit

from .baselines import NAMES, Pairs, forecast
from .life_foretold import Foretold, LifeScore, foretold_lives, life_words, score_lives
from .scores import crps, crps_normal, pit

OURS, EVEN = "wearplan", "wearplan, units the same everywhere"
WITHOUT = {"stretches": EVEN, "types": "wearplan, types and batches alike", "curves": "wearplan, one pace to the limit"}
"""Names of the forecasts made without a term."""
_TELLING = {
    "stretches": "telling stretches of ground apart", "types": "telling types and batches apart",
    "curves": "letting the pace change towards the limit",
}  # fmt: skip
_DRAWS = 500
HEAVY = 0.911
"""Upper quartile of the normal by that of t with 4 degrees of freedom."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """How one method did. Bands count every reading (censored ones by a randomised PIT), CRPS and bias only values."""

    name: str
    coverage_50: float
    coverage_90: float
    crps_mm: float
    bias_mm: float
    """Mean of forecast median less reading."""
    n: int


@dataclass(frozen=True, kw_only=True)
class Case:
    """One forecast reading, for whoever wants to look closer."""

    inspection_id: str | None
    position: int
    life: str
    kind: str
    from_m: float
    to_m: float
    value_mm: float
    censored: int
    pit: dict[str, float]
    crps_mm: dict[str, float]
    median_mm: dict[str, float]


@dataclass(frozen=True, kw_only=True)
class Backtest:
    """Scores of all methods on the same readings."""

    methods: tuple[Score, ...]
    stops: int
    cases: tuple[Case, ...] = field(repr=False)
    remarks: tuple[str, ...] = ()
    lives: tuple[LifeScore, ...] = ()
    """By type: life foretold against life reached."""


@dataclass(frozen=True, kw_only=True)
class _Ask:
    """Readings of one kind at one stop, to be forecast by what was known at the stop before."""

    lives: list[Any]
    readings: list[Any]
    path_since: Floats
    """(n, C) from the last reading (or the start) to this one or the end of what was known, by the columns of the fit.
    """
    path_beyond: Floats
    """(n, Z * U * V) from the end of what was known to this one, by zone, unit and level."""
    known_m: float
    plain_since: Floats
    """(n, Z * U) the same by zone and unit."""
    had: list[list[Any]]
    """Usable earlier readings."""
    since_m: Floats
    until_m: Floats
    exposure: Any


def backtest(site: Site, *, progress: Callable[[str, float], None] | None = None, least_readings: int = 15) -> Backtest:
    """Refit at each past stop and score the readings of the next.

    Parameters
    ----------
    least_readings : int
        Stops with fewer usable readings known by then are not forecast from.
    """
    from wearplan import history

    rng = np.random.default_rng(7)
    rings = history.clean_rings(site)
    full = history.lives(site, history.measure_exposure(site, rings))
    stops = [inspection for inspection in site.inspections if inspection.measurements]
    cases: list[Case] = []
    foretold: list[Foretold] = []
    fit: Fit | None = None
    without: dict[str, Fit] = {}
    used = 0
    # from the second stop on: one stop alone cannot tell its own error from the ground's
    for number, (stop, following) in enumerate(pairwise(stops[1:])):
        if progress:
            progress(f"stop {number + 2} of {len(stops) - 1}", number / max(len(stops) - 2, 1))
        then = history.as_of(site, stop.id)
        if then.ground() is None:
            continue
        known = learn(then, previous=fit, checks=False)
        if sum(len(one.gathered.readings) for one in known.by_kind.values()) < least_readings:
            continue
        fit = known
        exposure = history.measure_exposure(site, rings, then.ground(), units=fit.units)
        without = {
            WITHOUT[term]: learn(then, previous=without.get(WITHOUT[term], fit), checks=False, leave_out=[term])
            for term in terms_in(fit)
        }
        found = score_stop(site, fit, full, exposure, stop.driven_m, following, rng, without=without)
        used += bool(found)
        cases += found
        foretold += foretold_lives(then, fit, full)
    scores = score_lives(foretold)
    remarks = (*remarks_on(cases), *worth_of_terms(cases), *(life_words(score) for score in scores))
    return Backtest(methods=summarise(cases), stops=used, cases=tuple(cases), remarks=remarks, lives=scores)


def terms_in(fit: Fit) -> list[str]:
    """Terms of the regression that were in force and could be left out."""
    force = {
        "stretches": fit.ground is not None,
        "types": any(one.groups.names for one in fit.by_kind.values()),
        "curves": any(one.curve is not None for one in fit.by_kind.values()),
    }
    return [term for term, there in force.items() if there]


def summarise(cases: list[Case]) -> tuple[Score, ...]:
    """One score a method."""
    out = []
    for name in (OURS, *([EVEN] if cases and all(EVEN in case.pit for case in cases) else []), *NAMES):
        place = np.array([case.pit[name] for case in cases])
        exact = [case for case in cases if case.censored == 0]
        out.append(
            Score(
                name=name, n=len(cases),
                coverage_50=float(((place >= 0.25) & (place <= 0.75)).mean()) if cases else float("nan"),
                coverage_90=float(((place >= 0.05) & (place <= 0.95)).mean()) if cases else float("nan"),
                crps_mm=float(np.mean([case.crps_mm[name] for case in exact])) if exact else float("nan"),
                bias_mm=float(np.mean([case.median_mm[name] - case.value_mm for case in exact] or [np.nan])),
            )
        )  # fmt: skip
    return tuple(out)


def score_stop(
    site: Site, fit: Fit, full: Any, exposure: Any, from_m: float, following: Any, rng: np.random.Generator,
    rules: Sequence[str] = NAMES, without: Mapping[str, Fit] | None = None,
) -> list[Case]:  # fmt: skip
    """Forecast the readings of ``following`` from ``fit``, by fits ``without`` a term, and by the simple ``rules``."""
    then = {life.id: life for life in fit.lives}
    cases: list[Case] = []
    for kind, one in fit.by_kind.items():
        lives, readings, had = _read_again([life for life in full if life.kind == kind], then, following)
        if not lives:
            continue
        until = [reading.driven_m for reading in readings]
        since = [h[-1].driven_m if h else life.from_m for h, life in zip(had, lives, strict=True)]
        ask = _Ask(
            lives=lives, readings=readings, had=had, since_m=np.array(since, float), until_m=np.array(until, float),
            exposure=exposure, known_m=fit.face_m, path_beyond=_plain(site, one, lives, exposure, fit.face_m, until),
            path_since=_known(site, fit, one, lives, exposure, since, until),
            plain_since=life_paths(site, lives, exposure, until) - life_paths(site, lives, exposure, since),
        )  # fmt: skip
        draws = {OURS: forecast_draws(fit, kind, ask, rng)}
        for name, less in (without or {}).items():
            other = less.by_kind[kind]
            plainly = replace(
                ask, path_since=_known(site, less, other, lives, exposure, since, until),
                path_beyond=_plain(site, other, lives, exposure, less.face_m, until),
            )  # fmt: skip
            # a stream of its own: what is drawn for the others stays as it is
            draws[name] = forecast_draws(less, kind, plainly, np.random.default_rng(11))
        cases += _cases(fit, kind, one, ask, draws, from_m, rng, rules)
    return cases


def _read_again(
    lives: Sequence[Any], then: Mapping[str, Any], following: Any
) -> tuple[list[Any], list[Any], list[list[Any]]]:
    """Lives in place and sound at a stop that are read at the following one, that reading, and those had before."""
    found: list[tuple[Any, Any, list[Any]]] = []
    for life in lives:
        before = then.get(life.id)
        if before is None or not before.open or before.trouble_from_m is not None:
            continue
        here = [r for r in life.readings if usable(r) and r.inspection_id == following.id and r.source == "inspection"]
        if here:
            found.append((life, here[0], [r for r in before.readings if usable(r)]))
    return [life for life, *_ in found], [reading for _, reading, _ in found], [had for *_, had in found]


def _known(
    site: Site, fit: Fit, one: Any, lives: list[Any], exposure: Any, since: list[float], until: list[float]
) -> Floats:
    """Path (n, C) between two points of each life as far as the fit knew the drive."""
    cut = one.cut and extended(one.cut, exposure.rings)
    later, earlier = (
        paths_by_column(site, replace(one, cut=cut), lives, exposure, np.minimum(at, fit.face_m).tolist(), fit.ground)
        for at in (until, since)
    )
    return np.asarray(np.maximum(later - earlier, 0.0))


def _plain(site: Site, one: Any, lives: list[Any], exposure: Any, from_m: float, until: list[float]) -> Floats:
    """Path (n, Z * U * V) from a point of the drive on."""
    since = np.minimum(from_m, until).tolist()
    if one.cut is None:
        later, earlier = (life_paths(site, lives, exposure, at) for at in (until, since))
    else:
        # levels were cut from the rings known then; those bored since take theirs from the same bands
        cut = extended(one.cut, exposure.rings)
        later, earlier = (life_level_paths(site, lives, exposure, at, cut) for at in (until, since))
    return np.asarray(np.maximum(later - earlier, 0.0))


def error_of(fit: Fit, reading: Any) -> tuple[float, float]:
    """sd and step of a reading by its method."""
    from wearplan.history import gauging_of

    gauge = gauging_of(fit.site.wheel, reading.method)
    return gauge.sd_mm, gauge.step_mm


def forecast_draws(fit: Fit, kind: str, ask: _Ask, rng: np.random.Generator, *, error: bool = True) -> Floats:
    """Draws (D, n) of what will be read (with ``error``), or of the wear itself."""
    one = fit.by_kind[kind]
    felt = None if fit.ground is None else fit.ground.draw(_DRAWS, rng)
    wear = np.empty((_DRAWS, len(ask.lives)))
    s, scale = np.empty((_DRAWS, 1)), np.empty((_DRAWS, 1))
    for rows, form in one.among(_DRAWS, rng):
        drawn = _forecast_wear(fit, form, ask, len(rows), None if felt is None else felt[rows], rng)
        wear[rows], s[rows], scale[rows] = drawn
    if not error:
        return wear
    sd = np.array([error_of(fit, reading) for reading in ask.readings])
    # most stops are as good as their gauge, now and then one is off as a whole: t with 4 degrees of freedom, as wide in
    # its middle half as the normal it takes the place of
    stop = s * HEAVY * rng.standard_t(4, (len(wear), 1))
    read = wear + stop + scale * sd[:, 0] * rng.standard_normal(wear.shape)
    width = np.maximum(sd[:, 1], 1e-6) * np.ones((len(wear), 1))
    # a crew that rounded coarsely before may be the one that reads next
    coarse = [found[0] for found in coarse_steps(fit.site).values()]
    seen = sum(bool(inspection.measurements) for inspection in fit.site.inspections)
    if coarse:
        hit = rng.random(len(wear)) < len(coarse) / max(seen, 1)
        width[hit] = np.maximum(width[hit], rng.choice(coarse, (int(hit.sum()), 1)))
    return np.asarray(np.maximum(np.round(read / width) * width, 0.0))


def _forecast_wear(
    fit: Fit, one: Any, ask: _Ask, count: int, felt: Floats | None, rng: np.random.Generator
) -> tuple[Floats, Floats, Floats]:
    """Draws (count, n) of the wear under one form, and (count, 1) of the shared error's sd and of the scale."""
    parameters, shared = one.draw(count, rng, felt)
    readings = one.gathered.readings
    index = np.array([one.gathered.life_index.get(life.id, -1) for life in ask.lives], np.int64)
    state = states(readings, rows_of(readings, index), parameters, shared, one.posterior)
    scales = np.exp(parameters[:, one.posterior.terms :])
    tau, theta, s, scale = scales.T[:, :, None]
    factor, wear = state.draw(rng, tau)
    beyond = one.base_rates(parameters).reshape(count, -1) @ ask.path_beyond.T
    if fit.ground is not None and felt is not None and ask.until_m.max() > ask.known_m:
        warp = fit.ground.warp(felt, float(ask.until_m.max()), rng)
        metres = np.maximum(ask.until_m - ask.known_m, 0.0)
        felt_m = warp.metres(np.broadcast_to(ask.until_m, beyond.shape))
        beyond = beyond * np.where(metres > 0.0, felt_m / np.maximum(metres, 1e-9), 1.0)
    rows = np.array([one.groups.row(life.tool_type, life.id) for life in ask.lives])
    step = (one.posterior.column_rates(parameters) @ ask.path_since.T + beyond) * one.lift(parameters, rows)
    start = np.array([life.start_wear_mm or 0.0 for life in ask.lives])
    doubts = np.array([boundary.sd_m for boundary in all_of(fit.site)])
    shift = doubts * rng.standard_normal((count, len(doubts)))
    numbers = [reading.position for reading in ask.readings]
    moved = since_reading(fit.site, ask.exposure, one, numbers, ask.since_m, ask.until_m, shift)
    grown = wear + gamma_steps(rng, factor * np.maximum(step + moved, 0.0), theta)
    if one.curve is None:
        return start + grown, s, scale
    limits = np.array([limit_of(fit.site, life) for life in ask.lives])
    return one.curve.worn(one.curve.even(start, limits) + grown, limits), s, scale


def known_pairs(one: Any) -> Pairs:
    """Steps between readings of one kind known to a fit, values only."""
    rows = []
    previous: dict[str, Any] = {}
    for life, reading in one.gathered.sources:
        if reading.wear_mm is None or reading.source != "inspection":
            continue
        before = previous.get(life.id)
        start = life.from_m
        base = before.wear_mm if before is not None else (life.start_wear_mm or 0.0)
        path = np.ravel(reading.path_km_by_zone) - (np.ravel(before.path_km_by_zone) if before is not None else 0.0)
        at = before.driven_m if before is not None else start
        rows.append(
            (reading.wear_mm - base, path, reading.driven_m - at, ZONES.index(reading.zone),
             base - (life.start_wear_mm or 0.0), at - start)
        )  # fmt: skip
        previous[life.id] = reading
    return _pairs(rows, len(ZONES) * len(one.units))


def asked_pairs(ask: _Ask, columns: int) -> tuple[Pairs, Floats]:
    """Steps to forecast, and the wear (n,) they start from."""
    rows, base = [], []
    for k, (life, reading, had) in enumerate(zip(ask.lives, ask.readings, ask.had, strict=True)):
        last = had[-1] if had else None
        start = life.start_wear_mm or 0.0
        bound = start
        if last is not None:
            bound = next(v for v in (last.wear_mm, last.below_mm, last.above_mm) if v is not None)
            bound = 0.5 * bound if last.wear_mm is None and last.above_mm is None else bound
        at = last.driven_m if last is not None else life.from_m
        zone = ZONES.index(reading.zone)
        rows.append((np.nan, ask.plain_since[k], reading.driven_m - at, zone, bound - start, at - life.from_m))
        base.append(bound)
    return _pairs(rows, columns), np.array(base, float)


def _pairs(rows: list[Any], columns: int) -> Pairs:
    if not rows:
        nothing = np.zeros(0)
        return Pairs(
            growth_mm=nothing, path_km=np.zeros((0, columns)), driven_m=nothing, zone=nothing.astype(np.int64),
            before_mm=nothing, before_m=nothing,
        )  # fmt: skip
    growth, path, driven, zone, before, before_m = zip(*rows, strict=True)
    return Pairs(
        growth_mm=np.array(growth, float), path_km=np.array(path, float), driven_m=np.array(driven, float),
        zone=np.array(zone, np.int64), before_mm=np.array(before, float), before_m=np.array(before_m, float),
    )  # fmt: skip


def _cases(
    fit: Fit,
    kind: str,
    one: Any,
    ask: _Ask,
    draws: dict[str, Floats],
    from_m: float,
    rng: np.random.Generator,
    rules: Sequence[str],
) -> list[Case]:
    value, side = [], []
    for reading in ask.readings:
        _, step = error_of(fit, reading)
        if reading.wear_mm is not None:
            nothing = reading.wear_mm <= 0.0 and step > 0
            value.append(step / 2.0 if nothing else reading.wear_mm)
            side.append(-1 if nothing else 0)
        else:
            value.append(reading.below_mm if reading.below_mm is not None else reading.above_mm)
            side.append(-1 if reading.below_mm is not None else 1)
    values, sides = np.array(value, float), np.array(side)
    chance = {name: rng if name == OURS else np.random.default_rng(13) for name in draws}
    places = {name: pit(each, values, sides, chance[name]) for name, each in draws.items()}
    scores = {name: crps(each, values) for name, each in draws.items()}
    medians = {name: np.median(each, axis=0) for name, each in draws.items()}
    pairs, base = asked_pairs(ask, len(ZONES) * len(one.units))
    known = known_pairs(one)
    for name in rules:
        centre, sd = forecast(name, known, pairs)
        sd = np.maximum(sd, 0.05)
        simulated = base + centre + sd * rng.standard_normal((_DRAWS, len(base)))
        places[name] = pit(simulated, values, sides, rng)
        scores[name] = crps_normal(base + centre, sd, values)
        medians[name] = base + centre
    return [
        Case(
            inspection_id=reading.inspection_id, position=reading.position, life=life.id, kind=kind, from_m=from_m,
            to_m=reading.driven_m, value_mm=float(values[k]), censored=int(sides[k]),
            pit={name: float(place[k]) for name, place in places.items()},
            crps_mm={name: float(score[k]) for name, score in scores.items()},
            median_mm={name: float(median[k]) for name, median in medians.items()},
        )
        for k, (life, reading) in enumerate(zip(ask.lives, ask.readings, strict=True))
    ]  # fmt: skip


LEAST_SCORED = 60
"""Readings to be scored before a term is spoken of as of no help."""


def worth_of_terms(cases: list[Case]) -> tuple[str, ...]:
    """What each term of the regression did for the forecasts of this drive, in words."""
    out = []
    for term, name in WITHOUT.items():
        both = [case for case in cases if case.censored == 0 and name in case.crps_mm]
        if not both:
            continue
        ours, less = (float(np.mean([case.crps_mm[way] for case in both])) for way in (OURS, name))
        gain = 1.0 - ours / max(less, 1e-9)
        said = "neither way" if abs(gain) < 0.005 else f"{'better' if gain > 0 else 'worse'} by {abs(gain):.1%}"
        words = f"{_TELLING[term]} made these forecasts (CRPS) {said}"
        if gain <= -0.005 and len(both) >= LEAST_SCORED:
            words += f'; leave_out = ["{term}"] under [wheel] in wheel.toml does without'
        out.append(words)
    return tuple(out)


def remarks_on(cases: list[Case]) -> tuple[str, ...]:
    """Words of caution about the score itself."""
    if not cases:
        return ("too few stops with readings to score anything yet",)
    if len(cases) < 60:
        return (
            f"only {len(cases)} readings could be scored; coverage is uncertain by some"
            f" {50.0 / np.sqrt(len(cases)):.0f} points",
        )
    return ()


__all__ = ["OURS", "SENSOR_SD_MM", "Backtest", "Case", "Score", "backtest"]
