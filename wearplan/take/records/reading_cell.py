"""One cell of readings, taken apart: values, bounds, words, and what it says of a change."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from wearplan.take.files.book import Cell
from wearplan.take.find.words import CHANGED, CONDITIONS, NOT_READ, is_word, plain_word, word_for

_VALUE = re.compile(
    r"\s*([<>≤≥]|(?:ca\.?|~)\s)?\s*(-?\d+(?:[.,]\d+)?(?:\s*[-–|;]\s*\d+(?:[.,]\d+)?)*)\s*(mm|cm|%)?\s*", re.I
)


@dataclass(slots=True)
class Raw:
    """What a reading cell says, in the sheet's own measure."""

    values: tuple[float, ...] = ()
    sign: str = ""
    """``<``, ``>`` or nothing."""
    pair: tuple[float, ...] = ()
    """The values behind a stroke, as in ``12 / 0``."""
    condition: str | None = None
    not_read: str | None = None
    changed: bool = False
    percent: bool = False
    unknown: list[str] = field(default_factory=list)
    date: tuple[int, int] | None = None
    """Day and month, where the spreadsheet made a date of a number."""
    trouble: str = ""
    typed: str = ""
    """The number meant where letters stand for digits, as in ``1O.5``."""


def raw_of(cell: Cell, words: Mapping[str, tuple[str, str]]) -> Raw:
    """A cell taken apart; ``words`` are the sheet's own legend, which goes before the words known here."""
    raw = Raw()
    if cell.trouble:
        raw.trouble = cell.trouble
    elif isinstance(cell.value, float):
        raw.values = (cell.value,)
    elif hasattr(cell.value, "month"):
        raw.date = (cell.value.day, cell.value.month)  # type: ignore[union-attr]
    elif isinstance(cell.value, str):
        _of_text(raw, " ".join(cell.text.replace("\n", " ").split()), words)
    return raw


def _of_text(raw: Raw, text: str, words: Mapping[str, tuple[str, str]]) -> None:
    """Values, bounds and words of a text."""
    digits = text.translate(str.maketrans("OoIl", "0011"))
    if digits != text and re.search(r"\d", text) and re.fullmatch(r"\d+([.,]\d+)?", digits):
        raw.typed = digits.replace(",", ".")
        return
    _words(raw, text, words)
    if raw.not_read or (raw.changed and not re.search(r"\d", text)):
        return
    raw.unknown = []
    found: list[tuple[float, ...]] = []
    for part in re.split(r"\s*/\s*|\s*→\s*|\s*->\s*", text):
        match = _VALUE.match(part)
        if match is not None:
            found.append(_numbers(raw, match))
            _words(raw, part[match.end() :], words)
        elif part.strip():
            _words(raw, part, words)
    if len(found) > 2 and all(len(numbers) == 1 for numbers in found):
        raw.values = tuple(numbers[0] for numbers in found)
    elif found:
        raw.values = found[0]
        raw.pair = found[1] if len(found) > 1 else ()


def _numbers(raw: Raw, match: re.Match[str]) -> tuple[float, ...]:
    """The numbers of one part of a cell, in the sheet's own measure; its sign and unit are noted."""
    if match[1] and match[1] in "<>≤≥":
        raw.sign = "<" if match[1] in "<≤" else ">"
    raw.percent = raw.percent or match[3] == "%"
    spread = re.sub(r"(?<=\d)\s*[-–|;]\s*", " ", match[2])
    texts = re.findall(r"(?<![\d.,])-?\d+(?:[.,]\d+)?|\d+(?:[.,]\d+)?", spread)
    factor = 10 if (match[3] or "").lower() == "cm" else 1
    return tuple(factor * float(text.replace(",", ".")) for text in texts)


def _words(raw: Raw, text: str, words: Mapping[str, tuple[str, str]]) -> None:
    """The words of a cell or of its rest: the whole first, then word by word."""
    text = text.strip(" ,;.()*:")
    if not text:
        return
    pieces = text.split()
    changed = [piece for piece in pieces if _is_changed(piece, words)]
    raw.changed = raw.changed or bool(changed)
    bare = " ".join(piece for piece in pieces if piece not in changed)
    if not bare or _known(raw, bare, words) or (not changed and is_word(text, CHANGED)):
        return
    unknown = [
        piece
        for piece in bare.split()
        if not re.fullmatch(r"[\d.,<>/ -]+", piece) and not _known(raw, piece, words) and any(map(str.isalpha, piece))
    ]
    if unknown and not re.search(r"\d", bare) and unknown == bare.split():
        unknown = [bare]  # words that stand alone mean something together
    raw.unknown += unknown


def _is_changed(piece: str, words: Mapping[str, tuple[str, str]]) -> bool:
    what = words.get(plain_word(piece), ("", ""))[0]
    return what == "changed" or (not what and is_word(piece, CHANGED))


def _known(raw: Raw, piece: str, words: Mapping[str, tuple[str, str]]) -> bool:
    what, ours = words.get(plain_word(piece), ("", ""))
    if what == "none":
        return True
    if what == "not_read" or (not what and not re.search(r"\d", piece) and word_for(piece, NOT_READ)):
        raw.not_read = ours or word_for(piece, NOT_READ)
        return True
    if what == "condition" or (not what and word_for(piece, CONDITIONS)):
        raw.condition = raw.condition or ours or word_for(piece, CONDITIONS)
        return True
    return False
