"""Charts of text with colour put on by sign; the signs alone say the same."""

from __future__ import annotations

import re
from collections.abc import Sequence

from textual.content import Content

_STYLES = (
    (re.compile("[░]+"), "#2f5d82"),
    (re.compile("[▒]+"), "#5a97c4"),
    (re.compile("[█]+"), "#bfe3ff"),
    (re.compile("[╌]+"), "bold #f2a541"),
    (re.compile("[│└─┤]+"), "#55636f"),
    (re.compile(r"(?<=[ ░▒█╌┤])o(?=[ ░▒█╌│o]|$)"), "bold #ffffff"),
)


def coloured(lines: Sequence[str]) -> Content:
    """Lines of a fan with the bands in blues and the limit in orange."""
    content = Content("\n".join(lines))
    for pattern, style in _STYLES:
        for match in pattern.finditer(content.plain):
            content = content.stylize(style, match.start(), match.end())
    return content
