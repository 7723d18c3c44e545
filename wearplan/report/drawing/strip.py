"""The drive as a strip: ground by height, windows by the way they are entered, barred stretches, stops, chainage.

Units differ by their hatch and carry their code, so that they stay apart without colour; in a well-mixed face they lie
as layers as thick as their shares, with the share beside the code.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from wearplan.report.drawing.sheet import Sheet, signs
from wearplan.report.words import chainage_text, plain
from wearplan.site.records import Ground, KeepOut, Section, Site, Stops

LABEL = 9
"""Characters before the strip itself."""
HATCHES: tuple[Callable[[int, int], bool], ...] = (
    lambda x, y: x % 4 == 0 and y % 4 == 1, lambda x, y: (x + y) % 4 == 0, lambda x, y: x % 2 == 0 and y % 2 == 0,
    lambda x, y: (x - y) % 4 == 0, lambda x, y: x % 2 == 0, lambda x, y: y % 2 == 0,
    lambda x, y: x % 4 == 0 or y % 4 == 0, lambda x, y: (x + y) % 2 == 0,
)  # fmt: skip
"""Whether a dot is set, by unit in the order of the site's list."""
PLAIN_HATCHES = "./:\\|-+#"
Words = tuple[tuple[str, str], ...]
"""Pieces of a line with their styles."""


class Stretched(Protocol):
    """A stretch that wears tools more or less than its units do."""

    @property
    def from_m(self) -> float: ...
    @property
    def to_m(self) -> float: ...
    @property
    def times(self) -> object: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """The strip between two places of the drive, in driven metres; ``rows`` says where each line begins."""

    from_m: float
    to_m: float
    sheet: Sheet
    rows: Mapping[str, int]
    legend: tuple[Words, ...]
    label_width: int = LABEL

    def column(self, driven_m: float) -> int:
        """Column of a place behind the label (may lie outside)."""
        return int((driven_m - self.from_m) / (self.to_m - self.from_m) * (self.sheet.width - LABEL))

    def driven_m(self, column: int) -> float:
        """Middle of a column behind the label, in driven metres."""
        return self.from_m + (column + 0.5) / (self.sheet.width - LABEL) * (self.to_m - self.from_m)


def drive_strip(
    site: Site,
    *,
    width: int,
    ground_rows: int = 4,
    from_m: float | None = None,
    to_m: float | None = None,
    face_m: float | None = None,
    stops_m: Sequence[float] = (),
    over: tuple[Sequence[float], Sequence[float]] | None = None,
    stretches: Sequence[Stretched] = (),
    cursor_m: float | None = None,
    feet: bool = False,
    plain: bool = False,
) -> Strip:
    """Draw the drive.

    Parameters
    ----------
    width : int
        Characters, labels included.
    ground_rows : int
        Rows the ground takes.
    from_m, to_m : float, optional
        Stretch shown, driven metres; the whole drive without them.
    over : (places (G,), expected number (G,)), optional
        Tools past their limit if left in place.
    stretches : sequence
        Those found harder or easier than their units.
    cursor_m : float, optional
        A place to point at.
    feet : bool
        Chainage in stations of 100 ft.
    """
    low = 0.0 if from_m is None else from_m
    high = max(site.drive.length_m if to_m is None else to_m, low + 1.0)
    there = {"ground": ground_rows if site.ground() is not None else 0, "windows": 1, "barred": 1}
    there |= {"wear": int(bool(stretches)), "past": int(over is not None and bool(len(over[0])))}
    there |= {"stops": 1, "at": 1, "here": int(cursor_m is not None)}
    rows, height = {}, 0
    for key, tall in there.items():
        if tall:
            rows[key] = height
            height += tall
    pen = _Pen(Sheet(max(width, LABEL + 10), height, plain=plain), rows, low, high)
    ground = site.ground()
    if ground is not None:
        pen.ground(ground, site.wheel.bore_diameter_m / 2, ground_rows)
    pen.access(site.stops)
    if stretches:
        pen.stretches(stretches)
    if over is not None and "past" in rows:
        pen.over(over, face_m)
    pen.stops(face_m, stops_m)
    pen.ticks(site, feet)
    if cursor_m is not None:
        pen.pointer(cursor_m, chainage_text(site.drive.chainage_m(cursor_m), feet=feet))
    return Strip(from_m=low, to_m=high, sheet=pen.sheet, rows=rows, legend=_legend(site, plain))


