"""Learning from a site: every kind of tool, its rates, factors, damage, and what is odd."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.site.records import KINDS, ZONES, Site
from wearplan.wear.evidence.damage import Damage
from wearplan.wear.evidence.gather import Design, design_for
from wearplan.wear.evidence.groups import Groups, groups_of, labelled
from wearplan.wear.evidence.levels import Cut, Trial
from wearplan.wear.evidence.priors import first_belief
from wearplan.wear.evidence.readings import Floats
from wearplan.wear.findings.batches import suspect
from wearplan.wear.findings.compare import batches_found, compare_types
from wearplan.wear.findings.curvature import pace_of, try_curves
from wearplan.wear.findings.damage_seen import damage_of, damage_records, layered_records
from wearplan.wear.findings.harder import stretches
from wearplan.wear.findings.oddities import coarse_steps
from wearplan.wear.regression.algebra import Solver, carried_variance, lift, rates, slopes_of
from wearplan.wear.regression.boundaries import with_boundary_doubt
from wearplan.wear.regression.factors import choose, paths_of, with_factors
from wearplan.wear.regression.ground_effect import GroundEffect, piece_paths, pieces_of, spread
from wearplan.wear.regression.kind import KindFit, PlainKind, fit_kind, path_by_unit, plain_kind

from .quantiles import Quantiles
from .results import BatchFound, DamageRate, Fit, FurtherFactor, LayeredDamage, Rate, TypeComparison, ZoneFactor

if TYPE_CHECKING:
    from wearplan.history import Life

DRAWS = 2000
Progress = Callable[[str, float], None]


class NoGround(ValueError):
    """The site has no ground file, so there is no unit to learn a rate of."""


def learn(
    site: Site,
    *,
    as_of: str | float | date | None = None,
    progress: Progress | None = None,
    previous: Fit | None = None,
    checks: bool = True,
    leave_out: Collection[str] = (),
) -> Fit:
    """Learn what each unit costs each kind of tool.

    Parameters
    ----------
    as_of : inspection id, driven metres or date, optional
        Use only what was known then; see `wearplan.history.as_of`.
    progress : callable, optional
        Called with what is being done and the share done, 0 to 1.
    previous : Fit, optional
        An earlier fit of the same drive to start the search from.
    checks : bool
        False leaves out the search for odd stretches, crews and readings.
    leave_out : collection of str
        Terms (`wearplan.site.records.words.TERMS`) to do without, besides those the wheel's record leaves out.

    Raises
    ------
    NoGround
        If the site has no ground.
    """
    from wearplan import history
    from wearplan.ground import unit_codes

    if as_of is not None:
        site = known_then(site, as_of)
    units = unit_codes(site)
    if not units:
        raise NoGround("no ground file: without units of ground there are no rates")
    say = progress or (lambda what, share: None)
    say("lives and exposure", 0.0)
    rings = history.clean_rings(site)
    exposure = history.measure_exposure(site, rings)
    lives = tuple(history.lives(site, exposure))
    face = history.face_m(site)
    kinds = kinds_on(site)
    order = sorted(kinds, key=lambda kind: -sum(len(life.readings) for life in lives if life.kind == kind))
    work = Work(
        site=site, units=units, lives={kind: [life for life in lives if life.kind == kind] for kind in order},
        rings=rings, exposure=exposure, face_m=face, previous=previous,
        steps={name: found[0] for name, found in coarse_steps(site).items()}, say=say,
        leave_out=frozenset({*leave_out, *site.wheel.leave_out}),
    )  # fmt: skip
    damage = {kind: damage_of(site, work.lives[kind], exposure) for kind in kinds}
    by_kind, ground = work.told_apart(lives) if "types" not in work.leave_out else work.regress({}, {})[:2]
    by_kind = {kind: by_kind[kind] for kind in kinds}
    say("what is odd", 0.85)
    return assemble(site, units, by_kind, damage, lives, exposure, rings, face, ground, checks)


@dataclass(frozen=True, kw_only=True)
class Work:
    """What the regressions of a site are made from."""

    site: Site
    units: tuple[str, ...]
    lives: Mapping[str, Sequence[Life]]
    """By kind, the kind with most readings first."""
    rings: Any
    exposure: Any
    face_m: float
    previous: Fit | None
    steps: Mapping[str, float]
    say: Progress
    leave_out: frozenset[str] = frozenset()

    def told_apart(self, lives: Sequence[Life]) -> tuple[dict[str, KindFit], GroundEffect | None]:
        """Every kind with its types and batches told apart, and once more with the tools that wear apart, if any do."""
        batch_of = labelled(self.site, lives)
        by_kind, ground, plain = self.regress(batch_of, {})
        tried = {kind: suspect(by_kind[kind], self.lives[kind], self.site.inspections) for kind in self.lives}
        found = {kind: one for kind, one in tried.items() if one is not None}
        if not found:
            return by_kind, ground
        self.say("tools that wear apart", 0.8)
        for one in found.values():
            batch_of = one.members() | batch_of
        known = {kind: plain[kind] for kind in self.lives if kind not in found}
        by_kind, ground, _ = self.regress(batch_of, known)
        named = {kind: one.mapped(partial(replace, suspicion=found.get(kind))) for kind, one in by_kind.items()}
        return named, ground

    def regress(
        self, batch_of: Mapping[str, str], known: Mapping[str, PlainKind]
    ) -> tuple[dict[str, KindFit], GroundEffect | None, dict[str, PlainKind]]:
        """Every kind with the effect of the ground they share; ``known`` kinds need no plain fit any more."""
        plain = dict(known)
        for number, (kind, lives) in enumerate(self.lives.items()):
            if kind not in plain:
                self.say(f"wear of {kind}s", 0.1 + 0.4 * number / len(self.lives))
                plain[kind] = learn_plain(
                    self.site, kind, lives, self.units, self.previous, self.steps, self.rings, self.exposure,
                    None if "types" in self.leave_out else batch_of,
                )  # fmt: skip
                if "curves" not in self.leave_out:
                    plain[kind] = bent(self.site, plain[kind])
        self.say("ground from stretch to stretch", 0.5)
        ground = None if "stretches" in self.leave_out else ground_effect(self.site, self.exposure, self.face_m, plain)
        by_kind: dict[str, KindFit] = {}
        for kind in self.lives:
            fitted = partial(self._fitted, borrowed=borrow(self.units, by_kind), ground=ground)
            one = fitted(plain[kind])
            by_kind[kind] = one = replace(one, others=tuple(fitted(form) for form in plain[kind].others))
            if ground is not None:
                part = one.ground_part
                ground = ground.known(one.posterior.mode[part], one.posterior.covariance[part, part])
        told = partial(told_of_ground, ground=ground)
        return {kind: one.mapped(told) for kind, one in by_kind.items()}, ground, plain

    def _fitted(self, plain: PlainKind, *, borrowed: Floats | None, ground: GroundEffect | None) -> KindFit:
        one = fit_kind(plain, self.site, self.exposure, borrowed=borrowed, ground=ground)
        return with_boundary_doubt(self.site, self.exposure, one, self.face_m)


def bent(site: Site, plain: PlainKind) -> PlainKind:
    """The regression under the likeliest curve of wear by its level, the others beside it, where curves earn it."""
    found = try_curves(site, plain.gathered.sources, plain.rough)
    forms = [
        replace(plain, rough=form.rough, gathered=replace(plain.gathered, readings=form.rough.readings),
                curve=form.curve, weight=form.weight, curvature=found)
        for form in found.forms
    ] or [replace(plain, curvature=found)]  # fmt: skip
    return replace(forms[0], others=tuple(forms[1:]))


LEAST_PIECES = 4
"""Fewer pieces of ground than this tell nothing of how the ground differs from one to the next."""


def ground_effect(site: Site, exposure: Any, face_m: float, plain: Mapping[str, PlainKind]) -> GroundEffect | None:
    """The effect's prior, its sd learnt from all kinds together; None where the drive has too few pieces."""
    cuts = pieces_of(site, face_m)
    if len(cuts) - 1 < LEAST_PIECES or not any(len(one.gathered.readings) for one in plain.values()):
        return None
    pull, gram = np.zeros(len(cuts) - 1), np.zeros((len(cuts) - 1, len(cuts) - 1))
    for one in plain.values():
        if len(one.gathered.readings):
            more_pull, more_gram = piece_scores(site, exposure, one, cuts)
            pull, gram = pull + more_pull, gram + more_gram
    return spread(pull, gram, cuts)


