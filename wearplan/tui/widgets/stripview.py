"""The strip of the drive on the screen; a click points at a place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.strip import Strip as Line
from textual.widget import Widget

from wearplan.tui.theme import STRIP_STYLES

if TYPE_CHECKING:
    from wearplan.report.drawing.strip import Strip

_GROUND = (
    "#e6c79c", "#8fb8de", "#b8a1d9", "#e0e0e0", "#7fa37f", "#d98c8c", "#6fc3c3", "#b0b0b0",
)  # fmt: skip


class StripView(Widget, can_focus=True):
    """The drive: ground, windows, keep-outs, stops, tools past their limit, chainage."""

    HELP = (
        "The drive as a strip. Left and right move the pointer, + and - the stretch shown, W goes to the next window; "
        "a click points. Small letters: the boundary between two units may lie here."
    )

    class Pointed(Message):
        """A place was clicked."""

        def __init__(self, driven_m: float) -> None:
            super().__init__()
            self.driven_m = driven_m

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.strip: Strip | None = None
        self._key_styles = {key: Style.parse(text) for key, text in STRIP_STYLES.items()}
        self._letters: dict[str, Style] = {}

    def draw(self, strip: Strip) -> None:
        """Show a strip."""
        resized = self.strip is None or len(self.strip.rows) != len(strip.rows)
        self.strip = strip
        letters = sorted(
            {sign.upper() for row in strip.rows if row.key.startswith("ground") for sign in row.text if sign.isalpha()}
        )
        self._letters = {sign: Style.parse(_GROUND[i % len(_GROUND)]) for i, sign in enumerate(letters)}
        self.refresh(layout=resized)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        return len(self.strip.rows) if self.strip is not None else 1

    def render_line(self, y: int) -> Line:
        width, base = self.size.width, self.rich_style
        if self.strip is None or y >= len(self.strip.rows):
            return Line.blank(width, base)
        row = self.strip.rows[y]
        segments = [Segment(f"{row.label:<{self.strip.label_width}}", base + STYLE_LABEL)]
        if row.key.startswith("ground"):
            at = 0
            while at < len(row.text):
                end = at
                while end < len(row.text) and row.text[end].upper() == row.text[at].upper():
                    end += 1
                style = self._letters.get(row.text[at].upper(), Style())
                segments.append(Segment(row.text[at:end], base + style))
                at = end
        else:
            segments.append(Segment(row.text, base + self._key_styles.get(row.key, Style())))
        return Line(segments).adjust_cell_length(width, base)

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if self.strip is None or offset is None:
            return
        column = offset.x - self.strip.label_width
        if column >= 0:
            self.post_message(self.Pointed(self.strip.driven_m(column)))


STYLE_LABEL = Style.parse("#7f98ad")