class _Pen:
    """Draws rows on a sheet whose columns behind the labels are places."""

    def __init__(self, sheet: Sheet, rows: Mapping[str, int], low: float, high: float) -> None:
        self.sheet, self.rows, self.low, self.high = sheet, rows, low, high
        self.wide = sheet.width - LABEL
        for key, row in rows.items():
            if key != "ground":
                sheet.text(row, 0, "past lim." if key == "past" else key, "dim")

    @property
    def middles(self) -> NDArray[np.float64]:
        edges = np.linspace(self.low, self.high, self.wide + 1)
        return np.asarray((edges[:-1] + edges[1:]) / 2)

    def place(self, metres: float) -> float:
        """Columns from the first one on; not rounded, and may lie outside."""
        return (metres - self.low) / (self.high - self.low) * self.wide

    def column(self, metres: float) -> int:
        return LABEL + min(self.wide - 1, max(0, int(self.place(metres))))

    def columns(self, from_m: float, to_m: float) -> range:
        """Columns a stretch touches; at least one where it lies within."""
        if to_m < self.low or from_m > self.high:
            return range(0)
        first = self.column(from_m)
        return range(first, max(first, min(LABEL + self.wide - 1, LABEL + int(np.ceil(self.place(to_m))) - 1)) + 1)

    def ground(self, ground: Ground, radius_m: float, tall: int) -> None:
        order = {unit.code: index % len(HATCHES) for index, unit in enumerate(ground.units)}
        self._heights(tall)
        for index, section in enumerate(ground.sections):
            left, right = max(0.0, self.place(section.from_m)), min(float(self.wide), self.place(section.to_m))
            if right <= left:
                continue
            layers = list(layers_of(section, radius_m))
            for unit, top, bottom, _ in layers:
                self._hatch(order.get(unit, 7), (left, right), (top * 4 * tall, bottom * 4 * tall))
            for unit, top, bottom, words in layers:
                self._name(words, f"unit{order.get(unit, 7)}", (left, right), (top * tall, bottom * tall))
            if index:
                self._boundary(section.from_m, ground.sections[index - 1].boundary_sd_m, tall)

    def _heights(self, tall: int) -> None:
        names = {0: "crown", tall // 2: "axis", tall - 1: "invert"} if tall >= 3 else {0: "ground"}
        for row, name in names.items():
            self.sheet.text(row, 0, name, "dim")

    def _hatch(self, unit: int, across: tuple[float, float], down: tuple[float, float]) -> None:
        style = f"unit{unit}"
        if self.sheet.plain:
            for row in range(round(down[0] / 4), max(round(down[1] / 4), round(down[0] / 4) + 1)):
                for column in range(int(across[0]), max(int(across[0]) + 1, round(across[1]))):
                    self.sheet.text(row, LABEL + column, PLAIN_HATCHES[unit], style)
            return
        set_here = HATCHES[unit]
        for y in range(round(down[0]), round(down[1])):
            for x in range(2 * LABEL + round(2 * across[0]), 2 * LABEL + round(2 * across[1])):
                if set_here(x, y):
                    self.sheet.dot(x, y, style)

    def _name(self, words: str, style: str, across: tuple[float, float], down: tuple[float, float]) -> None:
        """The code in the middle of its layer, as long as there is room."""
        for text in (words, words.split(" ")[0]):
            if across[1] - across[0] >= len(text) + 2 and down[1] - down[0] >= 0.6:
                row = int((down[0] + down[1]) / 2)
                self.sheet.text(row, LABEL + int((across[0] + across[1] - len(text)) / 2), text, style)
                return

    def _boundary(self, at_m: float, sd_m: float, tall: int) -> None:
        """Uprights where a boundary may lie, nine in ten; one where that is less than a column."""
        places = sorted({round(2 * self.place(at_m + side * 1.645 * sd_m)) for side in (-1, 1)})
        for x in places if len(places) > 1 else [round(2 * self.place(at_m))]:
            if 0 <= x < 2 * self.wide:
                self.sheet.line(2 * LABEL + x, 0, 2 * LABEL + x, 4 * tall - 1, "boundary", every=2)

    def access(self, stops: Stops | None) -> None:
        """Windows by how they are entered, and stretches where nobody may enter, named where there is room."""
        for window in stops.windows if stops else ():
            free = window.mode == "free air"
            sign = self.sheet.signs.free if free else self.sheet.signs.pressure
            for column in self.columns(window.from_m, window.to_m):
                self.sheet.text(self.rows["windows"], column, sign, "free" if free else "pressure")
        for barred in stops.keep_outs if stops else ():
            self._barred(barred)

    def _barred(self, barred: KeepOut) -> None:
        columns = self.columns(barred.from_m, barred.to_m)
        sign, row = self.sheet.signs.barred, self.rows["barred"]
        for column in columns:
            self.sheet.text(row, column, sign, "barred")
        words = f" {plain(barred.reason)} "
        if columns and len(words) + 2 <= len(columns):
            self.sheet.text(row, columns.start + (len(columns) - len(words)) // 2, words, "barred")
        elif columns and self.sheet.free(row, columns.stop, len(words)):
            self.sheet.text(row, columns.stop, words, "barred")

    def stretches(self, stretches: Sequence[Stretched]) -> None:
        for stretch in stretches:
            times = float(getattr(stretch.times, "p50", None) or 1.0)
            columns = self.columns(stretch.from_m, stretch.to_m)
            for column in columns:
                self.sheet.text(self.rows["wear"], column, "+" if times > 1 else "-", "limit" if times > 1 else "free")
            words = f" {times:.2f} times "
            if len(columns) >= len(words) + 2:
                start = columns.start + (len(columns) - len(words)) // 2
                self.sheet.text(self.rows["wear"], start, words, "dim")

    def over(self, over: tuple[Sequence[float], Sequence[float]], face_m: float | None) -> None:
        """Tools past their limit by column, from the face on."""
        counts = np.interp(self.middles, over[0], over[1])
        ahead = self.middles >= (face_m if face_m is not None else self.low) - (self.high - self.low) / self.wide
        for column, (count, shown) in enumerate(zip(counts.tolist(), ahead.tolist(), strict=True)):
            sign = " " if not shown else "+" if count >= 9.5 else str(round(count)) if count >= 0.5 else "."
            self.sheet.text(self.rows["past"], LABEL + column, sign, "limit")

    def stops(self, face_m: float | None, stops_m: Sequence[float]) -> None:
        """The face, and the proposed stops by number."""
        row = self.rows["stops"]
        if face_m is not None and self.low <= face_m <= self.high:
            at = self.column(face_m)
            self.sheet.text(row, at, self.sheet.signs.face, "face")
            if at - 5 >= LABEL:
                self.sheet.text(row, at - 4, "face", "face")
        for index, stop in enumerate(stops_m, start=1):
            if self.low <= stop <= self.high:
                # a stop in the column of the face, or of the stop before, stands in the next free one
                there = (c for c in range(self.column(stop), self.sheet.width) if self.sheet.free(row, c))
                if (spot := next(there, None)) is not None:
                    self.sheet.text(row, spot, str(index) if index < 10 else "+", "stop")

    def ticks(self, site: Site, feet: bool) -> None:
        """Chainage written at even places, as many as fit."""
        row = self.rows["at"]
        low, high = (chainage_text(site.drive.chainage_m(m), feet=feet) for m in (self.low, self.high))
        size = max(len(low), len(high))
        count = max(2, min(9, self.wide // (size + 6) + 1))
        self.sheet.right(row, self.sheet.width, f"{high}|", "dim")
        for index in range(count - 1):
            place = self.low + (self.high - self.low) * index / (count - 1)
            words = "|" + chainage_text(site.drive.chainage_m(place), feet=feet)
            at = LABEL + round((self.wide - 1) * index / (count - 1))
            if at + len(words) <= self.sheet.width - size - 2:
                self.sheet.text(row, at, words, "dim")

    def pointer(self, at_m: float, words: str) -> None:
        """A mark under a column with its chainage on the side that has room."""
        column, row = self.column(at_m), self.rows["here"]
        self.sheet.text(row, column, "^", "pick")
        if column + 2 + len(words) <= self.sheet.width:
            self.sheet.text(row, column + 2, words, "pick")
        else:
            self.sheet.right(row, column - 1, words, "pick")


def layers_of(section: Section, radius_m: float) -> Iterator[tuple[str, float, float, str]]:
    """Unit, top and bottom as shares of the height from the crown, and its words; none where nothing is cut."""
    if not section.cut:
        return
    if section.strata:
        tops = [0.0 if s.top_m is None else min(1.0, max(0.0, 0.5 - s.top_m / radius_m / 2)) for s in section.strata]
        for stratum, top, bottom in zip(section.strata, tops, [*tops[1:], 1.0], strict=True):
            if bottom > top:
                yield stratum.unit, top, bottom, stratum.unit
        return
    whole, top = sum(section.mix.values()) or 1.0, 0.0
    for unit, share in section.mix.items():
        part = share / whole
        words = unit if part > 0.995 else f"{unit} {100 * part:.0f}%"
        yield unit, top, top + part, words
        top += part


def _legend(site: Site, plain_only: bool) -> tuple[Words, ...]:
    """What the hatches and signs mean, in pieces that must not be parted."""
    ground, mark = site.ground(), signs(plain_only)
    units: list[tuple[str, str]] = []
    for index, unit in enumerate(ground.units if ground else ()):
        sign = f"{PLAIN_HATCHES[index % len(HATCHES)]} " if plain_only else ""
        units += [(f"{sign}{plain(unit.code)}", f"unit{index % len(HATCHES)}"), (f" {plain(unit.name or '')}  ", "dim")]
    access = (
        (mark.free, "free"), (" free air  ", "dim"), (mark.pressure, "pressure"), (" under pressure  ", "dim"),
        (mark.barred, "barred"), (" barred  ", "dim"), ("|" if plain_only else "⡇", "boundary"),
        (" a boundary, give or take  ", "dim"), (mark.face, "face"), (" face  ", "dim"),
        ("1 2", "stop"), (" stops", "dim"),
    )  # fmt: skip
    return (tuple(units) or (("no ground known", "dim"),), access)
