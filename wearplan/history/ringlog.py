"""Where each ring of the log lies: rows that can stand together, and fillers for the stretches between them."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from wearplan.history.mended import Mended, at_line, ring_words
from wearplan.site.records import RingRow, Site

JOIN = 0.25
"""Gaps and overlaps up to this share of a ring are rounding in the log: the boundary is shared."""
LONGEST = 3.0
"""A row that claims more rings' lengths than this has a wrong chainage."""
ASTRAY = 6.0
"""So many rings' lengths away from where its number belongs, a row has a wrong chainage or a wrong number."""


@dataclass(frozen=True, kw_only=True)
class Placed:
    """Rows that tile ``[0, face]``, arrays ``(N,)``; ``rows`` has None for a stretch nobody logged."""

    number: NDArray[np.int64]
    start_m: NDArray[np.float64]
    end_m: NDArray[np.float64]
    rows: tuple[RingRow | None, ...]

    @property
    def face_m(self) -> float:
        return float(self.end_m[-1]) if len(self.end_m) else 0.0


@dataclass
class _Tiles:
    """The tiling as it grows from the start of the drive."""

    ring_length_m: float
    unplaced: dict[int, RingRow]
    number: list[int] = field(default_factory=list)
    start_m: list[float] = field(default_factory=list)
    end_m: list[float] = field(default_factory=list)
    rows: list[RingRow | None] = field(default_factory=list)
    mended: list[Mended] = field(default_factory=list)
    at_m: float = 0.0

    def put(self, number: int, end_m: float, row: RingRow | None) -> None:
        self.number.append(number)
        self.start_m.append(self.at_m)
        self.end_m.append(end_m)
        self.rows.append(row)
        self.at_m = end_m

    def fill(self, to_m: float, numbers: list[int]) -> None:
        """Cut the stretch up to ``to_m`` into rings; ``numbers`` are those that must lie in it."""
        length, start = to_m - self.at_m, self.at_m
        rings = length / self.ring_length_m
        fits = bool(numbers) and 0.4 <= rings / len(numbers) <= 2.5
        count = len(numbers) if fits else max(1, round(rings))
        numbers = [*numbers, *[0] * count]
        edges = np.linspace(start, to_m, count + 1)[1:]
        for number, edge in zip(numbers, edges, strict=False):
            self.put(number, float(edge) if edge < edges[-1] else to_m, self.unplaced.pop(number, None))
        used = [(n, row) for n, row in zip(self.number[-count:], self.rows[-count:], strict=True)]
        missing = [n for n, row in used if row is None]
        if missing:
            self.mended.append(
                Mended(
                    what=f"{ring_words(missing)} missing ({length:.1f} m); the advance counts all the same",
                    from_m=start,
                    to_m=to_m,
                    rings=tuple(n for n in missing if n),
                )
            )


def _placeable(row: RingRow, site: Site) -> bool:
    """Whether a row's chainage can be at all."""
    ring = site.drive.ring_length_m
    start, end = row.start_m, row.end_m
    if start is None or end is None or not (math.isfinite(start) and math.isfinite(end)):
        return False
    return 0.0 < end - start <= LONGEST * ring and start >= -JOIN * ring and end <= site.drive.length_m + LONGEST * ring


def _single(site: Site) -> tuple[dict[int, RingRow], list[Mended]]:
    """One row a ring number, the first that can be placed and has turns."""
    rows: dict[int, RingRow] = {}
    mended = []
    highest, late = -1, []
    for row in site.rings:
        if row.ring < highest and row.ring not in rows:
            late.append(row.ring)
        highest = max(highest, row.ring)
        kept = rows.get(row.ring)
        if kept is None:
            rows[row.ring] = row
            continue
        if _worth(row, site) > _worth(kept, site):
            kept, row = row, kept
            rows[kept.ring] = kept
        at = kept.start_m if kept.start_m is not None else 0.0
        mended.append(
            Mended(
                what=f"ring {row.ring} written twice, counted once{at_line(row)}",
                from_m=at,
                to_m=kept.end_m if kept.end_m is not None else at,
                rings=(row.ring,),
                origins=(row.origin,),
            )
        )
    if late:
        at = min((rows[n].start_m or 0.0 for n in late), default=0.0)
        mended.append(
            Mended(what=f"{ring_words(late)} out of order in the log: put in order", from_m=at, to_m=at, rings=(*late,))
        )
    return rows, mended


def _worth(row: RingRow, site: Site) -> int:
    return 2 * _placeable(row, site) + (row.revolutions_boring is not None) + (row.damaged is None)


def _not_astray(rows: list[RingRow], ring_length_m: float) -> list[RingRow]:
    """Rows whose chainage agrees with their number, judged by the middle of the rows around."""
    if len(rows) < 3:
        return rows
    offset = np.array([(row.end_m or 0.0) - row.ring * ring_length_m for row in rows])
    reach = 10
    padded = np.pad(offset, reach, mode="reflect" if len(rows) > reach else "edge")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1), axis=1)
    return [row for row, off in zip(rows, np.abs(offset - middle), strict=True) if off <= ASTRAY * ring_length_m]


