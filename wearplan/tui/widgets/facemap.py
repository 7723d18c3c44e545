"""The face of the wheel on the screen: marks drawn by line, one place selected."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.strip import Strip
from textual.widget import Widget

from wearplan.report.drawing.face import Face, Mark, lay_out
from wearplan.tui.theme import LEVEL_STYLES

_RIM = Style.parse("#3d4b59")
_PICK = Style.parse("reverse")


class FaceMap(Widget, can_focus=True):
    """The wheel, seen from the machine, to scale."""

    HELP = (
        "The face of the wheel, to scale, seen from the machine. Arrows go from tool to tool, digits then Enter pick a "
        "number, a click picks what is under it. S changes what the marks say, I tells what they mean."
    )
    selected: reactive[int] = reactive(0, repaint=False)

    class Picked(Message):
        """Another place was picked."""

        def __init__(self, number: int) -> None:
            super().__init__()
            self.number = number

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self._marks: tuple[Mark, ...] = ()
        self._bore_radius_mm = 1.0
        self.face: Face | None = None
        self._cells: list[list[tuple[int, str, Style, int]]] = []
        self._level_styles = {level: Style.parse(text) for level, text in LEVEL_STYLES.items()}

    def draw(self, marks: Sequence[Mark], bore_radius_mm: float) -> None:
        """Show marks; laid out anew only when they or the size changed."""
        if tuple(marks) == self._marks and self.face is not None and self._fits():
            return
        self._marks, self._bore_radius_mm = tuple(marks), bore_radius_mm
        self._lay_out()

    def _fits(self) -> bool:
        return self.face is not None and (self.face.width, self.face.height) == (self.size.width, self.size.height)

    def on_resize(self, event: events.Resize) -> None:
        self._lay_out()

    def _lay_out(self) -> None:
        if not self._marks or self.size.width < 12 or self.size.height < 5:
            return
        self.face = lay_out(
            self._marks, bore_radius_mm=self._bore_radius_mm, width=self.size.width, height=self.size.height
        )
        self._cells = [[] for _ in range(self.face.height)]
        for row, column in self.face.rim:
            self._cells[row].append((column, ".", _RIM, 0))
        for placed in self.face.placed:
            style = self._level_styles.get(placed.mark.level, self._level_styles["plain"])
            self._cells[placed.row].append((placed.column, placed.text, style, placed.mark.number))
        for cells in self._cells:
            cells.sort()
        self.refresh()

    def get_content_width(self, container: Size, viewport: Size) -> int:
        return container.width

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        if self.face is None or y >= len(self._cells):
            return Strip.blank(width, self.rich_style)
        base = self.rich_style
        segments, at = [], 0
        for column, text, style, number in self._cells[y]:
            if column < at:
                continue
            if column > at:
                segments.append(Segment(" " * (column - at), base))
            picked = number and number == self.selected
            segments.append(Segment(text, base + style + _PICK if picked else base + style))
            at = column + len(text)
        segments.append(Segment(" " * max(0, width - at), base))
        return Strip(segments, max(at, width))

    def watch_selected(self, before: int, after: int) -> None:
        if self.face is None:
            return
        for placed in self.face.placed:
            if placed.mark.number in (before, after):
                self.refresh_line(placed.row)

    def refresh_line(self, row: int) -> None:
        """Paint one line of the wheel again."""
        from textual.geometry import Region

        self.refresh(Region(0, row, self.size.width, 1))

    def pick(self, number: int) -> None:
        """Select a place and say so."""
        if number != self.selected:
            self.selected = number
            self.post_message(self.Picked(number))

    def step(self, down: int, right: int) -> None:
        """To the next tool in a direction."""
        if self.face is not None:
            self.pick(self.face.neighbour(self.selected, down, right))

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if self.face is None or offset is None:
            return
        found = self.face.at(offset.y, offset.x)
        if found is not None:
            self.pick(found)
