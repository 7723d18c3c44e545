"""The face of the wheel in characters, to scale, seen from the machine.

Every tool stands at its track radius and angle; a row of characters is taken as twice as high as a character is wide.
Where two marks would fall on one cell the later one is moved to the nearest free cell, and `Placed.off_rows` says by
how much. What a mark says is in its sign and number; its ``level`` is for colour only.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

LEVELS = {
    "unseen": ("?", "never seen, or not since its record broke"),
    "light": ("·", "under half of its limit"),
    "worn": ("-", "half of its limit or more"),
    "near": ("!", "eight tenths of its limit or more"),
    "over": ("×", "at its limit or past it"),
}
"""Level: its sign, and what it says."""
NEAR_ROWS = 1.6
ASPECT = 2.0
"""Height of a character cell over its width."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What is shown for one position: ``long`` where there is room for it, else ``middle``, else ``short``."""

    number: int
    track_radius_mm: float
    angle_deg: float
    short: str
    """One character."""
    middle: str
    """Two at most."""
    long: str
    """Three at most."""
    level: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A mark on the grid; ``off_rows`` is its distance from its true place, in rows."""

    mark: Mark
    row: int
    column: int
    text: str
    off_rows: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Face:
    """A wheel laid out on ``height`` rows of ``width`` characters."""

    width: int
    height: int
    size: str
    """Which of a mark's texts is shown: ``long``, ``middle`` or ``short``."""
    placed: tuple[Placed, ...]
    rim: frozenset[tuple[int, int]]

    def lines(self) -> list[str]:
        """The chart as text."""
        grid = [[" "] * self.width for _ in range(self.height)]
        for row, column in self.rim:
            grid[row][column] = "."
        for placed in self.placed:
            for step, sign in enumerate(placed.text):
                grid[placed.row][placed.column + step] = sign
        return ["".join(row).rstrip() for row in grid]

    def at(self, row: int, column: int) -> int | None:
        """Number of the position shown at a cell or right beside it."""
        best, number = 2.1, None
        for placed in self.placed:
            over = max(placed.column - column, column - placed.column - len(placed.text) + 1, 0)
            off = math.hypot(placed.row - row, over / ASPECT)
            if off < best:
                best, number = off, placed.mark.number
        return number if best <= 1.0 else None

    def neighbour(self, number: int, down: int, right: int) -> int:
        """Number of the next position in a direction (one of the four); the same number at the edge."""
        here = next((placed for placed in self.placed if placed.mark.number == number), None)
        if here is None:
            return self.placed[0].mark.number if self.placed else number
        best, found = math.inf, number
        for placed in self.placed:
            rows = float(placed.row - here.row)
            columns = (placed.column - here.column) / ASPECT
            along = rows * down + columns * right
            across = abs(rows * right) + abs(columns * down)
            if along <= 0 or across > 1.5 * along + 0.1:
                continue
            cost = along + 2.0 * across
            if cost < best:
                best, found = cost, placed.mark.number
        return found


def lay_out(marks: Sequence[Mark], *, bore_radius_mm: float, width: int, height: int, size: str | None = None) -> Face:
    """Place marks on a grid.

    Parameters
    ----------
    marks : sequence of Mark
    bore_radius_mm : float
        Half the bore diameter; the rim is drawn there.
    width, height : int
        Characters there are.
    size : {"long", "middle", "short"}, optional
        Which texts to show; None takes the longest for which no mark moves by more than `NEAR_ROWS`.
    """
    rows = max(3, min(height, int((width - 4) / ASPECT) + 1))
    scale = (rows - 1) / 2 / max(bore_radius_mm, 1.0)
    middle_row, middle_column = (height - 1) / 2, (width - 1) / 2
    sizes = [size] if size else ["long", "middle", "short"] if rows >= 24 else ["short"]
    chosen: list[Placed] = []
    for shown in sizes:
        chosen = _placed(marks, width, height, middle_row, middle_column, scale, shown)
        if all(placed.off_rows <= NEAR_ROWS for placed in chosen):
            break
    rim = set()
    taken = {(p.row, p.column + step) for p in chosen for step in range(-1, len(p.text) + 1)}
    for turn in range(0, 720):
        at = math.radians(turn / 2)
        cell = (
            round(middle_row - math.cos(at) * bore_radius_mm * scale),
            round(middle_column + math.sin(at) * bore_radius_mm * scale * ASPECT),
        )
        if cell not in taken and 0 <= cell[0] < height and 0 <= cell[1] < width:
            rim.add(cell)
    return Face(width=width, height=height, size=shown, placed=tuple(chosen), rim=frozenset(rim))


