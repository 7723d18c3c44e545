"""A bad batch that no label tells of: among the tools fitted since some stop, a part that wears by a factor of its own.

Each life's factor is known from its own readings as f with variance v. All tools are alike,
``f ~ N(c, (tau c)² + v)``, or those fitted since a stop are a mixture, ``(1 - p) N(c, ...) + p N(k c, ...)``; the
gain in log likelihood at the best of each says whether a batch is there (a two-component mixture; McLachlan & Peel
2000, *Finite Mixture Models*). The rarer side is the batch.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from wearplan.wear.evidence.readings import Floats, Ints
from wearplan.wear.regression.states import rows_of, states
from wearplan.wear.regression.suspicion import Suspicion

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.site.records import Inspection
    from wearplan.wear.regression.kind import KindFit

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
    stops = [None, *(each for each in inspections if each.fittings)]
    since = np.array([-np.inf if stop is None else stop.driven_m - 1e-3 for stop in stops])
    # lives by where they were fitted: those since a stop are the last so many
    order = np.argsort(fitted, kind="stable")
    first = np.searchsorted(fitted[order], since)
    kept = [k for k in range(len(stops)) if len(fitted) - first[k] >= LEAST_TOOLS]
    if not kept:
        return None
    at, gain, share, times, chance = mixture(factor[order], variance[order], first[kept])
    back = np.empty(len(order))
    back[order] = chance
    return stops[kept[at]], (gain, share, times, back)


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


def mixture(factor: Floats, variance: Floats, first: Ints) -> tuple[int, float, float, float, Floats]:
    """Two sorts among the lives from one of the places ``first`` (S,) on against one sort throughout.

    Returns
    -------
    tuple
        Index into ``first`` of the likeliest place, gain in log likelihood there, the rarer sort's share and factor,
        and each life's chance (L,) of being of it.
    """
    spread, centre = (each.ravel() for each in np.meshgrid(SPREADS, CENTRES, indexing="ij"))
    believed = -0.5 * (np.log(spread / 0.14) / 0.4) ** 2 - 0.5 * ((centre - 1.0) / 0.15) ** 2
    plain = _log_normal(factor, centre, spread, variance)
    single = plain.sum(axis=1) + believed
    best, found = -np.inf, (0, 0.0, 1.0, np.zeros(len(factor)))
    for times in TIMES:
        other = _log_normal(factor, times * centre, spread, variance)
        for share in SHARES:
            both = np.logaddexp(np.log1p(-share) + plain, np.log(share) + other)
            # what the lives from each one on gain, summed from the last backwards
            gained = np.cumsum((both - plain)[:, ::-1], axis=1)[:, ::-1]
            total = single[:, None] + gained[:, first]
            at, place = np.unravel_index(int(np.argmax(total)), total.shape)
            if total[at, place] > best:
                best = float(total[at, place])
                chance = np.where(
                    np.arange(len(factor)) >= first[place], np.exp(np.log(share) + other[at] - both[at]), 0.0
                )
                found = int(place), float(share), float(times), chance
    return found[0], best - float(single.max()), *found[1:]


def _log_normal(factor: Floats, centre: Floats, spread: Floats, variance: Floats) -> Floats:
    total = (spread * centre)[:, None] ** 2 + variance
    return np.asarray(-0.5 * ((factor - centre[:, None]) ** 2 / total + np.log(2.0 * np.pi * total)))
