"""Which rings of a window are worked out where there are too many for all: in proportion to what a window is worth."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

Group = list[tuple[float, int]]
"""(driven m, ring number) of the rings of one window, in order."""

APART_M = 12.0
"""Between two rings kept of a window, where not all are: over such a length costs run straight to well under a
thousandth.
"""


def spread(group: Group) -> Group:
    """The first and last ring of a window, and evenly between them one about each `APART_M`."""
    if len(group) < 3:
        return group
    return _evenly(group, max(1, round((group[-1][0] - group[0][0]) / APART_M)) + 1)


def thinned(groups: list[Group], most: int) -> list[Group]:
    """Each window's rings thinned evenly, first and last kept, to about ``most`` in all."""
    share = 1.0
    kept = [list(group) for group in groups]
    while sum(map(len, kept)) > most and share > 0.02:
        share *= 0.93
        kept = [_evenly(group, min(len(group), max(2, round(share * len(group))))) for group in groups]
    return kept


def _evenly(group: Group, count: int) -> Group:
    """So many rings of a window, evenly, the first and last among them."""
    picks = np.unique(np.round(np.linspace(0, len(group) - 1, count)).astype(int)) if group else ()
    return [group[i] for i in picks]


def keep_forced(groups: list[Group], kept: list[Group], forced_m: Sequence[float], *, ring_m: float) -> None:
    """Put back the rings nearest to the stops the user forces, where thinning took them out."""
    for wanted in forced_m:
        for group, thin in zip(groups, kept, strict=True):
            near = min(group, key=lambda point: abs(point[0] - wanted))
            if abs(near[0] - wanted) <= ring_m and near not in thin:
                thin.append(near)
                thin.sort()
