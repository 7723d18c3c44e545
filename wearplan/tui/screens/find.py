"""Find: a place by number or serial, a window, a stop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList
from textual.widgets.option_list import Option

from wearplan.tui.commands import findable
from wearplan.tui.widgets.prose import Prose

if TYPE_CHECKING:
    from wearplan.tui.host import Host

MOST = 30


class FindScreen(ModalScreen[tuple[str, str] | None]):
    """Type a part of a number, serial or name; Enter goes there."""

    app: Host
    BINDINGS = [
        Binding("escape", "dismiss(None)", "Back"),
        Binding("down", "move(1)", show=False),
        Binding("up", "move(-1)", show=False),
    ]

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Input(placeholder="number, serial, window or stop", id="wanted")
            yield Prose("Arrows choose     Enter goes there     Esc goes back", classes="choices")
            yield OptionList(id="found")

    def on_mount(self) -> None:
        self._all = list(findable(self.app))
        self._found: list[tuple[str, str, str]] = []
        self._list("")

    def on_input_changed(self, event: Input.Changed) -> None:
        self._list(event.value)

    def _list(self, wanted: str) -> None:
        words = wanted.casefold().split()
        hits = [row for row in self._all if all(word in row[0].casefold() for word in words)]
        hits.sort(key=lambda row: row[2] not in words)  # the number itself before what merely holds its digits
        self._found = hits[:MOST]
        listed = self.query_one(OptionList)
        listed.clear_options()
        listed.add_options([Option(Content(text)) for text, _, _ in self._found])
        if self._found:
            listed.highlighted = 0

    def action_move(self, way: int) -> None:
        listed = self.query_one(OptionList)
        if self._found:
            listed.highlighted = ((listed.highlighted or 0) + way) % len(self._found)

    def on_input_submitted(self) -> None:
        self._take(self.query_one(OptionList).highlighted)

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self._take(event.option_index)

    def _take(self, index: int | None) -> None:
        if index is not None and index < len(self._found):
            _, task, key = self._found[index]
            self.dismiss((task, key))