def _placed(
    marks: Iterable[Mark], width: int, height: int, middle_row: float, middle_column: float, scale: float, size: str
) -> list[Placed]:
    taken: set[tuple[int, int]] = set()
    placed = []
    for mark in sorted(marks, key=lambda mark: (mark.track_radius_mm, mark.number)):
        text = {"long": mark.long, "middle": mark.middle}.get(size, mark.short)
        at = math.radians(mark.angle_deg)
        row = middle_row - math.cos(at) * mark.track_radius_mm * scale
        column = middle_column + math.sin(at) * mark.track_radius_mm * scale * ASPECT - (len(text) - 1) / 2
        spot = _free(taken, row, column, len(text), width, height, gap=0 if size == "short" else 1)
        if spot is None:
            continue
        off = math.hypot(spot[0] - row, (spot[1] - column) / ASPECT)
        taken.update((spot[0], spot[1] + step) for step in range(len(text)))
        placed.append(Placed(mark=mark, row=spot[0], column=spot[1], text=text, off_rows=off))
    return placed


def _free(
    taken: set[tuple[int, int]], row: float, column: float, size: int, width: int, height: int, *, gap: int
) -> tuple[int, int] | None:
    """The free run of cells nearest to a place; None on a full grid."""
    for down, right in _steps_outward(height, width):
        r, c = round(row) + down, round(column) + right
        if not (0 <= r < height and 0 <= c <= width - size):
            continue
        if not any((r, c + step) in taken for step in range(-gap, size + gap)):
            return r, c
    return None


@cache
def _steps_outward(height: int, width: int) -> tuple[tuple[int, int], ...]:
    """Steps in rows and columns, the shortest first as the eye measures them."""
    steps = [(down, right) for down in range(-height, height + 1) for right in range(-width, width + 1)]
    return tuple(sorted(steps, key=lambda step: math.hypot(step[0], step[1] / ASPECT)))


def level_of_share(share: float | None) -> str:
    """Level of a wear given as a share of its limit; None is unseen."""
    if share is None or not math.isfinite(share):
        return "unseen"
    for bound, level in ((1.0, "over"), (0.8, "near"), (0.5, "worn")):
        if share >= bound - 1e-9:
            return level
    return "light"


def wear_texts(share: float | None, number_text: str) -> dict[str, str]:
    """Texts and level for a wear: tenths of the limit, sign and tenths, sign and number."""
    level = level_of_share(share)
    sign = LEVELS[level][0]
    if level == "unseen" or share is None:
        return {"short": "?", "middle": "?", "long": " ? ", "level": level}
    tenths = min(9, int(share * 10 + 1e-9))
    short = "×" if level == "over" else str(tenths)
    middle = "×" if level == "over" else f"{sign}{tenths}"
    return {"short": short, "middle": middle, "long": f"{sign}{number_text:>2}", "level": level}


def chance_texts(chance: float | None, cap: float | None) -> dict[str, str]:
    """Texts and level for a chance; over the site's cap it is ``over``, over half the cap ``near``."""
    if chance is None or not math.isfinite(chance):
        return {"short": "?", "middle": "?", "long": " ? ", "level": "unseen"}
    bound = 0.5 if cap is None else cap
    level = "over" if chance > bound else "near" if chance > bound / 2 else "worn" if chance >= 0.005 else "light"
    sign, tenths = LEVELS[level][0], str(min(9, int(chance * 10 + 1e-9)))
    short = sign if level == "over" else tenths
    return {
        "short": short,
        "middle": f"{sign}{tenths}",
        "long": f"{sign}{min(99, round(chance * 100)):>2}",
        "level": level,
    }


def age_texts(stops_ago: int | None) -> dict[str, str]:
    """Texts and level for how many inspections ago a place was last read; None: never."""
    if stops_ago is None:
        return {"short": "?", "middle": "?", "long": " ? ", "level": "unseen"}
    level = "light" if stops_ago == 0 else "worn" if stops_ago <= 2 else "near" if stops_ago <= 5 else "over"
    sign = LEVELS[level][0]
    short = "×" if stops_ago > 9 else str(stops_ago)
    middle = "×" if stops_ago > 9 else f"{sign}{stops_ago}"
    return {"short": short, "middle": middle, "long": f"{sign}{min(99, stops_ago):>2}", "level": level}


def crowding(face: Face) -> float:
    """Largest distance of a mark from its true place, in rows."""
    return max((placed.off_rows for placed in face.placed), default=0.0)


def overlaps(face: Face) -> list[tuple[int, int]]:
    """Pairs of positions whose texts share a cell (none, by construction; for tests)."""
    spans = sorted((p.row, p.column, p.column + len(p.text), p.mark.number) for p in face.placed)
    return [(a[3], b[3]) for a, b in pairwise(spans) if a[0] == b[0] and b[1] < a[2]]
