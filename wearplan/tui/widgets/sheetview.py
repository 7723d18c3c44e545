"""The sheet on the screen: one line a place, drawn line by line, so that a key paints one line only."""

from __future__ import annotations

from dataclasses import dataclass, field

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Region, Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from wearplan.report.words import plain
from wearplan.tui.display import Display
from wearplan.tui.entry.sheet import Line

_DIM = Style.parse("#7f98ad")
_TYPED = Style.parse("bold #e6e8ea")
_EMPTY = Style.parse("#c9a7eb")
_ODD = Style.parse("bold #f2a541")
_CURSOR = Style.parse("on #23405c")
HEAD = " place {type} zone     last  limit  wear          condition   fitted"
ROOMY = 100
"""Characters from which tool types are written out."""


@dataclass(slots=True)
class Row:
    """What a line of the sheet shows."""

    number: int
    tool_type: str
    zone: str
    last_mm: float | None
    limit_mm: float | None
    line: Line = field(default_factory=Line)
    odd: bool = False


class SheetView(ScrollView, can_focus=True):
    """The places in walking order, with what was typed."""

    HELP = "The sheet. Type a wear and press Enter; F1 lists the single keys. An empty line is NOT READ."

    class Pressed(Message):
        """A key for the sheet."""

        def __init__(self, key: str, character: str | None) -> None:
            super().__init__()
            self.key, self.character = key, character

    class Clicked(Message):
        """A line was clicked."""

        def __init__(self, index: int) -> None:
            super().__init__()
            self.index = index

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.places: list[Row] = []
        self.at = 0
        self.buffer: str | None = None
        self.units = Display()

    def fill(self, places: list[Row], units: Display) -> None:
        """Show other rows."""
        self.places, self.units = places, units
        self.virtual_size = Size(80, len(places) + 1)
        self.refresh()

    def on_resize(self) -> None:
        # before the first one there is no height to bring the row into; later a smaller terminal may hide it
        self.move_to(self.at)

    def move_to(self, index: int) -> None:
        """Put the cursor on a row and bring it into view."""
        before, self.at = self.at, max(0, min(len(self.places) - 1, index))
        self.repaint(before)
        self.repaint(self.at)
        height = max(1, self.size.height - 1)
        top = round(self.scroll_offset.y)
        if self.at < top:
            self.scroll_to(y=self.at, animate=False, immediate=True)
        elif self.at >= top + height:
            self.scroll_to(y=self.at - height + 1, animate=False, immediate=True)

    def repaint(self, index: int) -> None:
        """Paint one row again."""
        y = index - round(self.scroll_offset.y) + 1
        if 0 < y < self.size.height:
            self.refresh(Region(0, y, self.size.width, 1))

    @property
    def _type_width(self) -> int:
        return 18 if self.size.width >= ROOMY else 10

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        base = self.rich_style
        if y == 0:
            head = HEAD.format(type=f"{'type':<{self._type_width}}")
            return Strip([Segment(head.ljust(width)[:width], base + _DIM + Style(underline=True))], width)
        index = y - 1 + round(self.scroll_offset.y)
        if index >= len(self.places):
            return Strip.blank(width, base)
        row, here = self.places[index], index == self.at
        base = base + _CURSOR if here else base
        segments = [Segment(text, base + style) for text, style in self._parts(row, here)]
        return Strip(segments).adjust_cell_length(width, base)

    def _parts(self, row: Row, here: bool) -> list[tuple[str, Style]]:
        line, units = row.line, self.units
        last = units.wear(row.last_mm) if row.last_mm is not None else "never"
        limit = units.wear(row.limit_mm) if row.limit_mm is not None else ""
        if here and self.buffer is not None:
            value, style = f"{self.buffer}_", _TYPED
        elif line.read:
            value, style = line.wear, _ODD if row.odd else _TYPED
        elif line.not_read:
            value, style = line.not_read.removeprefix("seen, "), _EMPTY
        else:
            value, style = ("_" if here else "NOT READ"), _EMPTY
        sign, kind = "!" if row.odd else " ", self._type_width
        tail = [plain(line.serial or ""), f"({plain(line.note)})" if line.note else ""]
        return [
            (f"{'>' if here else ' '}{row.number:>5} ", _TYPED if here else Style()),
            (f"{plain(row.tool_type)[:kind]:<{kind}} {row.zone:<6.6} ", _DIM),
            (f"{last:>6} {limit:>6} ", Style()),
            (f"{sign}{value:<13.13} ", style),
            (f"{line.condition or '':<11} ", Style()),
            (f"{fitted_words(line)} {' '.join(part for part in tail if part)}".strip(), _TYPED),
        ]

    def on_key(self, event: events.Key) -> None:
        if event.key in ("f1", "f10", "escape", "tab", "shift+tab") or event.key.startswith("ctrl+"):
            return
        event.stop()
        event.prevent_default()
        self.post_message(self.Pressed(event.key, event.character))

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if offset is not None and offset.y > 0:
            index = offset.y - 1 + round(self.scroll_offset.y)
            if index < len(self.places):
                self.post_message(self.Clicked(index))


def fitted_words(line: Line) -> str:
    """What was fitted, short."""
    if not line.action:
        return ""
    words = line.action
    words += f" from {line.from_position}" if line.from_position is not None else ""
    words += f">{line.old_to}" if line.old_to else ""
    words += f", {line.reason}" if line.reason else ""
    return words + (f", new {plain(line.new_serial)}" if line.new_serial else "")
