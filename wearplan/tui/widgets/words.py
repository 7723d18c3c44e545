"""Words in a place of fixed size: put anew without laying out the screen again, which costs more than the paint."""

from __future__ import annotations

from textual.content import Content

from wearplan.tui.widgets.prose import Prose


class Words(Prose):
    """A static whose height the style sheet settles."""

    def __init__(self, *, id: str, classes: str | None = None) -> None:
        super().__init__("", id=id, classes=classes, markup=False)
        self._said: str | Content = ""

    def say(self, words: str | Content) -> None:
        """Show other words; nothing is painted where they are the same."""
        if words != self._said:
            self._said = words
            self.update(words, layout=False)
