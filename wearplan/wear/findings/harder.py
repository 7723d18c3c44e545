"""Stretches of the drive that were harder or easier on tools than their units, as records and in words."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from wearplan.wear.quantiles import Quantiles
from wearplan.wear.regression.ground_effect import GroundEffect
from wearplan.wear.results import Stretch

if TYPE_CHECKING:
    from wearplan.site.records import Site

LEAST_GAIN = 4.5
"""Log evidence that the ground differs at all before any stretch is spoken of."""
LEAST_ODDS, LEAST_TIMES = 2.2, 0.10
"""Set on 60 drives without any effect, no committed ones: at a gain of 3 and odds of 2, two were spoken of."""


def stretches(site: Site, ground: GroundEffect | None) -> tuple[Stretch, ...]:
    """One record a piece; neighbours that are named on the same side are one."""
    if ground is None:
        return ()
    odds = ground.odds()
    off = np.abs(np.expm1(ground.mean)) > LEAST_TIMES
    side = np.where(off & (np.abs(odds) > LEAST_ODDS) & (ground.gain > LEAST_GAIN), np.sign(odds), 0.0)
    ends = np.r_[0, np.flatnonzero((side[1:] != side[:-1]) | (side[1:] == 0.0)) + 1, len(side)]
    drawn = np.exp(ground.draw(2000, np.random.default_rng(5)))
    length = np.diff(ground.cuts_m)
    out = []
    for a, b in pairwise(ends.tolist()):
        low, high = float(ground.cuts_m[a]), float(ground.cuts_m[b])
        weight = length[a:b] / length[a:b].sum()
        out.append(
            Stretch(
                from_m=low, to_m=high, from_chainage_m=site.drive.chainage_m(low),
                to_chainage_m=site.drive.chainage_m(high), times=Quantiles.of(drawn[:, a:b] @ weight),
                odds=float(odds[a:b][np.argmax(np.abs(odds[a:b]))]), named=bool(side[a]),
            )
        )  # fmt: skip
    return tuple(out)


def words(found: tuple[Stretch, ...], ground: GroundEffect | None) -> list[str]:
    """One remark for each stretch that is named, and one on what the rates are then."""
    if ground is None or ground.gain <= LEAST_GAIN:
        return []
    out = [
        f"the ground differs from stretch to stretch by about {100.0 * np.expm1(ground.sd):.0f} % (all kinds of tools"
        " together): a rate is the mean of its unit, and where a unit was met in one or two, it is known no better"
    ]
    for stretch in found:
        if stretch.named:
            way = "more" if stretch.odds > 0 else "less"
            out.append(
                f"stretch {stretch.from_chainage_m:.1f} to {stretch.to_chainage_m:.1f}: tools of all kinds wore {way},"
                f" {stretch.times.p50:.2f} ({stretch.times.p05:.2f}\u2013{stretch.times.p95:.2f}) times what its units"
                " cost on the whole; look for ground, regime or records that differ there"
            )
    return out
