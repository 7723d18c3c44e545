"""A record read whole; from here it is corrected or taken back."""

from __future__ import annotations

from collections.abc import Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen

from wearplan.tui.widgets.prose import Prose

CORRECT, WITHDRAW = "correct", "withdraw"


class RecordScreen(ModalScreen[str | None]):
    """Gives what is to be done with the record, None where it was only read."""

    BINDINGS = [
        Binding("escape,enter,q", "dismiss(None)", "Close"),
        Binding("c", f"dismiss('{CORRECT}')", "Correct"),
        Binding("w", f"dismiss('{WITHDRAW}')", "Withdraw"),
    ]

    def __init__(self, title: str, lines: Sequence[str]) -> None:
        super().__init__()
        self._title, self._lines = title, lines

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog tall"):
            yield Prose(Content.styled(self._title, "bold"))
            with VerticalScroll(can_focus=True):
                yield Prose("\n".join(self._lines), markup=False, id="reading")
            yield Prose("C correct     W withdraw     Esc close", classes="choices", markup=False)