def piece_scores(site: Site, exposure: Any, one: PlainKind, cuts_m: Floats) -> tuple[Floats, Floats]:
    """``D' S^-1 r`` (K,) and ``D' S^-1 D`` (K, K) cleared of the rates, about a fit without the effect."""
    readings, found = one.gathered.readings, one.rough
    lives = [life for life, _ in one.gathered.sources]
    until = [reading.driven_m for _, reading in one.gathered.sources]
    carried = carried_variance(readings, found.at_mode.expected_mm)
    solver = Solver(readings, found.mode, found.sites.variance, carried)
    pieces = len(cuts_m) - 1
    paths = piece_paths(site, lives, exposure, until, cuts_m, one.cut)
    rate = rates(readings, solver.coefficients)
    raised = np.atleast_1d(lift(readings, solver.coefficients))[:, None]
    moved = np.asarray(paths @ np.kron(rate[:, None], np.eye(pieces))) * raised
    slopes = slopes_of(readings, solver.coefficients)
    solved = solver.solve(np.c_[moved, slopes])
    cross = moved.T @ solved[:, pieces:]
    inner = slopes.T @ solved[:, pieces:] + np.linalg.inv(found.prior.covariance)
    gram = moved.T @ solved[:, :pieces] - cross @ np.linalg.solve(inner, cross.T)
    return moved.T @ found.at_mode.alpha, 0.5 * (gram + gram.T)


