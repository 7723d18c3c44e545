"""Sentences on the screen in which no number is torn from its unit where a line ends."""

from __future__ import annotations

from typing import Any, TypeVar

from rich.segment import Segment
from textual.color import Color
from textual.content import Content
from textual.filter import LineFilter
from textual.selection import Selection
from textual.widgets import Static

from wearplan.report.words import held

JOINER = "\u2800"
"""Stands for a blank at which no line ends, up to the last step before the terminal. The no-break space will not do:
where lines are broken it counts as any other blank."""

Said = TypeVar("Said")


def joined(words: Said) -> Said:
    """The same words, or anything else as it is, with joiners in the place of blanks that hold a number together."""
    if isinstance(words, str):
        return held(words, JOINER)  # type: ignore[return-value]
    if isinstance(words, Content):
        return Content(held(words.plain, JOINER), spans=list(words.spans))  # type: ignore[return-value]
    return words


class Prose(Static):
    """A static that keeps numbers whole."""

    def __init__(self, content: Any = "", **given: Any) -> None:
        super().__init__(joined(content), **given)

    def update(self, content: Any = "", *, layout: bool = True) -> None:
        super().update(joined(content), layout=layout)

    def get_selection(self, selection: Selection) -> tuple[str, str] | None:
        taken = super().get_selection(selection)
        return None if taken is None else (taken[0].replace(JOINER, " "), taken[1])


class Joiners(LineFilter):
    """Turns joiners into the blanks they stand for."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """The same line with blanks."""
        if not any(JOINER in segment.text for segment in segments):
            return segments
        return [Segment(text.replace(JOINER, " "), style, control) for text, style, control in segments]
