"""What people type, on a sheet or in the app, as values: one understanding of a number, a time, a wear.

Each function raises `ValueError` with a sentence that says what to do; where it stands is for the caller to say.
"""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta
from typing import Any

from wearplan.site.parse.safe_text import clean_line, clean_text
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.records.key import Described

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)\Z", re.ASCII)
_STATION = re.compile(r"(-?)(?:(\d{1,4})\s*\+\s*)?(\d+(?:\.\d*)?)\Z", re.ASCII)
_CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})\Z", re.ASCII)
_DAY_FIRST = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})(?:[ ,]+(\d{1,2})[:.](\d{2}))?\Z", re.ASCII)
_MOST_MM = 1000.0


def number(text: str) -> float:
    """A number with either decimal sign and nothing grouped."""
    bare = text.strip().replace("\u2212", "-").replace(",", ".")
    if not _NUMBER.match(bare):
        raise ValueError(f"{shown(text.strip())} is no number")
    return float(bare)


def chainage(text: str) -> float:
    """A chainage in metres, as ``2345.6`` or ``2+345.6``."""
    found = _STATION.match(text.strip().replace("\u2212", "-").replace(",", "."))
    if not found:
        raise ValueError(f"{shown(text.strip())} is no chainage; type 2345.6 or 2+345.6")
    metres = 1000.0 * int(found[2] or 0) + float(found[3])
    return -metres if found[1] else metres


def moment(text: str, now: datetime | None = None) -> datetime:
    """A time as people write it; without an offset where none is written.

    Parameters
    ----------
    now : datetime, optional
        With it ``22:10``, ``today 22:10`` and ``yesterday 22:10`` are times too, of its own offset.
    """
    bare = text.strip()
    day_first = _DAY_FIRST.match(bare)
    try:
        if day_first:
            day, month, year, hour, minute = (int(part or 0) for part in day_first.groups())
            return datetime(year, month, day, hour, minute)
        if now is not None:
            day_word, _, rest = bare.casefold().rpartition(" ")
            clock = _CLOCK.match(rest)
            back = {"": 0, "today": 0, "yesterday": 1}.get(day_word.strip())
            if clock and back is not None:
                then = now - timedelta(days=back)
                return then.replace(hour=int(clock[1]), minute=int(clock[2]), second=0, microsecond=0)
        return datetime.fromisoformat(bare)
    except ValueError:
        forms = "2026-04-01 22:10 or 01.04.2026 22:10" + (", or 22:10 for today" if now is not None else "")
        raise ValueError(f"{shown(bare)} is no time; type {forms}") from None


def wear(text: str, *, factor: float = 1.0, most_mm: float = _MOST_MM, spaced: bool = False) -> dict[str, Any]:
    """A wear as read, as the one key of a measurement that says it.

    ``12.5`` is one reading, ``9/10.5/9`` are points round the ring, ``<1`` nothing seen at that resolution, ``>25``
    past what can be measured.

    Parameters
    ----------
    factor : float
        Millimetres of one of the unit typed.
    most_mm : float
        More is no reading.
    spaced : bool
        Blanks part points too. On paper ``9 5`` may well have been 9.5, so there they do not.
    """
    bare = re.sub(r"\s*mm\s*\Z", "", text.strip()).replace(",", ".")
    sign = bare[:1] if bare[:1] in "<>" else ""
    parts = re.split(r"\s*/\s*|\s+and\s+" + (r"|\s+" if spaced else ""), bare[len(sign) :].strip())
    if not all(_NUMBER.match(part) for part in parts) or (sign and len(parts) > 1):
        raise ValueError(f"{shown(text.strip())} is no wear: type 12.5, or 9/10.5/9 for points, <1 or >25")
    values = [round(float(part) * factor, 3) for part in parts]
    if min(values) < 0:
        raise ValueError(f"{shown(text.strip())}: a wear is not below 0; 0 is new")
    if max(values) > most_mm:
        raise ValueError(f"{max(values):g} mm is more than any tool has; check the decimal point")
    if sign == "<":
        if values[0] <= 0:
            raise ValueError("nothing is below 0: type the least wear that would have been seen, such as <1, or 0")
        return {"wear_below_mm": values[0]}
    if sign == ">":
        return {"wear_above_mm": values[0]}
    return {"wear_mm": values[0]} if len(values) == 1 else {"points_mm": tuple(values)}


def value(key: Described, text: str, *, now: datetime | None = None) -> Any:
    """What was typed for a key, held to what its description allows."""
    said = key.key
    if said.words:
        word = text.strip().casefold()
        if word not in said.words:
            raise ValueError(f"{shown(text.strip())} is none of the words known here; {did_you_mean(text, said.words)}")
        return word
    if key.type is datetime:
        return moment(text, now)
    if key.type is date:
        return moment(text).date()
    if key.type in (int, float):
        found = chainage(text) if said.station else number(text)
        if key.type is int and not re.fullmatch(r"[+-]?\d+(\.0+)?", text.strip()):
            raise ValueError(f"{shown(text.strip())} is no whole number")
        why = said.wrong(found)
        if why:
            raise ValueError(why)
        return int(found) if key.type is int else found
    words = clean_text(text) if said.lines else clean_line(text)
    if words == "?" and not said.lines:
        raise ValueError("? marks what is still open in a file: leave it empty, or say it")
    if said.most is not None and len(words) > said.most:
        raise ValueError(f"is longer than {said.most} characters")
    return words or None