def told_of_ground(one: KindFit, ground: GroundEffect | None) -> KindFit:
    """A kind's fit once all kinds have said what they know of the pieces."""
    if ground is None:
        return one
    return replace(one, posterior=one.posterior.with_marginal(one.ground_part, ground.mean, ground.covariance))


def known_then(site: Site, at: str | float | date) -> Site:
    """The site as known at an inspection, at so many driven metres, or on a date."""
    from wearplan import history

    if not isinstance(at, date):
        return history.as_of(site, at)
    past = [each for each in history.in_order(site.inspections) if each.started_at.date() <= at]
    return history.as_of(site, past[-1].id if past else 0.0, at)


def kinds_on(site: Site) -> tuple[str, ...]:
    """Kinds of tools the wheel carries or may carry."""
    codes = {position.tool_type for position in site.wheel.positions}
    codes |= {change.tool_type for change in site.wheel.layout_changes if change.tool_type}
    carried = {tool_type.kind for tool_type in site.wheel.tool_types if tool_type.code in codes}
    return tuple(kind for kind in KINDS if kind in carried)


def learn_plain(
    site: Site, kind: str, lives: Sequence[Life], units: tuple[str, ...],
    previous: Fit | None, steps: Mapping[str, float], rings: Any, exposure: Any,
    batch_of: Mapping[str, str] | None = None,
) -> PlainKind:  # fmt: skip
    """The regression of one kind as far as it goes without the effect of the ground."""
    tool_type = next(each for each in site.wheel.tool_types if each.kind == kind)
    kind_of = {each.code: each.kind for each in site.wheel.tool_types}
    zones = [position.zone for position in site.wheel.positions if kind_of.get(position.tool_type) == kind]
    design = design_for(kind, zones, units)
    belief = first_belief(site, units, kind, tool_type.diameter_mm, tool_type.wear_limit_mm)
    cut: Cut | None = None
    trials: list[Trial] = []
    if site.wheel.factors:
        cut, trials = choose(site, lives, design, belief, rings, exposure, site.wheel.factors, steps)
    design = with_factors(design, cut)
    paths = paths_of(site, lives, exposure, cut) if cut is not None else None
    groups = Groups() if batch_of is None else groups_of(site, kind, lives, batch_of)
    return plain_kind(
        kind, lives, design, belief, site.wheel, start=_start(previous, kind, design, groups), paths=paths, steps=steps,
        cut=cut, trials=tuple(trials), groups=groups,
    )  # fmt: skip


