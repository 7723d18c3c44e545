"""Cells as numbers, dates, chainages and angles; `ValueError` says why one is none."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date, datetime, time

from wearplan.site.parse.delimited import number
from wearplan.take.files.book import Cell

_STATION = re.compile(r"(?:[A-Za-z. ]*?)\s*(-?)(\d{1,4})\s*\+\s*(\d{2,3}(?:[.,]\d+)?)\s*(?:m|ft)?\Z")
_CLOCK = re.compile(r"(\d{1,2})\s*[h:]\s*(\d{2})(?::\d{2})?\Z")
_MONTHS = {
    "jan": 1,
    "ene": 1,
    "feb": 2,
    "fev": 2,
    "mar": 3,
    "mrz": 3,
    "apr": 4,
    "avr": 4,
    "abr": 4,
    "may": 5,
    "mai": 5,
    "jun": 6,
    "juin": 6,
    "jul": 7,
    "juil": 7,
    "aug": 8,
    "aou": 8,
    "ago": 8,
    "sep": 9,
    "oct": 10,
    "okt": 10,
    "nov": 11,
    "dec": 12,
    "dez": 12,
    "dic": 12,
}
_DATE = re.compile(
    r"(\d{1,4})\s*[./-]\s*(\d{1,2}|[A-Za-zéû]{3,5}\.?)\s*[./-]\s*(\d{2,4})(?:[ T]+(\d{1,2})[:h](\d{2})(?::(\d{2}))?)?\Z"
)

_MONTH_WORD = r"([A-Za-zéûäè]{3,10})\.?"
_CLOCK_AFTER = r"(?:,?[ T]+(\d{1,2})[:h](\d{2})(?::(\d{2}))?)?\Z"
_SPELT = (
    re.compile(
        rf"(?:le )?(?P<day>\d{{1,2}})(?:\.|er|st|nd|rd|th)?\s+(?:de )?{_MONTH_WORD},?\s+(?:de )?(\d{{2,4}})"
        + _CLOCK_AFTER
    ),
    re.compile(rf"{_MONTH_WORD}\s+(?P<day>\d{{1,2}})(?:st|nd|rd|th)?,?\s+(\d{{4}}){_CLOCK_AFTER}"),
)
"""Dates with the month in words: 7 March 2025, Mar 7, 2025, 7 de marzo de 2025."""


def comma_decimals(cells: Iterable[Cell]) -> bool:
    """Whether text numbers of a sheet use the decimal comma."""
    commas = points = 0
    for cell in cells:
        if isinstance(cell.value, str):
            bare = cell.value.replace("\u00a0", " ")
            commas += bool(re.search(r"\d,\d{1,2}\b|\d,\d{4,}|\b0,\d+", bare))
            points += bool(re.search(r"(?<![\d./])\d+\.\d+(?![\d./])", bare))
    return commas > points


def number_of(cell: Cell, comma: bool) -> float:
    """A number: as one, or as text with blanks, a unit, a currency and either decimal sign."""
    if cell.trouble:
        raise ValueError(cell.trouble)
    if isinstance(cell.value, (bool, datetime, date, time)):
        raise ValueError(f"{cell.text!r} is a date, no number" if not isinstance(cell.value, bool) else "is no number")
    if isinstance(cell.value, float):
        return cell.value
    bare = re.sub(r"\s*(mm|cm|m|kN|MN|bar|€|EUR|USD|\$|£|CHF|°|%|\"|deg|h|d|days|Tage)\s*\Z", "", cell.text).strip()
    bare = re.sub(r"\A(€|EUR|USD|\$|£|CHF)\s*", "", bare)
    if re.fullmatch(r"[+-]?\d+,\d{1,2}", bare) or (comma and "," in bare):
        return number(bare, ",")
    return number(bare, "," if comma and re.fullmatch(r"[+-]?\d{1,3}(\.\d{3})+", bare) else ".")


def chainage_of(cell: Cell, comma: bool) -> tuple[float, int]:
    """A chainage in its own unit, and the base of its station: 1000, 100 (stations of 100) or 0 for a plain number."""
    if isinstance(cell.value, str):
        match = _STATION.match(cell.text)
        if match:
            base = 1000 if len(re.split("[.,]", match[3])[0]) == 3 else 100
            value = base * int(match[2]) + float(match[3].replace(",", "."))
            return (-value if match[1] else value), base
        bare = re.sub(r"\A\s*(PK|PM|Ch\.?|Sta\.?|km|TM|St\.?)\s*", "", cell.text, flags=re.I)
        return number_of(Cell(bare), comma), 0
    return number_of(cell, comma), 0


def day_of(cell: Cell, day_first: bool | None = None) -> datetime:
    """A date, with its time where one is written.

    Parameters
    ----------
    day_first : bool, optional
        Where both could be meant; None takes the day first.
    """
    if cell.trouble:
        raise ValueError(cell.trouble)
    if isinstance(cell.value, datetime):
        return cell.value
    if not isinstance(cell.value, str):
        raise ValueError(f"{cell.text!r} is no date")
    text = cell.text.strip()
    match = _DATE.match(text)
    if not match:
        spelt = _spelt(text)
        if spelt is not None:
            return spelt
        try:
            return datetime.fromisoformat(text)
        except ValueError:
            raise ValueError(f"{text[:40]!r} is no date") from None
    first, second, third = match[1], match[2].rstrip("."), match[3]
    clock = (int(match[4] or 0), int(match[5] or 0), int(match[6] or 0))
    if not second.isdigit():
        return datetime(_year(third), _month(second), int(first), *clock)
    if len(first) == 4:
        return datetime(int(first), int(second), int(third), *clock)
    day, month = (int(first), int(second)) if day_first is not False or "." in text else (int(second), int(first))
    if month > 12 >= day and day_first is None:
        day, month = month, day
    return datetime(_year(third), month, day, *clock)


def _month(word: str) -> int:
    """A month by its word; 0 for no month."""
    key = word.casefold().translate(str.maketrans("éèûä", "eeua"))
    return next((value for name, value in _MONTHS.items() if key.startswith(name)), 0)


def _spelt(text: str) -> datetime | None:
    """A date whose month is written as a word between blanks; None for anything else."""
    for pattern in _SPELT:
        match = pattern.match(text)
        if match and (month := next((found for word in match.groups() if word and (found := _month(word))), 0)):
            year, hour, minute, second = match.groups()[-4:]
            clock = (int(hour or 0), int(minute or 0), int(second or 0))
            return datetime(_year(year), month, int(match["day"]), *clock)
    return None


def _year(text: str) -> int:
    return int(text) if len(text) == 4 else 2000 + int(text)


def looks_like_day(cell: Cell) -> bool:
    """Whether a cell is a date or written as one."""
    if isinstance(cell.value, datetime):
        return True
    try:
        day_of(cell)
    except (ValueError, TypeError):
        return False
    return True


def both_orders(cells: Iterable[Cell]) -> bool:
    """Whether every text date among them could be read with the day or with the month first."""
    found = False
    for cell in cells:
        if isinstance(cell.value, datetime):
            continue
        match = _DATE.match(cell.text) if isinstance(cell.value, str) else None
        if match and match[2].isdigit() and len(match[1]) < 4:
            if "." in cell.text or int(match[1]) > 12 or int(match[2]) > 12:
                return False
            found = True
    return found


def day_order(cells: Iterable[Cell]) -> bool | None:
    """Whether text dates have the day first, by a value that can be read one way only; None where none decides."""
    for cell in cells:
        match = _DATE.match(cell.text) if isinstance(cell.value, str) else None
        if match and match[2].isdigit() and len(match[1]) < 4:
            if "." in cell.text or int(match[1]) > 12:
                return True
            if int(match[2]) > 12:
                return False
    return None


def clock_minutes(cell: Cell) -> float | None:
    """Minutes of a clock position such as ``4h34`` or ``4:34``; None for anything else."""
    if isinstance(cell.value, time):
        return cell.value.hour * 60.0 + cell.value.minute
    match = _CLOCK.match(cell.text) if isinstance(cell.value, str) else None
    return int(match[1]) * 60.0 + int(match[2]) if match and int(match[1]) <= 12 and int(match[2]) < 60 else None
