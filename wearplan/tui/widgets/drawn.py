"""A drawing sheet on the screen: only the characters that changed are painted again."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.content import Content
from textual.geometry import Region, Size
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from wearplan.report.drawing.sheet import Run, Sheet
from wearplan.tui.theme import GROUNDS, SHEET_STYLES


@cache
def style_of(style: str, ground: str) -> Style:
    """Colours of a style in front of a band."""
    front = Style.parse(SHEET_STYLES.get(style, ""))
    if ground and front.bgcolor is None:
        front += Style.parse(f"on {GROUNDS.get(ground, '#2f5d82')}")
    return front


def words_of(pieces: tuple[tuple[str, str], ...]) -> Content:
    """Pieces of a line with their styles."""
    return Content.assemble(*((text, SHEET_STYLES.get(style, "")) for text, style in pieces))


class Drawn(Widget):
    """Shows a sheet; a click says on which character."""

    class Pointed(Message):
        """A character was clicked."""

        def __init__(self, drawn: Drawn, row: int, column: int) -> None:
            super().__init__()
            self.drawn, self.row, self.column = drawn, row, column

        @property
        def control(self) -> Drawn:
            return self.drawn

    def __init__(self, *, id: str, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._rows: list[list[Run]] = []
        self._kept: tuple[Style, list[Strip | None]] | None = None
        self._fill: Callable[[int, int], Sheet] | None = None

    def fill(self, fill: Callable[[int, int], Sheet]) -> None:
        """Show what a function draws for a width and a height, now and whenever the size becomes another one."""
        self._fill = fill
        self._refill()

    def _refill(self) -> None:
        width, height = self.size
        if self._fill is not None and width >= 8 and height >= 2:
            self.draw(self._fill(width, height))

    def on_resize(self) -> None:
        self._refill()

    def draw(self, sheet: Sheet | None) -> None:
        """Show a sheet; None clears."""
        rows = sheet.rows() if sheet is not None else []
        before, self._rows, self._kept = self._rows, rows, None
        if len(before) != len(rows):
            # only where the sheet gives the height must the screen be laid out anew, which paints all of it
            height = self.styles.height
            self.refresh(layout=height is None or height.is_auto)
            return
        for y, (old, new) in enumerate(zip(before, rows, strict=True)):
            if old != new:
                first, last = _differing(old, new)
                self.refresh(Region(first, y, last - first + 1, 1))

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self._rows)

    def render_line(self, y: int) -> Strip:
        base = self.rich_style
        if self._kept is None or self._kept[0] != base:
            self._kept = (base, [None] * len(self._rows))
        if y >= len(self._rows):
            return Strip.blank(self.size.width, base)
        strip = self._kept[1][y]
        if strip is None:
            strip = self._kept[1][y] = Strip(_segments(self._rows[y], base))
        return strip.adjust_cell_length(self.size.width, base)

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if offset is not None:
            self.post_message(self.Pointed(self, offset.y, offset.x))


def _segments(runs: list[Run], base: Style) -> list[Segment]:
    """Runs as segments; blanks go on in the colour before them, since every change of colour is some 40 bytes."""
    segments: list[Segment] = []
    for text, style, ground in runs:
        colours = base + style_of(style, ground)
        last = segments[-1] if segments else None
        same = last is not None and (
            last.style == colours or (not ground and text.isspace() and last.style is not None
                                      and last.style.bgcolor == base.bgcolor and not last.style.reverse)
        )  # fmt: skip
        if last is not None and same:
            segments[-1] = Segment(last.text + text, last.style)
        else:
            segments.append(Segment(text, colours))
    return segments


def _differing(old: list[Run], new: list[Run]) -> tuple[int, int]:
    """First and last character in which two rows differ."""
    one = [(sign, style, ground) for text, style, ground in old for sign in text]
    two = [(sign, style, ground) for text, style, ground in new for sign in text]
    if len(one) != len(two):
        return 0, max(len(one), len(two))
    differ = [index for index, (a, b) in enumerate(zip(one, two, strict=True)) if a != b]
    return differ[0], differ[-1]
