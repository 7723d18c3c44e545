"""After an event: which places to look at, and why."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from wearplan.wear.results import Fit
    from wearplan.wheel import Layout


def look_at(fit: Fit, driven_m: float, *, around: int = 2, reach_m: float = 3.0) -> tuple[int, ...]:
    """Positions to look at after an event (a boulder, steel, metal in the muck) at ``driven_m``.

    Tools first seen in trouble soon after are named with their neighbours on either side, since a lost ring loads
    those next to it; without any, the outer tools, which travel furthest and meet a single block most often.

    Parameters
    ----------
    around : int
        Neighbouring tracks on each side.
    reach_m : float
        How far after the event a finding still belongs to it beyond the next stop.

    Returns
    -------
    tuple of int
        Position numbers, the troubled ones first.
    """
    from wearplan.wheel import layout_at, neighbours

    layout = layout_at(fit.site.wheel, min(driven_m, fit.face_m))
    next_stop = min(
        (each.driven_m for each in fit.site.inspections if each.driven_m >= driven_m - 1e-6), default=fit.face_m
    )
    struck = [
        life.position for life in fit.lives
        if life.trouble_from_m is not None
        and driven_m - 1e-6 <= life.trouble_from_m <= next_stop + reach_m
        and (life.trouble_after_m is None or life.trouble_after_m <= driven_m + reach_m)
    ]  # fmt: skip
    links: dict[int, set[int]] = defaultdict(set)
    for a, b in neighbours(layout):
        links[a].add(b)
        links[b].add(a)
    found = list(dict.fromkeys(struck))
    ring = set(found)
    for _ in range(around):
        ring = {other for each in ring for other in links[each]} - set(found)
        found += sorted(ring)
    return tuple(found) if found else _outermost(layout)


def _outermost(layout: Layout) -> tuple[int, ...]:
    """The tools that travel furthest and so meet a single block most often: a tenth, four at least."""
    order = np.argsort(-layout.track_radius_mm)
    return tuple(int(layout.numbers[k]) for k in order[: max(4, len(order) // 10)])


def asked_by_event(fit: Fit, driven_m: float) -> frozenset[int]:
    """Every place an event asked or asks for: the outer ones at once, those round a damage once that was found."""
    from wearplan.wheel import layout_at

    layout = layout_at(fit.site.wheel, min(driven_m, fit.face_m))
    return frozenset((*_outermost(layout), *look_at(fit, driven_m)))
