"""Tables from elsewhere: any separator, either decimal sign, the usual encodings and ways to write a time."""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

from wearplan.site.parse.text import MARK

SEPARATORS = (";", "\t", ",", "|")
_SPACES = dict.fromkeys(map(ord, " \u00a0\u2007\u2009\u202f'’_"))
_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?\Z", re.ASCII)
_LOOKS_GROUPED = {
    ".": re.compile(r"[+-]?\d{1,3}(,\d{3})+(\.\d*)?\Z"),
    ",": re.compile(r"[+-]?\d{1,3}(\.\d{3})+(,\d*)?\Z"),
}
_EMPTY = frozenset({"", "-", "--", "---", "–", "—", "n/a", "na", "nan", "null", "none", "#n/a", "?"})
OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})\Z")


@dataclass(frozen=True, slots=True)
class Row:
    """One row with the line it begins at."""

    line: int
    cells: tuple[str, ...]


def decoded(content: bytes, encoding: str | None = None) -> str:
    """The text of a file; without a word on its encoding UTF-8, UTF-16 with its mark, or else Windows-1252.

    Raises
    ------
    ValueError
        If the encoding is unknown or the bytes do not fit it.
    """
    if encoding:
        try:
            return content.decode(encoding)
        except LookupError as error:
            raise ValueError(f"there is no encoding {encoding!r}") from error
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def separator_of(text: str) -> str:
    """The separator that splits most of the first lines into the same number of cells, two or more."""
    start = text[:200_000].replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    lines = [line for line in start.split("\n", 60)[:60] if line.strip()]
    best, found = (0, 0), ","
    for separator in SEPARATORS:
        try:
            counts = Counter(len(row) for row in csv.reader(lines, delimiter=separator) if len(row) > 1)
        except csv.Error:  # a cell beyond the reader's bound
            continue
        if counts:
            cells, times = max(counts.items(), key=lambda pair: (pair[1] * min(pair[0], 4), pair[0]))
            best, found = max((best, found), ((times * min(cells, 4), cells), separator), key=lambda pair: pair[0])
    return found


def rows_of(text: str, separator: str) -> list[Row]:
    """All rows that hold anything, with their lines; Markdown's ruled tables too when the separator is ``|``."""
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\0", "")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    rows: list[Row] = []
    before = 0
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return rows
        except csv.Error:  # a cell beyond the reader's bound: the row stays, to be named by who reads it
            rows.append(Row(before + 1, (MARK,)))
            before = reader.line_num
            continue
        line, before = before + 1, reader.line_num
        cells = [cell.strip() for cell in cells]
        if separator == "|":
            cells = cells[1:] if cells and not cells[0] else cells
            cells = cells[:-1] if cells and not cells[-1] else cells
            if cells and all(re.fullmatch(r":?-{2,}:?", cell) for cell in cells):
                continue
        if any(cells):
            rows.append(Row(line, tuple(cells)))


def head_word(text: str) -> str:
    """A column's head for comparison: without case, accents, blanks and signs, but with its unit."""
    text = unicodedata.normalize("NFKD", text).casefold()
    return re.sub(r"[^a-z0-9%/]+", " ", "".join(c for c in text if not unicodedata.combining(c))).strip()


def is_empty(text: str) -> bool:
    """Whether a cell says that there is no value."""
    return text.strip().casefold() in _EMPTY


def number(text: str, decimal: str = ".") -> float:
    """A number as people and machines write it.

    Parameters
    ----------
    decimal : {".", ","}
        The decimal sign; the other one is taken for a grouping of thousands where it stands as one.

    Raises
    ------
    ValueError
        If it is none.
    """
    bare = text.strip().replace("\u2212", "-").translate(_SPACES)
    if decimal == ",":
        if _LOOKS_GROUPED[","].match(bare):
            bare = bare.replace(".", "")
        bare = bare.replace(",", ".")
    elif _LOOKS_GROUPED["."].match(bare):
        bare = bare.replace(",", "")
    if not _PLAIN.match(bare):
        raise ValueError(f"{text.strip()[:40]!r} is no number")
    value = float(bare)
    if value in (float("inf"), float("-inf")):
        raise ValueError(f"{text.strip()[:40]!r} is no number")
    return value


def decimal_of(cells: Iterable[str], separator: str) -> str:
    """The decimal sign a table uses, by what stands in its cells."""
    if separator == ",":
        commas = sum(bool(re.fullmatch(r"[+-]?\d+,\d+", cell.strip())) for cell in cells)
        return "," if commas else "."
    commas = points = 0
    for cell in cells:
        commas += bool(re.fullmatch(r"[+-]?[\d.]*\d,\d*", cell.strip()))
        points += bool(re.fullmatch(r"[+-]?[\d,]*\d\.\d*", cell.strip()))
    return "," if commas > points else "."


def moment(text: str, forms: Sequence[str] = (), offset: str | None = None) -> datetime:
    """A time by one of the forms (as `datetime.strptime` has them), else by ISO 8601.

    Parameters
    ----------
    offset : str, optional
        Such as ``+01:00``, for times that carry none.

    Raises
    ------
    ValueError
        If it is no time in any of the forms.
    """
    bare = text.strip()
    found = None
    for form in forms:
        try:
            found = datetime.strptime(bare, form)
            break
        except ValueError:
            continue
    if found is None:
        if forms:
            raise ValueError(f"{bare[:40]!r} is no time of the form {' or '.join(forms)}")
        try:
            found = datetime.fromisoformat(bare)
        except ValueError as error:
            raise ValueError(f"{bare[:40]!r} is no time like 2025-11-17T22:10:00+01:00") from error
    if found.tzinfo is None and offset:
        found = found.replace(tzinfo=zone(offset))
    return found


def zone(offset: str) -> timezone:
    """The zone of an offset like ``+01:00``; `ValueError` if it is none."""
    if offset in ("Z", "UTC"):
        return timezone(timedelta(0))
    match = OFFSET.match(offset)
    if not match or int(match[2]) > 14 or int(match[3]) > 59:
        raise ValueError(f"{offset!r} is no offset like +01:00")
    away = timedelta(hours=int(match[2]), minutes=int(match[3]))
    return timezone(away if match[1] == "+" else -away)
