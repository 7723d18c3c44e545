"""Small dialogs: ask for a line, choose one of a list, confirm, read."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from wearplan.tui.widgets.prose import Prose


class Ask(ModalScreen[str | None]):
    """Ask for one line; ``check`` gives a sentence when it cannot be taken."""

    BINDINGS = [Binding("escape", "dismiss(None)", "Back")]

    def __init__(
        self, question: str, *, value: str = "", hint: str = "", check: Callable[[str], str | None] | None = None
    ) -> None:
        super().__init__()
        self._question, self._value, self._hint, self._check = question, value, hint, check

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Prose(self._question, markup=False)
            yield Input(value=self._value, placeholder=self._hint, id="answer")
            yield Prose("", id="complaint", markup=False)
            yield Prose("Enter takes it     Esc goes back", classes="choices")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        complaint = self._check(event.value) if self._check else None
        if complaint:
            self.query_one("#complaint", Static).update(complaint)
        else:
            self.dismiss(event.value)


class Choose(ModalScreen[str | None]):
    """Choose one of a list of (key, text)."""

    BINDINGS = [Binding("escape", "dismiss(None)", "Back")]

    def __init__(self, question: str, choices: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._question, self._choices = question, choices

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Prose(self._question, markup=False)
            yield Prose("Arrows choose     Enter takes it     Esc goes back", classes="choices")
            yield OptionList(*(Option(Content(text), id=f"choice-{i}") for i, (_, text) in enumerate(self._choices)))

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(self._choices[event.option_index][0])


class Confirm(ModalScreen[bool]):
    """Show lines and ask yes or no. Nothing is preset: a key must be pressed."""

    BINDINGS = [
        Binding("y", "dismiss(True)", "Yes"),
        Binding("n,escape", "dismiss(False)", "No"),
    ]

    def __init__(self, title: str, lines: Sequence[str], *, yes: str = "yes", no: str = "no") -> None:
        super().__init__()
        self._title, self._lines, self._yes, self._no = title, lines, yes, no

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog tall"):
            yield Prose(Content.styled(self._title, "bold"))
            with VerticalScroll(can_focus=True):
                yield Prose("\n".join(self._lines), markup=False)
            yield Prose(f"Y {self._yes}     N {self._no}", markup=False, classes="choices")


class Read(ModalScreen[None]):
    """Something to read; any of Esc, Enter and Q closes it."""

    passing = True
    """A key that leads to a task may leave this behind."""
    BINDINGS = [Binding("escape,enter,q", "dismiss(None)", "Close")]

    def __init__(self, title: str, text: str | Content) -> None:
        super().__init__()
        self._title, self._text = title, text

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog tall"):
            yield Prose(Content.styled(self._title, "bold"))
            with VerticalScroll(can_focus=True):
                yield Prose(self._text, markup=False, id="reading")
            yield Prose("Esc closes", classes="choices")
