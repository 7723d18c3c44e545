"""The sheet every chart of terminal and text output is drawn on: words on top, dots for lines, bands behind them.

A cell is one character: two dots wide and four high in braille, two halves high for a band. Styles are names by
meaning; whoever paints the sheet gives them colours. Signs are chosen while drawing, so that the plain form can leave
room where two signs would run together.
"""

from __future__ import annotations

import locale
import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeAlias

Run: TypeAlias = tuple[str, str, str]
"""Some characters, their style, and the style of the band behind them."""

_BITS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_PLAIN_DOT = {
    "middle": "#", "limit": "-", "damage": "=", "stop": "|", "face": "|", "axis": "-", "rim": ".", "arm": ".",
    "track": ":", "error": "|", "boundary": "|", "zero": "-", "gap": "-", "housing": ":", "later": "'",
}  # fmt: skip
_BAND_SIGNS = {
    "half": ("▒", ":"), "band": ("░", "."), "light": ("░", "."), "fair": ("▒", ":"), "worn": ("▓", "="),
    "near": ("█", "#"), "over": ("█", "#"), "unseen": ("░", "?"),
}  # fmt: skip
BLOCKS = " ▁▂▃▄▅▆▇█"
_PLAIN_BLOCKS = " ._-=+*%#"


@dataclass(frozen=True, slots=True, kw_only=True)
class Signs:
    """The signs a chart may put down by name; `PLAIN` holds those every terminal and font has."""

    down: str
    up: str
    free: str
    pressure: str
    barred: str
    face: str
    whisker: str
    middle: str
    arrives: str
    ordered: str
    levels: str
    """Under a quarter, under half, under four fifths, under the limit, at it or past it."""
    damaged: str
    unread: str = "?"
    read: str = "o"
    blocks: str = BLOCKS

    def block(self, share: float) -> str:
        """A bar one character high, filled to a share."""
        return self.blocks[max(1, min(8, round(8 * share)))]


FULL = Signs(
    down="▼", up="▲", free="○", pressure="●", barred="×", face="▲", whisker="─", middle="┃", arrives="▲",
    ordered="◆", levels="○◔◑◕●", damaged="✖",
)  # fmt: skip
PLAIN = Signs(
    down="v", up="^", free="f", pressure="p", barred="x", face="^", whisker="-", middle="|", arrives="+",
    ordered="*", levels=".-=!x", damaged="X", blocks=_PLAIN_BLOCKS,
)  # fmt: skip


def signs(plain: bool) -> Signs:
    """The plain set or the full one."""
    return PLAIN if plain else FULL


def must_be_plain(encoding: str | None = None) -> bool:
    """Whether the terminal's encoding has no room for other signs than the plain ones, or ``LC_ALL`` asks for the plain
    locale, under which Python writes UTF-8 all the same (PEP 540).
    """
    if os.environ.get("LC_ALL") in ("C", "POSIX"):
        return True
    name = encoding if encoding is not None else locale.getpreferredencoding(False)
    return name.lower().replace("-", "").replace("_", "") not in ("utf8", "utf8mb4", "cp65001")


