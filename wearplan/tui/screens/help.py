"""Help: what the part in focus does, and every key of this screen, from the table of actions."""

from __future__ import annotations

from typing import Any

from textual.content import Content
from textual.screen import Screen

from wearplan import methods
from wearplan.tui.actions import Action, actions_of, key_words
from wearplan.tui.widgets.dialogs import Read


class HelpScreen(Read):
    """The help for one screen."""

    @classmethod
    def about(cls, screen: Screen[Any]) -> HelpScreen:
        """Help for a screen and the widget in focus there."""
        focused = screen.focused
        words = ""
        node: Any = focused
        while node is not None and not words:
            words = str(getattr(node, "help_text", None) or getattr(node, "HELP", None) or "")
            node = node.parent
        task = getattr(screen, "task_name", "")
        keys = dict(screen.app._keymap)  # the user's own keys, shown as they are
        parts: list[Content] = [Content(words or str(screen.__doc__ or "").strip().splitlines()[0]), Content("")]
        notes = str(getattr(screen, "NOTES", ""))
        if notes:
            parts += [Content(notes), Content("")]
        own = actions_of(task)
        if own:
            parts += [Content.styled("On this screen", "bold"), *(_row(action, keys) for action in own), Content("")]
        parts += [Content.styled("Everywhere", "bold"), *(_row(action, keys) for action in actions_of("app"))]
        if task in methods.OF_TASK:
            parts += [Content(""), *_method(methods.page(methods.OF_TASK[task]))]
        return cls("Help", Content("\n").join(parts))


def _method(page: methods.Page) -> list[Content]:
    """How the numbers of this screen are worked out."""
    head, _, text = methods.without_code(page.text).partition("\n")
    lines = [
        Content.styled(line.lstrip("# "), "bold") if line.startswith("#") else Content(line)
        for line in methods.unwrapped(text).strip().splitlines()
    ]
    more = Content("Every page, with its examples as code: wearplan methods")
    return [
        Content.styled(f"How it is worked out: {head.lstrip('# ')}", "bold"),
        Content(""),
        *lines,
        Content(""),
        more,
    ]


def _row(action: Action, keys: dict[str, str]) -> Content:
    key = key_words(keys.get(action.name, action.key))
    return Content.assemble((f"{key:<12} ", "bold $primary"), f"{action.label}: {action.help}")
