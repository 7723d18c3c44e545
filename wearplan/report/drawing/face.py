"""The face of the wheel, to scale, seen from the machine.

Every tool stands at its track radius and angle; a row of characters is taken as twice as high as a character is wide.
Where two marks would fall on one cell the later one is moved to the nearest free cell, and `Placed.off_rows` says by
how much. What a mark says is in its sign and number; its ``level`` is for colour only.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from wearplan.report.drawing.sheet import Sheet, signs

BOUNDS = ((1.0, "over"), (0.8, "near"), (0.5, "worn"), (0.25, "fair"))
WORDS = {
    "light": "under a quarter of its limit",
    "fair": "under half of its limit",
    "worn": "under four fifths of its limit",
    "near": "four fifths of its limit or more",
    "over": "at its limit or past it",
    "damaged": "damaged by its last record",
    "unseen": "never seen, or not since its record broke",
}
"""Level: what it says."""
NEAR_ROWS = 1.6
ASPECT = 2.0
"""Height of a character cell over its width."""


def level_signs(plain: bool) -> dict[str, str]:
    """Level to its sign."""
    mark = signs(plain)
    return {**dict(zip(WORDS, mark.levels, strict=False)), "damaged": mark.damaged, "unseen": mark.unread}


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """What is shown for one position: ``long`` where there is room for it, else ``short``."""

    number: int
    track_radius_mm: float
    angle_deg: float
    short: str
    """One character."""
    long: str
    """Six at most."""
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
    """Which of a mark's texts is shown: ``long`` or ``short``."""
    placed: tuple[Placed, ...]
    scale: float
    """Rows a millimetre."""
    rim_mm: float

    def spot(self, radius_mm: float, angle_deg: float) -> tuple[float, float]:
        """Dots from the left and from the top of a point of the wheel."""
        turn = math.radians(angle_deg)
        row = (self.height - 1) / 2 - math.cos(turn) * radius_mm * self.scale
        column = (self.width - 1) / 2 + math.sin(turn) * radius_mm * self.scale * ASPECT
        return 2 * column + 1, 4 * row + 2

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
    size : {"long", "short"}, optional
        Which texts to show; None takes the longest for which no mark moves by more than `NEAR_ROWS`.
    """
    rows = max(3, min(height, int((width - 4) / ASPECT) + 1))
    scale = (rows - 1) / 2 / max(bore_radius_mm, 1.0)
    middle_row, middle_column = (height - 1) / 2, (width - 1) / 2
    sizes = [size] if size else ["long", "short"] if rows >= 24 else ["short"]
    chosen: list[Placed] = []
    for shown in sizes:
        chosen = _placed(marks, width, height, middle_row, middle_column, scale, shown)
        if all(placed.off_rows <= NEAR_ROWS for placed in chosen):
            break
    return Face(
        width=width, height=height, size=shown, placed=tuple(chosen), scale=scale, rim_mm=max(bore_radius_mm, 1.0)
    )


def wheel_sheet(
    face: Face,
    *,
    arms: Mapping[str, float] = {},
    links: Sequence[tuple[int, int]] = (),
    picked: int = 0,
    plain: bool = False,
) -> Sheet:
    """The wheel drawn: rim, arms with their letters, links between edges of one housing, marks, the one picked.

    Parameters
    ----------
    arms : mapping of str to float
        Letter to angle in degrees.
    links : sequence of (number, number)
        Positions that share a housing.
    picked : int
        The position shown as picked, with a short arc of its track; 0 for none.
    """
    sheet = Sheet(face.width, face.height, plain=plain)
    for turn in range(0, 360, 2):
        sheet.dot(*face.spot(face.rim_mm, turn), "rim")
    for angle in arms.values():
        sheet.line(*face.spot(0.12 * face.rim_mm, angle), *face.spot(0.97 * face.rim_mm, angle), "arm", every=3)
    by_number = {placed.mark.number: placed for placed in face.placed}
    for one, other in links:
        if one in by_number and other in by_number:
            a, b = by_number[one], by_number[other]
            sheet.line(2 * a.column + 1, 4 * a.row + 2, 2 * b.column + 1, 4 * b.row + 2, "housing")
    if picked in by_number:
        mark = by_number[picked].mark
        for step in range(-24, 25, 2):
            sheet.dot(*face.spot(mark.track_radius_mm, mark.angle_deg + step), "track")
    for placed in face.placed:
        style = "pick" if placed.mark.number == picked else placed.mark.level
        sheet.text(placed.row, placed.column, placed.text, style)
    _letters(sheet, face, arms)
    return sheet


def _letters(sheet: Sheet, face: Face, arms: Mapping[str, float]) -> None:
    """The letter of each arm, outside the rim where there is room."""
    for name, angle in arms.items():
        for share in (1.07, 1.0, 0.93, 1.14):
            x, y = face.spot(share * face.rim_mm, angle)
            row, column = round((y - 2) / 4), round((x - 1) / 2)
            if sheet.free(row, column, len(name)):
                sheet.text(row, column, name, "arm name")
                break


def arm_angles(positions: Iterable[tuple[str | None, float]]) -> dict[str, float]:
    """The angle of each arm: the middle of those of its places, as on a circle."""
    gathered: dict[str, list[float]] = {}
    for arm, angle in positions:
        if arm:
            gathered.setdefault(arm, []).append(math.radians(angle))
    return {
        arm: math.degrees(math.atan2(sum(map(math.sin, turns)), sum(map(math.cos, turns)))) % 360
        for arm, turns in sorted(gathered.items())
    }


def _placed(
    marks: Iterable[Mark], width: int, height: int, middle_row: float, middle_column: float, scale: float, size: str
) -> list[Placed]:
    taken: set[tuple[int, int]] = set()
    placed = []
    for mark in sorted(marks, key=lambda mark: (mark.track_radius_mm, mark.number)):
        text = mark.long if size == "long" else mark.short
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
    return next((level for bound, level in BOUNDS if share >= bound - 1e-9), "light")


def wear_texts(
    share: float | None, number: int, *, damaged: bool = False, due: bool = False, plain: bool = False
) -> dict[str, str]:
    """Texts and level for a wear: the sign of its level; a bar of the limit used and the place's number."""
    mark, level = signs(plain), "damaged" if damaged else level_of_share(share)
    sign, tail = level_signs(plain)[level], mark.down if due else ""
    if plain:
        return {"short": sign, "long": f"{number}{sign}{tail}", "level": level}
    bar = sign if damaged or share is None or level == "unseen" else mark.block(share)
    return {"short": sign, "long": f"{bar}{number}{tail}", "level": level}


