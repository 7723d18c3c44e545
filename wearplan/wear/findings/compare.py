"""Types and batches compared: how fast one wears against another, what a metre with it costs, and how to find out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from wearplan.wear.evidence.groups import spellings
from wearplan.wear.evidence.readings import Floats
from wearplan.wear.quantiles import Quantiles
from wearplan.wear.results import BatchFound, TypeComparison

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.site.records import Site, ToolType
    from wearplan.wear.regression.kind import KindFit

LEAST_GAIN = 3.0
"""Log evidence (Bayes factor against no difference) from which a difference is spoken of."""
WITHIN = 0.10
"""How well one would like to know a ratio."""


def evidence(value: float, sd: float, prior_sd: float) -> float:
    """Log Bayes factor of a coefficient against 0 under a Gaussian prior (Savage and Dickey; Dickey 1971)."""
    return float(0.5 * (value / sd) ** 2 + np.log(sd / prior_sd))


def compare_types(site: Site, one: KindFit, parameters: Floats, lives: Sequence[Life]) -> tuple[TypeComparison, ...]:
    """Every type of a kind that carries readings against the one with most."""
    groups = one.groups
    if not groups.reference:
        return ()
    read = [life for life in lives if life.id in one.gathered.life_index]
    count = {code: sum(life.tool_type == code for life in read) for code in {life.tool_type for life in read}}
    base = site.wheel.tool_type(groups.reference)
    out = []
    for k, code in enumerate(groups.types):
        column = one.group_part.start + k
        log = parameters[:, column]
        sd = float(one.posterior.covariance[column, column]) ** 0.5
        gain = evidence(float(one.posterior.mode[column]), sd, float(groups.sd[k]))
        cost = _per_metre(base, site.wheel.tool_type(code))
        wanted = np.log1p(WITHIN) / 1.645
        out.append(
            TypeComparison(
                kind=one.kind, tool_type=code, reference=groups.reference, wear_times=Quantiles.of(np.exp(log)),
                cost_times=None if cost is None else Quantiles.of(cost * np.exp(log)), tools=count.get(code, 0),
                reference_tools=count.get(groups.reference, 0), gain=gain, named=gain > LEAST_GAIN,
                more_tools=int(np.ceil(max(count.get(code, 1) * ((sd / wanted) ** 2 - 1.0), 0.0))),
                trial=fair_trial(site, one.kind, code, groups.reference), only_in="",
                makes=makes_of(site, code, groups.reference),
            )
        )  # fmt: skip
    for code, zones in groups.apart:
        out.append(
            TypeComparison(
                kind=one.kind, tool_type=code, reference=groups.reference, wear_times=None, cost_times=None,
                tools=count.get(code, 0), reference_tools=count.get(groups.reference, 0), gain=0.0, named=False,
                more_tools=None, trial=fair_trial(site, one.kind, code, groups.reference), only_in=zones,
                makes=makes_of(site, code, groups.reference),
            )
        )  # fmt: skip
    return tuple(out)


def makes_of(site: Site, code: str, reference: str) -> tuple[str, str] | None:
    """The makers of two types, each as it is written most often; None where one of them is not told."""
    told = [each.make for each in site.wheel.tool_types if each.make]
    shown = {way: ways[0] for ways in spellings(told) for way in ways}
    mine, its = (site.wheel.tool_type(each).make for each in (code, reference))
    return (shown[mine], shown[its]) if mine and its else None


def _per_metre(base: ToolType, other: ToolType) -> float | None:
    """Cost of a metre with ``other`` against ``base`` were they to wear alike: price less core, by wear limit."""

    def used(each: ToolType) -> float:
        core = 0.0
        if each.rebuild_price is not None:
            core = (each.rebuildable_share or 0.0) * max(each.price - each.rebuild_price, 0.0)
        return each.price - core

    if not base.price or not other.price or used(base) <= 0.0:
        return None
    return used(other) / used(base) * base.wear_limit_mm / other.wear_limit_mm


def fair_trial(site: Site, kind: str, code: str, reference: str) -> tuple[int, ...]:
    """Places for the type under trial: every second of neighbouring places that share a zone, the rest keep the other.

    So both meet the same zone and ground. Places in housings stay as they are.
    """
    kinds = {each.code: each.kind for each in site.wheel.tool_types}
    for each in (code, reference):
        here = [p for p in site.wheel.positions if p.tool_type == each]
        if here and all(p.housing for p in here):
            return ()  # made for its housings
    alike = [
        p for p in site.wheel.positions
        if kinds.get(p.tool_type) == kind and p.housing is None and p.tool_type in (code, reference)
    ]  # fmt: skip
    out = []
    for zone in dict.fromkeys(p.zone for p in alike):
        mine = sorted((p for p in alike if p.zone == zone), key=lambda p: p.track_radius_mm)
        if len(mine) >= 4:
            out += [p.number for p in mine[1::2]]
    return tuple(out)


def batches_found(one: KindFit, parameters: Floats, lives: Sequence[Life]) -> tuple[BatchFound, ...]:
    """Batches, labelled or not, with what they wear by and the tools in place that may be of them."""
    first = one.group_part.start + len(one.groups.types)
    return tuple(
        _batch(one, label, first + k, parameters[:, first + k], lives) for k, label in enumerate(one.groups.batches)
    )


def _batch(one: KindFit, label: str, column: int, log: Floats, lives: Sequence[Life]) -> BatchFound:
    of = one.groups.batch_of or {}
    found = one.suspicion if one.suspicion is not None and one.suspicion.label == label else None
    mine = [life for life in lives if of.get(life.id) == label]
    first = min((life.from_m for life in mine), default=0.0)
    if found is not None:
        gain, share, chance = found.gain, found.share, dict(found.chance)
    else:
        sd = float(one.posterior.covariance[column, column]) ** 0.5
        gain = evidence(float(one.posterior.mode[column]), sd, float(one.groups.sd[column - one.group_part.start]))
        share = len(mine) / max(sum(life.from_m >= first - 1e-3 for life in lives), 1)
        chance = {life.id: 1.0 for life in mine}
    here = [life for life in lives if life.open and life.id in chance]
    return BatchFound(
        kind=one.kind, label=None if found is not None else label, since_m=first,
        since_id=found.since_id if found is not None else None, wear_times=Quantiles.of(np.exp(log)), tools=len(mine),
        share=share, gain=gain, named=found is not None or gain > LEAST_GAIN,
        in_place=tuple(sorted((life.position, life.serial, round(chance[life.id], 3)) for life in here)),
    )  # fmt: skip


def times(band: Quantiles) -> str:
    """A ratio with its band in words."""
    return f"{band.p50:.2f} ({band.p05:.2f}\u2013{band.p95:.2f})"


def words(types: Sequence[TypeComparison], batches: Sequence[BatchFound]) -> list[str]:
    """Remarks on types and batches that differ."""
    out = []
    for one in types:
        if one.named and one.wear_times is not None:
            out.append(f"{one.tool_type} wears x{times(one.wear_times)} of {one.reference}, on {one.tools} tools")
    for batch in batches:
        if batch.named:
            which = f"batch {batch.label}"
            if batch.label is None:
                which = f"about {batch.share:.0%} of those fitted since {batch.since_id}"
            here = [f"{position} ({chance:.0%})" for position, _, chance in batch.in_place if chance >= 0.2]
            more = f"; in place now, with the chance of being one: {', '.join(here[:12])}" if here else ""
            more += f" and {len(here) - 12} more" if len(here) > 12 else ""
            out.append(
                f"a batch of {batch.kind}s differs: {which} wear x{times(batch.wear_times)} of their fellows{more}"
            )
    return out
