"""Where the drive may stop: every ring in a usable window ahead, outside keep-outs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.records import UnusableWindow, Wishes
from wearplan.site.records import PLANNED_MODES, Site, Stops, Window

from .here import going_on, window_here
from .rings import APART_M, keep_forced, spread, thinned
from .terms import Terms, inside_terms_of, missing_row, terms_of

_LEAST_M = 0.01
"""A finished drive still has an end ahead of the face, by so much."""


@dataclass(frozen=True, kw_only=True)
class Candidates:
    """N candidate stops in the order of the drive, by node: 0 is now, 1..N the candidates, N+1 the end of the drive."""

    driven_m: NDArray[np.float64]
    """(N+2,)"""
    ring: NDArray[np.int64]
    """(N+2,); 0 for now and the end."""
    window: NDArray[np.int64]
    """(N+2,) index into ``terms``; -1 for now and the end, which belong to none."""
    terms: tuple[Terms, ...]
    unusable: tuple[UnusableWindow, ...]
    remarks: tuple[str, ...]
    standing: int | None = None
    """The candidate where the machine stands stopped, if it does."""
    every: Candidates | None = None
    """All rings one may stop at, where these are only some of them, the first and last of every window among them."""

    def __len__(self) -> int:
        return len(self.driven_m) - 2

    @property
    def stops(self) -> range:
        """The nodes at which one may stop."""
        return range(1, len(self.driven_m) - 1)

    def term(self, stop: int) -> Terms:
        """Terms of candidate ``stop``."""
        return self.terms[int(self.window[stop])]

    def by_node(self, value: Callable[[Terms], float], *, ends: float = 0.0) -> NDArray[np.float64]:
        """(N+2,) a value of each candidate's terms; ``ends`` for now and the end."""
        return np.array([*map(value, self.terms), ends], dtype=float)[self.window]

    def named(self, name: str) -> list[int]:
        """Candidates in windows of that name."""
        return [n for n in self.stops if self.term(n).window.name == name and not self.term(n).inside_only]

    def only(self, nodes: NDArray[np.intp]) -> Candidates:
        """Those at some nodes (sorted, now and the end among them)."""
        standing = np.flatnonzero(nodes == (self.standing or -1))
        return replace(
            self,
            driven_m=self.driven_m[nodes],
            ring=self.ring[nodes],
            window=self.window[nodes],
            standing=int(standing[0]) if standing.size else None,
        )

    def at(self, driven_m: float, *, ring_m: float) -> int | None:
        """The candidate nearest to a point within one ring and in the same window as it; None without one."""
        if not len(self):
            return None
        off = np.abs(self.driven_m - driven_m) + self.by_node(lambda t: 1e6 * t.inside_only, ends=np.inf)
        best = int(np.argmin(off))
        window = self.term(best).window
        inside = window.from_m - ring_m <= driven_m <= window.to_m + ring_m
        return best if inside else None


def last_ring(site: Site) -> tuple[int, float]:
    """Number and end (driven m) of the last ring with a place on record; (0, 0.0) without any."""
    placed = [(row.end_m, row.ring) for row in site.rings if row.end_m is not None]
    if not placed:
        return 0, 0.0
    end, ring = max(placed)
    return ring, float(end)


def ring_at(site: Site, driven_m: float) -> int:
    """Number of the ring whose end is nearest to a point at or ahead of the last ring."""
    ring, end = last_ring(site)
    return ring + round((driven_m - end) / site.drive.ring_length_m)


def rings_in(site: Site, window: Window, *, face_m: float, end_m: float) -> list[tuple[float, int]]:
    """(driven m, ring number) of every ring end in a window from the face on; one point where no ring ends in it."""
    ring, end = last_ring(site)
    length = site.drive.ring_length_m
    low, high = max(window.from_m, face_m), min(window.to_m, end_m)
    if low > high + 1e-9:
        return []
    first = int(np.ceil((low - end) / length - 1e-6))
    last = int(np.floor((high - end) / length + 1e-6))
    points = [(min(max(end + k * length, low), high), ring + k) for k in range(first, last + 1)]
    if not points:
        middle = 0.5 * (low + high)
        points = [(middle, ring_at(site, middle))]
    return [(x, n) for x, n in points if x < end_m - 1e-6]