def chance_texts(chance: float | None, cap: float | None, number: int) -> dict[str, str]:
    """Texts and level for a chance; over the site's cap it is ``over``, over half the cap ``near``."""
    if chance is None or not math.isfinite(chance):
        return {"short": "?", "long": f"{number}:?", "level": "unseen"}
    bound = 0.5 if cap is None else cap
    level = "over" if chance > bound else "near" if chance > bound / 2 else "worn" if chance >= 0.005 else "light"
    short = "x" if level == "over" else str(min(9, int(chance * 10 + 1e-9)))
    return {"short": short, "long": f"{number}:{min(99, round(chance * 100))}", "level": level}


def age_texts(stops_ago: int | None, number: int) -> dict[str, str]:
    """Texts and level for how many inspections ago a place was last read; None: never."""
    if stops_ago is None:
        return {"short": "?", "long": f"{number}:?", "level": "unseen"}
    level = "light" if stops_ago == 0 else "worn" if stops_ago <= 2 else "near" if stops_ago <= 5 else "over"
    return {
        "short": "x" if stops_ago > 9 else str(stops_ago), "long": f"{number}:{min(99, stops_ago)}", "level": level
    }  # fmt: skip


def crowding(face: Face) -> float:
    """Largest distance of a mark from its true place, in rows."""
    return max((placed.off_rows for placed in face.placed), default=0.0)


def overlaps(face: Face) -> list[tuple[int, int]]:
    """Pairs of positions whose texts share a cell (none, by construction; for tests)."""
    spans = sorted((p.row, p.column, p.column + len(p.text), p.mark.number) for p in face.placed)
    return [(a[3], b[3]) for a, b in pairwise(spans) if a[0] == b[0] and b[1] < a[2]]
