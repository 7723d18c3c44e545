"""A bad batch that no label tells of: among the tools fitted since some stop, a part that wears by a factor of its own.

Each life's factor is known from its own readings as f with variance v. All tools are alike,
``f ~ N(c, (tau c)² + v)``, or those fitted since a stop are a mixture, ``(1 - p) N(c, ...) + p N(k c, ...)``; the
gain in log likelihood at the best of each says whether a batch is there (a two-component mixture; McLachlan & Peel
2000, *Finite Mixture Models*). The rarer side is the batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from .readings import Floats
from .states import rows_of, states
from .suspicion import Suspicion

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.site.records import Inspection

    from .kind import KindFit

LEAST_GAIN = 6.0
"""False alarms: none on the seeds for trying out; see the study of worlds for the committed ones."""
LEAST_TOOLS = 6
SPREADS = np.array([0.08, 0.12, 0.18, 0.27])
CENTRES = np.array([0.8, 0.9, 1.0, 1.1, 1.2])
TIMES = np.array([0.45, 0.55, 0.67, 1.5, 1.75, 2.0, 2.3, 2.7])
SHARES = np.array([0.1, 0.2, 0.33, 0.5])


def suspect(one: KindFit, lives: Sequence[Life], inspections: Sequence[Inspection]) -> Suspicion | None:
    """The likeliest unlabelled batch of a kind; None where all tools may well be alike."""
    read = [life for life in lives if life.id in one.gathered.life_index]
    if len(read) < LEAST_TOOLS:
        return None
    factor, variance = own_factors(one, read)
    telling = [life for life, doubt in zip(read, variance, strict=True) if doubt < 0.25]
    rows = np.flatnonzero(variance < 0.25)
    found = _likeliest(telling, factor[rows], variance[rows], inspections)
    if found is None or found[1][0] < LEAST_GAIN or found[1][3].max() <= 0.5:
        return None
    stop, (gain, share, times, chance) = found
    since = 0.0 if stop is None else float(stop.driven_m)
    by_life = {life.id: float(each) for life, each in zip(telling, chance, strict=True) if each > 0.0}
    types = tuple(sorted({life.tool_type for life in telling if by_life.get(life.id, 0.0) > 0.5}))
    known = {life.id for life in telling}
    unsure = frozenset(
        life.id for life in lives if life.id not in known and life.from_m >= since - 1e-3 and life.tool_type in types
    )
    by_life |= dict.fromkeys(unsure, share)
    return Suspicion(
        since_m=since, since_id="the start" if stop is None else stop.id, share=share, times=times, gain=gain,
        chance=by_life, types=types, unsure=unsure,
    )  # fmt: skip


def _likeliest(
    lives: Sequence[Life], factor: Floats, variance: Floats, inspections: Sequence[Inspection]
) -> tuple[Inspection | None, tuple[float, float, float, Floats]] | None:
    """The stop (None: the start) since which a mixture gains most, and the mixture."""
    fitted = np.array([life.from_m for life in lives])
    best = None
    for stop in (None, *(each for each in inspections if each.fittings)):
        after = fitted >= (0.0 if stop is None else stop.driven_m - 1e-3)
        if after.sum() < LEAST_TOOLS:
            continue
        found = mixture(factor, variance, after)
        if best is None or found[0] > best[1][0]:
            best = stop, found
    return best


def own_factors(one: KindFit, lives: Sequence[Life]) -> tuple[Floats, Floats]:
    """What each life's own readings alone say of its factor: value (L,) and variance (L,)."""
    posterior = one.posterior
    index = np.array([one.gathered.life_index[life.id] for life in lives], np.int64)
    state = states(
        posterior.readings, rows_of(posterior.readings, index), posterior.mode[None],
        posterior.at_mode.shared_mean[None], posterior,
    )  # fmt: skip
    prior = posterior.scales["tau"] ** -2.0
    told = np.maximum(1.0 / state.factor_var[0] - prior, 1e-3)
    return (state.factor[0] / state.factor_var[0] - prior) / told, 1.0 / told


def mixture(factor: Floats, variance: Floats, after: Any) -> tuple[float, float, float, Floats]:
    """Gain in log likelihood of two sorts among the lives ``after`` a stop over one sort throughout, the rarer's share
    and its factor, and each one's chance (L,)."""
    spread, centre = (each.ravel() for each in np.meshgrid(SPREADS, CENTRES, indexing="ij"))
    believed = -0.5 * (np.log(spread / 0.14) / 0.4) ** 2 - 0.5 * ((centre - 1.0) / 0.15) ** 2
    plain = _log_normal(factor, centre, spread, variance)
    single = float((plain.sum(axis=1) + believed).max())
    best = -np.inf, 0.0, 1.0, np.zeros(len(factor))
    for times in TIMES:
        other = _log_normal(factor, times * centre, spread, variance)
        for share in SHARES:
            both = np.where(after, np.logaddexp(np.log1p(-share) + plain, np.log(share) + other), plain)
            total = both.sum(axis=1) + believed
            at = int(np.argmax(total))
            if total[at] > best[0]:
                chance = np.where(after, np.exp(np.log(share) + other[at] - both[at]), 0.0)
                best = float(total[at]), float(share), float(times), chance
    return best[0] - single, best[1], best[2], best[3]


def _log_normal(factor: Floats, centre: Floats, spread: Floats, variance: Floats) -> Floats:
    total = (spread * centre)[:, None] ** 2 + variance
    return np.asarray(-0.5 * ((factor - centre[:, None]) ** 2 / total + np.log(2.0 * np.pi * total)))