class Sheet:
    """Cells to draw on, ``height`` rows of ``width`` characters; what falls outside is left out."""

    def __init__(self, width: int, height: int, *, plain: bool = False) -> None:
        self.width, self.height, self.plain = max(1, width), max(1, height), plain
        self.signs = signs(plain)
        self._words: dict[tuple[int, int], tuple[str, str]] = {}
        self._dots: dict[tuple[int, int], list[int]] = {}
        self._dot_styles: dict[tuple[int, int], str] = {}
        self._halves: dict[tuple[int, int], str] = {}

    # Putting down -------------------------------------------------------------------------------------------------

    def text(self, row: int, column: int, words: str, style: str = "") -> None:
        """Words on top of all else; a blank in them clears nothing but is itself put down."""
        if 0 <= row < self.height:
            for step, sign in enumerate(words):
                if 0 <= column + step < self.width:
                    self._words[row, column + step] = (sign, style)

    def right(self, row: int, column: int, words: str, style: str = "") -> None:
        """Words that end before ``column``."""
        self.text(row, column - len(words), words, style)

    def free(self, row: int, column: int, count: int = 1) -> bool:
        """Whether no words stand on these cells and all lie on the sheet."""
        inside = 0 <= row < self.height and column >= 0 and column + count <= self.width
        return inside and not any((row, column + step) in self._words for step in range(count))

    def dot(self, across: float, down: float, style: str) -> None:
        """One dot, in half characters from the left and quarters of a row from the top."""
        x, y = round(across), round(down)
        cell = (y >> 2, x >> 1)
        if 0 <= cell[0] < self.height and 0 <= cell[1] < self.width:
            self._dots.setdefault(cell, [0])[0] |= _BITS[y & 3][x & 1]
            self._dot_styles[cell] = style

    def line(self, x0: float, y0: float, x1: float, y1: float, style: str, *, every: int = 1, on: int = 1) -> None:
        """A line of dots; of ``every`` dots the first ``on`` are put down."""
        steps = max(1, round(max(abs(x1 - x0), abs(y1 - y0))))
        for step in range(steps + 1):
            if step % every < on:
                share = step / steps
                self.dot(x0 + (x1 - x0) * share, y0 + (y1 - y0) * share, style)

    def path(self, points: Sequence[tuple[float, float]], style: str) -> None:
        """Lines from point to point."""
        for (x0, y0), (x1, y1) in pairwise(points):
            self.line(x0, y0, x1, y1, style)

    def band(self, column: int, top: float, bottom: float, style: str) -> None:
        """A band in one column between two heights, in half rows from the top; at least one half is filled."""
        first, last = round(top), max(round(top) + 1, round(bottom))
        for half in range(max(0, first), min(2 * self.height, last)):
            if 0 <= column < self.width:
                self._halves[half, column] = style

    def paste(self, other: Sheet, row: int, column: int) -> None:
        """Another sheet with its corner at a cell."""
        for (r, c), word in other._words.items():
            self._words[r + row, c + column] = word
        for (r, c), bits in other._dots.items():
            self._dots[r + row, c + column] = list(bits)
            self._dot_styles[r + row, c + column] = other._dot_styles[r, c]
        for (half, c), style in other._halves.items():
            self._halves[half + 2 * row, c + column] = style

    # Reading off --------------------------------------------------------------------------------------------------

    def _cell(self, row: int, column: int) -> Run:
        over, under = self._halves.get((2 * row, column), ""), self._halves.get((2 * row + 1, column), "")
        ground = "" if self.plain else under or over
        if (row, column) in self._words:
            sign, style = self._words[row, column]
            return sign, style, ground
        dots = self._dots.get((row, column))
        if dots is not None:
            style = self._dot_styles[row, column]
            return (_PLAIN_DOT.get(style, ".") if self.plain else chr(0x2800 + dots[0])), style, ground
        if not (over or under):
            return " ", "", ""
        if self.plain:
            return _BAND_SIGNS.get(under or over, ("", "."))[1], under or over, ""
        if over == under:
            return " ", "", under
        return ("▀", over, under) if over else ("▄", under, "")

    def rows(self) -> list[list[Run]]:
        """Every row as runs of one style."""
        return [self._runs(row) for row in range(self.height)]

    def _runs(self, row: int) -> list[Run]:
        runs: list[Run] = []
        sign, style, ground = self._cell(row, 0)
        for column in range(1, self.width):
            each, its, behind = self._cell(row, column)
            if its == style and behind == ground:
                sign += each
            else:
                runs.append((sign, style, ground))
                sign, style, ground = each, its, behind
        runs.append((sign, style, ground))
        return runs

    def lines(self) -> list[str]:
        """Every row as text without colour: bands by shade."""
        return ["".join(self._shaded(row)).rstrip() for row in range(self.height)]

    def _shaded(self, row: int) -> Iterable[str]:
        for column in range(self.width):
            sign, _, ground = self._cell(row, column)
            band = ground or self._halves.get((2 * row, column), "")
            yield _BAND_SIGNS[band][0] if sign in " ▀▄" and band in _BAND_SIGNS and not self.plain else sign
