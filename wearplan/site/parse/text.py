"""Text from a folder, made fit to be shown: nothing in it may steer a terminal or grow without bound."""

from __future__ import annotations

import re
from collections.abc import Iterable

# C0 (but tab and newline), DEL, C1, line separators, marks that turn or hide text, tags, lone surrogates.
# The joiners U+200C and U+200D stay: some scripts need them.
CONTROL = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u00ad\u061c\u200b\u200e\u200f\u2028-\u202e\u2060-\u206f\ufeff"
    "\ufff9-\ufffb\U000e0000-\U000e007f\ud800-\udfff]"
)
MARK = "\ufffd"
"""What stands in the place of a character that was cleaned away."""


def clean(text: str) -> str:
    """Replace every character that steers or hides (terminal escapes, direction marks) by U+FFFD."""
    return CONTROL.sub(MARK, text)


def shown(value: object, *, longest: int = 60) -> str:
    """A value from a file as it may stand in a message: cleaned, on one line, bounded in length."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list | tuple):
        return "a list"
    if isinstance(value, int) and value.bit_length() > 120:
        return "a huge whole number"
    text = value if isinstance(value, str) else str(value)
    text = clean(text[: 4 * longest]).replace("\n", " ").replace("\t", " ")
    if len(text) > longest:
        text = text[: longest - 1] + "…"
    return f'"{text}"' if isinstance(value, str) else text


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like this one, if any is like it at all."""
    import difflib

    by_fold = {item.casefold(): item for item in known}
    found = difflib.get_close_matches(word[:80].casefold(), by_fold, n=1, cutoff=0.6 if len(word) > 3 else 0.5)
    return by_fold[found[0]] if found else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """The tail of a message: the nearest known word, or all of them where they are few."""
    words = list(known)
    near = nearest(word, words)
    if near is not None:
        return f'did you mean "{clean(near)}"?'
    if not words:
        return "none is defined yet"
    few = ", ".join(f'"{clean(item)[:40]}"' for item in words[:8])
    return f"known: {few}{', …' if len(words) > 8 else ''}"