def _start(previous: Fit | None, kind: str, design: Design, groups: Groups) -> Floats | None:
    """The mode of an earlier fit with the same coefficients, the effect of pieces left out."""
    before = previous.by_kind.get(kind) if previous is not None else None
    if before is None or before.design.labels != design.labels or before.groups.names != groups.names:
        return None
    return np.delete(before.posterior.mode, before.ground_part)


def borrow(units: tuple[str, ...], others: dict[str, KindFit]) -> Floats | None:
    """Log rates (U,) of the kind fitted first that has cut the most units well; NaN elsewhere."""
    best = max(others.values(), key=lambda each: sum(each.well_cut), default=None)
    if best is None or not any(best.well_cut):
        return None
    return np.where(best.well_cut, best.posterior.mode[: len(units)], np.nan)


def assemble(
    site: Site, units: tuple[str, ...], by_kind: dict[str, KindFit], damage: dict[str, Damage], lives: tuple[Life, ...],
    exposure: Any, rings: Any, face_m: float, ground: GroundEffect | None, checks: bool = True,
) -> Fit:  # fmt: skip
    """The records people read, from the fits."""
    from wearplan.wear.findings.checks import find_oddities

    penetration = reference_penetration(site, rings)
    radius = round(site.wheel.bore_diameter_m / 3.0, 1) * 1000.0
    volume = np.asarray(exposure.volume_m3(0.0, face_m), float) if face_m > 0 else np.zeros(len(units))
    rates: list[Rate] = []
    zones: list[ZoneFactor] = []
    damages: list[DamageRate] = []
    layered: list[LayeredDamage] = []
    factors: list[FurtherFactor] = []
    types: list[TypeComparison] = []
    batches: list[BatchFound] = []
    rng = np.random.default_rng(2024)
    for kind, one in by_kind.items():
        parameters, _ = one.draw(DRAWS, rng)
        rates += rates_of(site, one, parameters, volume, radius, penetration, face_m)
        for zone in ZONES:
            if zone == one.design.reference:
                ones = np.ones(3)
                zones.append(ZoneFactor(kind=kind, zone=zone, factor=Quantiles.of(ones), basis="reference"))
            elif zone in one.design.zones:
                log = one.zone_log_factors(parameters)[zone]
                rows = any(source.zone == zone for _, source in one.gathered.sources)
                zones.append(
                    ZoneFactor(
                        kind=kind,
                        zone=zone,
                        factor=Quantiles.of(np.exp(log)),
                        basis="readings" if rows else "from memory",
                    )
                )
        factors += factors_of(one, parameters)
        mine = [life for life in lives if life.kind == kind]
        types += compare_types(site, one, parameters, mine)
        batches += batches_found(one, parameters, mine)
        zones_here = tuple(z for z in ZONES if z == one.design.reference or z in one.design.zones)
        drawn = damage[kind].draw(DRAWS, rng)
        damages += damage_records(kind, damage[kind], units, zones_here, drawn)
        layered += layered_records(kind, damage[kind], units, zones_here, drawn)
    found = stretches(site, ground)
    paces = tuple(
        pace for one in by_kind.values() if (pace := pace_of(one, DRAWS, np.random.default_rng(2025))) is not None
    )
    fit = Fit(
        site=site, units=units, kinds=tuple(by_kind), rates=tuple(rates), zones=tuple(zones), damage=tuple(damages),
        layered_damage=tuple(layered), stretches=found, types=tuple(types), batches=tuple(batches),
        flagged=(), remarks=(), factors=tuple(factors), pace=paces,
        reference_radius_mm=radius, reference_penetration_mm=penetration, lives=lives,
        by_kind=by_kind, damage_by_kind=damage, exposure=exposure, face_m=face_m, ground=ground,
    )  # fmt: skip
    if not checks:
        return fit
    remarks, flags = find_oddities(fit)
    return replace(fit, remarks=remarks, flagged=flags)


