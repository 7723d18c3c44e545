"""The strip of the drive on the screen; a click points at a place."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import events
from textual.message import Message

from wearplan.tui.widgets.drawn import Drawn

if TYPE_CHECKING:
    from wearplan.report.drawing.strip import Strip


class StripView(Drawn, can_focus=True):
    """The drive: ground, windows, barred stretches, stops, chainage."""

    HELP = (
        "The drive as a strip. Left and right move the pointer, + and - the stretch shown, W goes to the next window; "
        "a click points. Dotted uprights: the boundary between two units may lie between them."
    )

    class Pointed(Message):
        """A place was clicked."""

        def __init__(self, driven_m: float) -> None:
            super().__init__()
            self.driven_m = driven_m

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self.strip: Strip | None = None

    def show(self, strip: Strip) -> None:
        """Show a strip."""
        self.strip = strip
        self.draw(strip.sheet)

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if self.strip is not None and offset is not None and offset.x >= self.strip.label_width:
            self.post_message(self.Pointed(self.strip.driven_m(offset.x - self.strip.label_width)))
