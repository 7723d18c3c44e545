"""What is odd: readings, crews, tools and stretches that depart from the model."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wearplan.wear.evidence.groups import folded
from wearplan.wear.results import Flag

from . import compare, curvature, harder
from .oddities import coarse_steps, crew_words, exchanged, odd_inspections, odd_lives, shifted
from .stretches import departures, words

if TYPE_CHECKING:
    from wearplan.wear.evidence.readings import Floats
    from wearplan.wear.regression.kind import KindFit
    from wearplan.wear.results import Fit


def find_oddities(fit: Fit) -> tuple[tuple[str, ...], tuple[Flag, ...]]:
    """Remarks in words, and the readings that were given less weight."""
    remarks: list[str] = []
    together: dict[tuple[str, str], list[str]] = {}
    for kind, one in fit.by_kind.items():
        for pair in one.confounded:
            together.setdefault(pair, []).append(f"{kind}s")
    for (one_unit, other), kinds in together.items():
        remarks.append(
            f"{one_unit} and {other} were nearly always met together by {', '.join(kinds)}; their rates are hardly told"
            " apart, the bands are wide"
        )
    unread = [f"{kind}s" for kind, one in fit.by_kind.items() if not len(one.gathered.readings)]
    if unread:
        remarks.append(
            f"no sound reading of {', '.join(unread)} yet: their rates rest on expectation, and no stop is certain"
        )
    for kind, one in fit.by_kind.items():
        if len(one.gathered.readings) and (one.gathered.readings.censored != 0).all():
            remarks.append(
                f"{kind}s: every reading is a bound (nothing to see, or past measuring); rates lean on expectation"
            )
        elif len(one.gathered.readings) and (share := float((one.gathered.readings.censored != 0).mean())) > 0.5:
            remarks.append(
                f"{kind}s: {share:.0%} of the readings are bounds only; how far a tool past its template has gone"
                " beyond it is told by its path and its fellows alone"
            )
    if fit.site.wheel.leave_out:
        remarks.append(
            f"left out, as wheel.toml asks (leave_out): {', '.join(fit.site.wheel.leave_out)}"
        )
    remarks += folded(fit.site)
    if any(len(one.gathered.readings) for one in fit.by_kind.values()):
        remarks += crew_words(fit.site, coarse_steps(fit.site))
        remarks += odd_inspections(fit)
        remarks += curvature.words(fit.pace)
        remarks += compare.words(fit.types, fit.batches)
        remarks += harder.words(fit.stretches, fit.ground)
        remarks += words(fit, departures(fit))
        remarks += odd_lives(fit)
    swapped = exchanged(fit)
    for inspection, here, there in swapped:
        remarks.append(
            f"inspection {inspection}: the readings of {here} and {there} fit far better the other way round"
        )
    for inspection, step, count in shifted(fit):
        side = "before" if step > 0 else "after"
        remarks.append(
            f"inspection {inspection}: its readings seem shifted by one place: {count} of them fit far better the place"
            f" {side}; look at the sheet"
        )
    return tuple(remarks), flags_of(fit, swapped)


def flags_of(fit: Fit, swapped: list[tuple[str, int, int]]) -> tuple[Flag, ...]:
    """Every reading of less than full weight, with the reason."""
    partner = {(inspection, a): b for inspection, a, b in swapped} | {
        (inspection, b): a for inspection, a, b in swapped
    }
    flags = []
    for one in fit.by_kind.values():
        readings, odd = one.gathered.readings, odd_at_full_weight(one)
        for row in np.flatnonzero(readings.weight < 1.0):
            _, source = one.gathered.sources[row]
            what = source.flagged or flag_words(float(odd[row]), int(readings.censored[row]))
            other = partner.get((source.inspection_id or "", source.position))
            if other is not None:
                what += f"; fits place {other}"
            flags.append(Flag(inspection_id=source.inspection_id or source.source, position=source.position, what=what))
    return tuple(flags)


def odd_at_full_weight(one: KindFit) -> Floats:
    """How far each reading (N,) lies off in standard deviations, were it given the weight of a sound one."""
    readings, posterior = one.gathered.readings, one.posterior
    if not len(readings):
        return np.zeros(0)
    total = 1.0 / posterior.at_mode.inverse_diagonal
    noise = (posterior.scales["scale"] ** 2 * readings.error_var + readings.fixed_var) / readings.weight
    full = np.maximum(total - noise * (1.0 - readings.weight), 1e-6)
    return np.asarray(posterior.odd * np.sqrt(total / full))


def flag_words(odd: float, censored: int) -> str:
    """Why a reading got less weight, in words."""
    if censored:
        return "its bound contradicts all other readings; less weight"
    side = "higher" if odd > 0 else "lower"
    return f"{abs(odd):.1f} standard deviations {side} than all other readings say; less weight"
