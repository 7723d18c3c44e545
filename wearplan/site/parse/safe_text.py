"""Text from people and from strangers' files, made harmless where it comes in and where it goes out.

Markup such as ``[bold]`` or ``<b>`` is left as it was typed: a note may say ``[photo 12]``, and nothing typed is ever
lost. Whoever shows text must show it plainly; what could steer a terminal is taken out here, on the way in.
"""

from __future__ import annotations

import re
import unicodedata

from wearplan.site.parse.text import CONTROL, MARK

_ESCAPES = re.compile(
    r"""
    \x1b\[ [0-?]* [ -/]* [@-~]?                                # colours, cursor
    | (?: \x1b [\]PX^_] | [\x90\x98\x9d-\x9f] ) [^\x07\x1b\x9c\n]* (?: \x07 | \x1b\\ | \x9c )?   # titles, links
    | \x9b [0-?]* [ -/]* [@-~]?
    | \x1b [ -/]* [0-~]?
    """,
    re.VERBOSE,
)
_SURROGATES = re.compile(r"[\ud800-\udfff]")
_RUN_BY_SPREADSHEETS = "=+-@\t\r\n|%＝＋－＠"
_NUMBER = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?\Z")


def clean_text(text: str) -> str:
    """Text without terminal escapes, control characters and marks that turn the reading direction.

    Line ends become ``\\n``; blanks at both ends go. Everything else stays as it was typed.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ").replace("\u2028", "\n")
    text = text.replace("\u2029", "\n")
    text = _SURROGATES.sub(MARK, _ESCAPES.sub("", text))
    return CONTROL.sub("", text).strip()


def clean_line(text: str) -> str:
    """`clean_text` on one line: for names, serials and cells."""
    return " ".join(clean_text(text).split())


def safe_cell(text: str) -> str:
    """A cell for a CSV file that a spreadsheet will show and not run.

    Cells beginning with a character that starts a formula get an apostrophe before it; plain numbers, negative ones
    too, stay numbers. `bare_cell` takes the apostrophe off again.
    """
    start = text.lstrip(" \u00a0\u3000")
    if start and (start[0] in _RUN_BY_SPREADSHEETS or text[0] in _RUN_BY_SPREADSHEETS) and not _NUMBER.match(start):
        return "'" + text
    return text


def bare_cell(text: str) -> str:
    """The cell as it was before `safe_cell`."""
    if text.startswith("'") and safe_cell(text[1:]) == text:
        return text[1:]
    return text


def file_word(text: str, *, most: int = 24) -> str:
    """A short word of ``a-z``, digits and hyphens out of any text, fit for a part of a file's name; may be empty."""
    ascii_text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode("ascii").lower()
    return re.sub(r"[^a-z0-9]+", "-", ascii_text).strip("-")[:most].strip("-")