def _standing_together(rows: list[RingRow], tolerance_m: float) -> list[RingRow]:
    """The most rows, in order of number, that do not overlap (longest chain, patience sorting)."""
    tails: list[float] = []
    last: list[int] = []
    before = [-1] * len(rows)
    for index, row in enumerate(rows):
        assert row.start_m is not None
        assert row.end_m is not None
        length = bisect_right(tails, row.start_m + tolerance_m)
        before[index] = last[length - 1] if length else -1
        if length == len(tails):
            tails.append(row.end_m)
            last.append(index)
        elif row.end_m < tails[length]:
            tails[length], last[length] = row.end_m, index
    chain, index = [], last[-1] if last else -1
    while index >= 0:
        chain.append(rows[index])
        index = before[index]
    return chain[::-1]


def _reached(site: Site, number: int, end_m: float) -> float:
    """How far inspections show the drive beyond the last ring, where their ring number does not speak against it."""
    ring, best = site.drive.ring_length_m, end_m
    for inspection in site.inspections:
        beyond = inspection.driven_m - end_m
        by_number = (inspection.ring - number) * ring
        believable = beyond <= LONGEST * ring or abs(beyond - by_number) <= LONGEST * ring
        if math.isfinite(beyond) and inspection.driven_m <= site.drive.length_m + LONGEST * ring and believable:
            best = max(best, inspection.driven_m)
    return best


def place_rows(site: Site) -> tuple[Placed, tuple[Mended, ...]]:
    """Lay the log along the drive; see `wearplan.history.rings.clean_rings`."""
    ring = site.drive.ring_length_m
    rows, mended = _single(site)
    ordered = [rows[number] for number in sorted(rows)]
    kept = _standing_together(_not_astray([row for row in ordered if _placeable(row, site)], ring), JOIN * ring)
    unplaced = {row.ring: row for row in ordered}
    for row in kept:
        unplaced.pop(row.ring)
    doubted = dict(unplaced)
    tiles = _Tiles(ring_length_m=ring, unplaced=unplaced, mended=mended)
    last = None
    for row in kept:
        assert row.start_m is not None
        assert row.end_m is not None
        gap = row.start_m - tiles.at_m
        if gap > JOIN * ring:
            if last is not None:
                numbers = list(range(last + 1, row.ring))
            else:
                numbers = [n for n in range(row.ring - max(1, round(gap / ring)), row.ring) if n > 0]
            tiles.fill(row.start_m, numbers)
        elif last is not None and row.ring > last + 1:
            numbers = [n for n in range(last + 1, row.ring) if n not in rows]
            if numbers:
                what = f"{ring_words(numbers)} left out in the log's numbering, no advance is missing"
                mended.append(Mended(what=what, from_m=tiles.at_m, to_m=tiles.at_m, rings=tuple(numbers)))
        if row.end_m > tiles.at_m:
            tiles.put(row.ring, row.end_m, row)
        else:
            doubted[row.ring] = row
        last = row.ring
    _beyond(site, tiles, last)
    _name_doubted(tiles, doubted)
    placed = Placed(
        number=np.array(tiles.number, dtype=np.int64),
        start_m=np.array(tiles.start_m, dtype=float),
        end_m=np.array(tiles.end_m, dtype=float),
        rows=tuple(tiles.rows),
    )
    return placed, tuple(mended)


def _beyond(site: Site, tiles: _Tiles, last: int | None) -> None:
    """What was driven after the last row that could be placed: bad rows at the end, and inspections further on."""
    ring, number = site.drive.ring_length_m, last or 0
    trailing = sorted(n for n in tiles.unplaced if n > number)
    trailing = [n for n in trailing if n <= number + len(trailing) + 5]
    end = tiles.at_m + ring * (trailing[-1] - number if trailing else 0)
    reached = _reached(site, number, tiles.at_m)
    if trailing:
        tiles.fill(max(min(end, site.drive.length_m), reached), list(range(number + 1, trailing[-1] + 1)))
    elif reached > tiles.at_m + JOIN * ring:
        tiles.fill(reached, [number + 1 + step for step in range(max(1, round((reached - tiles.at_m) / ring)))])
    elif reached > tiles.at_m and tiles.end_m:
        tiles.end_m[-1] = tiles.at_m = reached


def _name_doubted(tiles: _Tiles, doubted: dict[int, RingRow]) -> None:
    where = {id(row): index for index, row in enumerate(tiles.rows) if row is not None}
    for row in doubted.values():
        index = where.get(id(row))
        why = row.damaged or "its chainage cannot be"
        if index is None:
            what = f"ring {row.ring}: {why}; the row is not used{at_line(row)}"
            from_m = to_m = row.start_m if row.start_m is not None and math.isfinite(row.start_m) else tiles.at_m
        else:
            what = f"ring {row.ring}: {why}; laid between its neighbours{at_line(row)}"
            from_m, to_m = tiles.start_m[index], tiles.end_m[index]
        tiles.mended.append(Mended(what=what, from_m=from_m, to_m=to_m, rings=(row.ring,), origins=(row.origin,)))
