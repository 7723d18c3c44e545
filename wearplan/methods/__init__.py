"""How the numbers are worked out: short Markdown pages, each formula with its units and source.

The examples in the pages are run as tests against the code.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from importlib import resources

NAMES = ("path-and-volume", "wear-and-bands", "outlook", "planning", "repair", "demand", "fleet", "not-modelled")
"""In the order in which one builds on another."""
OF_TASK = {
    "wheel": "outlook",
    "log": "path-and-volume",
    "rates": "wear-and-bands",
    "ahead": "outlook",
    "stops": "planning",
    "store": "demand",
}
"""By the screen of the app, the page that explains its numbers."""


@dataclass(frozen=True, slots=True)
class Page:
    """One page: its name, its first heading, its whole text in Markdown."""

    name: str
    title: str
    text: str


@cache
def page(name: str) -> Page:
    """One page by its name; `KeyError` where there is none of it."""
    if name not in NAMES:
        raise KeyError(name)
    text = resources.files(__name__).joinpath(f"{name}.md").read_text(encoding="utf-8")
    return Page(name, text.partition("\n")[0].removeprefix("# "), text)


def pages() -> tuple[Page, ...]:
    """Every page, in reading order."""
    return tuple(page(name) for name in NAMES)


def without_code(text: str) -> str:
    """A page without the code of its examples; their sentences carry the numbers."""
    return re.sub(r"```python\n.*?\n```\n\n?", "", text, flags=re.DOTALL)


def unwrapped(text: str) -> str:
    """The same with each paragraph and list entry on one line; indented lines, formulas, stay as they are."""
    lines: list[str] = []
    joins = False
    for line in text.splitlines():
        own = not line.strip() or line.startswith(("    ", "#", "- ")) or re.match(r"\d+\. ", line)
        if joins and not own:
            lines[-1] += " " + line.strip()
        else:
            lines.append(line)
        joins = bool(line.strip()) and not line.startswith(("    ", "#"))
    return "\n".join(lines)
