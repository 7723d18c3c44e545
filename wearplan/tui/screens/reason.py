"""A reason with its numbers; Enter goes on to the readings of the place."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen

from wearplan.tui.widgets.prose import Prose


class ReasonScreen(ModalScreen[None]):
    """Words on one row; with a place, Enter opens the life of the tool there."""

    passing = True
    BINDINGS = [Binding("escape,q", "dismiss(None)", "Close"), Binding("enter", "readings", "Readings")]

    def __init__(self, title: str, lines: Sequence[str], place: int | None) -> None:
        super().__init__()
        self._title, self._lines, self._place = title, lines, place

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog tall"):
            yield Prose(Content.styled(self._title, "bold"))
            with VerticalScroll(can_focus=False):
                yield Prose("\n".join(self._lines), markup=False, id="reading")
            tail = "Enter: the readings of this place     " if self._place is not None else ""
            yield Prose(f"{tail}Esc closes", classes="choices")

    def action_readings(self) -> None:
        if self._place is None:
            self.dismiss(None)
            return
        from wearplan.tui.screens.life import LifeScreen

        self.app.switch_screen(LifeScreen(self._place))