def candidates(site: Site, stops: Stops, *, face_m: float, end_m: float, wishes: Wishes) -> Candidates:
    """Gather the candidate stops, and the windows that cannot be used with the reason."""
    terms: list[Terms] = []
    standing: int | None = None
    groups: list[list[tuple[float, int]]] = []
    unusable: list[UnusableWindow] = []
    for window in sorted(stops.windows, key=lambda w: (w.from_m, w.to_m)):
        points = rings_in(site, window, face_m=face_m, end_m=end_m)
        if not points:
            continue
        left, refused = _usable(site, stops, window, points, wishes)
        if refused is not None:
            unusable.append(refused)
            continue
        mine = terms_of(stops, window)
        if wishes.standing and standing is None and left[0][0] <= face_m + 0.5 * site.drive.ring_length_m:
            standing = len(terms)
            terms.append(going_on(mine))
            groups.append(left[:1])
            left = left[1:]
        if left:
            terms.append(mine)
            groups.append(left)
    remarks = []
    if wishes.standing and standing is None:
        here = window_here(site, stops, face_m)
        if isinstance(here, Window):
            standing = len(terms)
            terms.append(going_on(terms_of(stops, here)))
            groups.append([(face_m, ring_at(site, face_m))])
        else:
            remarks.append(here)
    whole = [each.window.name in wishes.forced_windows for each in terms]
    kept, straight, said = _worked_out(site, groups, whole, wishes)
    remarks += said
    if any(p.access == "inside" for p in site.wheel.positions):
        pressed = [number for number, each in enumerate(terms) if each.under_pressure]
        terms += [inside_terms_of(stops, terms[number].window) for number in pressed]
        groups, kept = ([*each, *(each[number] for number in pressed)] for each in (groups, kept))
    ends = (face_m, max(end_m, face_m + _LEAST_M))
    made = Candidates(
        terms=tuple(terms), unusable=tuple(unusable), remarks=tuple(remarks), **_in_order(kept, standing, ends)
    )  # fmt: skip
    return replace(made, every=replace(made, **_in_order(groups, standing, ends))) if straight else made


Groups = list[list[tuple[float, int]]]
"""(driven m, ring number) of the rings of each window."""


def _worked_out(
    site: Site, groups: Groups, whole: list[bool], wishes: Wishes
) -> tuple[Groups, bool, list[str]]:
    """The rings worked out of all in the windows, whether the others can be read between them, and a remark on it. Of
    windows told ``whole``, in which a stop is forced, every ring may be chosen.
    """
    total = sum(map(len, groups))
    kept, straight = groups, False
    if total > wishes.max_candidates:
        ends = [group if each else spread(group) for group, each in zip(groups, whole, strict=True)]
        kept = thinned(ends, wishes.max_candidates)
        straight = kept == ends and not _overlap(groups)
        keep_forced(groups, kept, wishes.forced_m, ring_m=site.drive.ring_length_m)
    count = sum(map(len, kept))
    if count == total:
        return kept, False, []
    if straight:
        said = (
            f"{total} rings lie in windows ahead: worked out are the first and last of each window and one about each "
            f"{APART_M:g} m between them. The others are read between these, and those the plan turns on are weighed."
        )
        return kept, True, [said]
    said = f"{total} rings lie in windows ahead; {count} of them, evenly spread over each window, stand for all."
    return kept, False, [said]


def _in_order(groups: Groups, standing: int | None, ends: tuple[float, float]) -> dict[str, Any]:
    """Rings of all windows in the order of the drive, between now and its end; two windows may hold the same ring, each
    on its own terms.
    """
    rings = sorted((x, n, w) for w, group in enumerate(groups) for x, n in group)
    rows = [(ends[0], 0, -1), *rings, (ends[1], 0, -1)]
    return {
        "driven_m": np.array([r[0] for r in rows], dtype=float),
        "ring": np.array([r[1] for r in rows], dtype=np.int64),
        "window": np.array([r[2] for r in rows], dtype=np.int64),
        "standing": next((i for i, r in enumerate(rows) if r[2] == standing), None),
    }


def _overlap(groups: list[list[tuple[float, int]]]) -> bool:
    """Whether a window begins before another one has ended."""
    spans = sorted((group[0][0], group[-1][0]) for group in groups)
    return any(later[0] < former[1] for former, later in pairwise(spans))


def _usable(
    site: Site, stops: Stops, window: Window, points: list[tuple[float, int]], wishes: Wishes
) -> tuple[list[tuple[float, int]], UnusableWindow | None]:
    """The rings of a window at which one may stop, or why there are none."""

    def refused(why: str, code: str) -> tuple[list[tuple[float, int]], UnusableWindow]:
        return [], UnusableWindow(
            window=window.name, why=why, code=code, from_m=window.from_m, from_chainage_m=window.from_chainage_m
        )

    if window.name in wishes.forbidden_windows:
        return refused("forbidden by the user for this plan", "forbidden")
    why = missing_row(stops.entry_rows, window)
    if why is not None:
        return refused(why, "specialist" if window.mode not in PLANNED_MODES else "entry-row")
    free = [(x, n) for x, n in points if not any(k.from_m <= x <= k.to_m for k in stops.keep_outs)]
    if not free:
        reasons = {k.reason for x, _ in points for k in stops.keep_outs if k.from_m <= x <= k.to_m}
        return refused(f"lies in a keep-out ({', '.join(sorted(reasons))})", "keep-out")
    half = 0.5 * site.drive.ring_length_m
    left = [(x, n) for x, n in free if all(abs(x - f) > half for f in wishes.forbidden_m)]
    if not left:
        return refused("every ring of it is forbidden by the user for this plan", "forbidden")
    return left, None