def reference_penetration(site: Site, rings: Any) -> float:
    """Mean penetration of the drive so far (advance over turns), else of the sections, to half a millimetre."""
    turns = float(np.sum(rings.turns_boring)) if len(rings.start_m) else 0.0
    if turns > 0:
        value = 1000.0 * float(rings.end_m[-1] - rings.start_m[0]) / turns
    else:
        ground = site.ground()
        stated = [s.penetration_mm_per_rev for s in ground.sections if s.penetration_mm_per_rev] if ground else []
        value = float(np.mean(stated)) if stated else 12.0
    return max(round(2.0 * value) / 2.0, 0.5)


def rates_of(
    site: Site, one: KindFit, parameters: Floats, volume: Floats, radius_mm: float, penetration_mm: float, face_m: float
) -> list[Rate]:
    """One record a unit."""
    from wearplan.wheel import kinematics, layout_at

    layout = layout_at(site.wheel, face_m)
    area = float(kinematics.face_area_m2(bore_diameter_m=site.wheel.bore_diameter_m))

    def per_m(radius: float) -> float:
        turns = 1000.0 / penetration_mm
        path = kinematics.path_m(turns=turns, track_radius_mm=radius, penetration_mm=penetration_mm)
        return float(path) / 1000.0

    log_rates = one.log_rates(parameters)
    factors = one.zone_log_factors(parameters)
    # tools consumed by a metre of drive wholly in the unit, abrasion alone, each used to its limit
    consumed = np.zeros(len(parameters))
    for index, position in enumerate(layout.positions):
        if layout.kinds[index] == one.kind:
            factor = np.exp(factors[position.zone]) if position.zone in factors else 1.0
            consumed = consumed + factor * per_m(position.track_radius_mm) / float(layout.limit_mm[index])
    readings = one.gathered.readings
    by_unit = path_by_unit(readings, len(one.units))
    last = np.r_[readings.life[1:] != readings.life[:-1], True] if len(readings) else np.zeros(0, bool)
    out = []
    for u, unit in enumerate(one.units):
        rate = np.exp(log_rates[:, u])
        tools = rate * consumed / area * 1000.0
        out.append(
            Rate(
                kind=one.kind, unit=unit, mm_per_km=Quantiles.of(rate),
                mm_per_1000_m3=Quantiles.of(rate * per_m(radius_mm) / area * 1000.0),
                m3_per_tool=Quantiles.of(1000.0 / tools) if consumed.any() else Quantiles.of([]),
                tools_per_1000_m3=Quantiles.of(tools), path_km=float(by_unit[last, u].sum()),
                volume_m3=float(volume[u]),
                readings=int((by_unit[:, u] > 0).sum()), basis=one.basis[u],
                confounded_with=tuple(b if a == unit else a for a, b in one.confounded if unit in (a, b)),
            )
        )  # fmt: skip
    return out


def factors_of(one: KindFit, parameters: Floats) -> list[FurtherFactor]:
    """What came of the further factors the site named."""
    out = []
    offset = len(one.units) + len(one.design.zones)
    for trial in one.trials:
        if trial.entered:
            for name in trial.names:
                column = offset + one.design.factors.index(name)
                out.append(
                    FurtherFactor(
                        kind=one.kind, column=name, entered=True, gain_per_reading=trial.gain, step=trial.step,
                        coefficient=Quantiles.of(parameters[:, column]),
                    )
                )  # fmt: skip
        else:
            out.append(
                FurtherFactor(
                    kind=one.kind, column=trial.column, entered=False, gain_per_reading=trial.gain, coefficient=None,
                    step=trial.step,
                )
            )  # fmt: skip
    return out


__all__ = ["NoGround", "learn"]
