"""Odd crews, misplaced readings, odd tools."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from wearplan.site.records import Site
from wearplan.wear.regression.states import rows_of, states

if TYPE_CHECKING:
    from wearplan.wear.evidence.readings import Floats
    from wearplan.wear.regression.kind import KindFit
    from wearplan.wear.results import Fit

COARSE_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


def coarse_steps(site: Site) -> dict[str, tuple[float, int, int]]:
    """Inspections whose values all sit on a coarser step than the methods named allow.

    Returns
    -------
    dict
        Inspection id to (step in mm, values on it, values).
    """
    from scipy.special import bdtrc

    from wearplan.history import gauging_of

    found: dict[str, tuple[float, int, int]] = {}
    for inspection in site.inspections:
        values, steps = [], []
        for measurement in inspection.measurements:
            value = measurement.wear_mm
            if value is not None and np.isfinite(value) and measurement.damaged is None:
                values.append(value)
                steps.append(gauging_of(site.wheel, measurement.method).step_mm)
        if len(values) < 6:
            continue
        stated = max(float(np.median(steps)), 0.1)
        read = np.array(values)
        for step in sorted(COARSE_STEPS, reverse=True):
            if step < 1.9 * stated:
                break
            on = np.abs(read / step - np.round(read / step)) * step < 0.02
            if on.mean() < 0.9:
                continue
            # zeros sit on every step and tell nothing
            telling = read > 0.25 * step
            chance = min(stated / step, 0.5)
            if telling.sum() >= 5 and bdtrc(on[telling].sum() - 1, telling.sum(), chance) < 1e-4:
                found[inspection.id] = (step, int(on.sum()), len(values))
                break
    return found


def crew_words(site: Site, coarse: dict[str, tuple[float, int, int]]) -> list[str]:
    """Remarks on coarse readings, by crew where one name stands behind all."""
    by_crew: dict[tuple[str, float], list[str]] = defaultdict(list)
    crews = {inspection.id: inspection.measured_by for inspection in site.inspections}
    for inspection, (step, _, _) in coarse.items():
        by_crew[crews.get(inspection) or "", step].append(inspection)
    out = []
    for (crew, step), inspections in by_crew.items():
        who = f" measured by {crew}" if crew else ""
        names = ", ".join(inspections[:4]) + (f" and {len(inspections) - 4} more" if len(inspections) > 4 else "")
        out.append(
            f"inspection {names}{who}: nearly all readings are multiples of {step:g} mm, coarser than the method named;"
            f" they are taken as rounded to {step:g} mm"
        )
    return out


def odd_inspections(fit: Fit, *, limit: float = 3.5, least_mm: float = 0.7) -> list[str]:
    """Remarks on inspections whose readings lie off as a whole."""
    total: dict[str, list[tuple[float, float]]] = defaultdict(list)
    for one in fit.by_kind.values():
        posterior = one.posterior
        spread = (posterior.at_mode.shared_root**2).sum(axis=1)
        for k, name in enumerate(one.gathered.inspections):
            total[name].append((float(posterior.at_mode.shared_mean[k]), float(spread[k])))
    level: dict[str, tuple[float, float]] = {}
    for name, parts in total.items():
        weight = np.array([1.0 / (var + 1e-6) for _, var in parts])
        level[name] = float(np.average([mean for mean, _ in parts], weights=weight)), 1.0 / float(weight.sum())
    crews = {inspection.id: inspection.measured_by for inspection in fit.site.inspections}
    out = []
    for name, (mean, variance) in level.items():
        # an inspection far off widens what is usual: it is held against the others
        others = [other**2 + var for each, (other, var) in level.items() if each != name]
        usual = float(np.sqrt(np.mean(others))) if others else 1.0
        if abs(mean) > max(limit * usual, least_mm) and abs(mean) > 3.0 * np.sqrt(variance):
            who = f" (measured by {crews[name]})" if crews.get(name) else ""
            out.append(
                f"inspection {name}{who}: its readings lie {abs(mean):.1f} mm {'higher' if mean > 0 else 'lower'}"
                " on the whole than all others say"
            )
    return out


def exchanged(fit: Fit, *, gain: float = 14.0) -> list[tuple[str, int, int]]:
    """Pairs of neighbouring places whose readings at one inspection fit far better the other way round.

    Returns
    -------
    list
        (inspection id, position, position); sorted by inspection.
    """
    pairs = _neighbour_pairs(fit.site)
    out = []
    for one in fit.by_kind.values():
        readings = one.gathered.readings
        said, sound = _said(one)
        here: dict[tuple[str, int], int] = {}
        for row, (_, source) in enumerate(one.gathered.sources):
            if readings.censored[row] == 0 and source.inspection_id:
                here[source.inspection_id, source.position] = row
        for (inspection, position), a in here.items():
            for other in pairs.get(position, ()):
                b = here.get((inspection, other))
                if b is None or other < position:
                    continue
                as_is = ((readings.wear_mm[a] - said[a]) / sound[a]) ** 2 + (
                    (readings.wear_mm[b] - said[b]) / sound[b]
                ) ** 2
                other_way = ((readings.wear_mm[b] - said[a]) / sound[a]) ** 2 + (
                    (readings.wear_mm[a] - said[b]) / sound[b]
                ) ** 2
                if as_is - other_way > gain and other_way < 10.0:
                    out.append((inspection, position, other))
    return sorted(out)


def shifted(fit: Fit, *, gain: float = 25.0, least: int = 8) -> list[tuple[str, int, int]]:
    """Inspections whose values fit far better one place on: ``(inspection id, +1 or -1, values compared)``.

    +1: what stands at a place was read at the one before it, in the order of the places' numbers.
    """
    out = []
    rows: dict[str, dict[int, tuple[float, float, float]]] = defaultdict(dict)
    for one in fit.by_kind.values():
        said, sound = _said(one)
        for row, (_, source) in enumerate(one.gathered.sources):
            if one.gathered.readings.censored[row] == 0 and source.inspection_id:
                value = float(one.gathered.readings.wear_mm[row])
                rows[source.inspection_id][source.position] = value, float(said[row]), float(sound[row])
    for inspection, here in rows.items():
        for step in (1, -1):
            pairs = [(here[place], here[place - step]) for place in here if place - step in here]
            if len(pairs) < least:
                continue
            as_is = sum(min(((mine[0] - mine[1]) / mine[2]) ** 2, 25.0) for mine, _ in pairs)
            # the value written at a place against what the place before it should have shown
            moved = sum(min(((mine[0] - other[1]) / other[2]) ** 2, 25.0) for mine, other in pairs)
            if as_is - moved > gain and moved < 2.0 * len(pairs):
                out.append((inspection, step, len(pairs)))
    return sorted(out)


def _said(one: KindFit) -> tuple[Floats, Floats]:
    """What all other readings say of each (N,), and the spread (N,) about it for a reading of full weight."""
    readings, posterior = one.gathered.readings, one.posterior
    if not len(readings):
        return np.zeros(0), np.ones(0)
    sigma = 1.0 / np.sqrt(posterior.at_mode.inverse_diagonal)
    noise = (posterior.scales["scale"] ** 2 * readings.error_var + readings.fixed_var) / readings.weight
    spread = np.sqrt(np.maximum(sigma**2 - noise + noise * readings.weight, 1e-4))
    return readings.wear_mm - posterior.odd * sigma, spread


def _neighbour_pairs(site: Site) -> dict[int, set[int]]:
    """Next numbers and next tracks of the same kind."""
    from wearplan.wheel import layout_at, neighbours

    out: dict[int, set[int]] = defaultdict(set)
    numbers = [position.number for position in site.wheel.positions]
    links: Sequence[tuple[int, int]] = [
        *pairwise(numbers),
        *neighbours(layout_at(site.wheel, 0.0)),
    ]
    for a, b in links:
        out[a].add(b)
        out[b].add(a)
    return out


def odd_lives(fit: Fit, *, limit: float = 3.3) -> list[str]:
    """Remarks on tools in place that wear far faster or slower than their fellows."""
    out = []
    for one in fit.by_kind.values():
        lives = [life for life, _ in one.gathered.sources if life.open]
        lives = list({life.id: life for life in lives}.values())
        if not lives:
            continue
        posterior = one.posterior
        index = np.array([one.gathered.life_index[life.id] for life in lives])
        state = states(
            posterior.readings, rows_of(posterior.readings, index), posterior.mode[None],
            posterior.at_mode.shared_mean[None], posterior,
        )  # fmt: skip
        odd = (state.factor[0] - 1.0) / max(posterior.scales["tau"], 1e-3)
        for k in np.flatnonzero(np.abs(odd) > limit):
            out.append(
                f"the {one.kind} at {lives[k].position} wears {max(state.factor[0, k], 0.05):.2f} times as fast as its"
                f" fellows ({abs(odd[k]):.1f} standard deviations)"
            )
    return out
