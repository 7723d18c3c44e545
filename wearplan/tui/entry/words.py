"""Reading what was typed: a wear, the stop's data. Each gives a value or a sentence that says what to do."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from wearplan.site.parse.stretches import chainage_fault
from wearplan.site.records import MODES, Site

MOST_MM = 500.0
HEAD = {
    "ring": ("ring", "number of the last ring built"),
    "chainage": ("chainage", "of the face, as 2345.6 or 2+345.6; empty: from the ring"),
    "started": ("started", "2026-04-01 22:10, or 22:10 for today, yesterday 22:10"),
    "ended": ("ended", "the same way; may stay empty"),
    "mode": ("mode", "f free air, c compressed air, m mixed gas, s saturation, d divers"),
    "pressure": ("pressure", "bar, gauge, at the axis; may stay empty"),
    "entries": ("entries", "how many; may stay empty"),
    "person_hours": ("person-hours", "may stay empty"),
    "parking": ("wheel at", "degrees clockwise from 12 o'clock; may stay empty"),
    "method": ("measured with", "one of the site's methods; may stay empty"),
    "measured_by": ("measured by", "name; may stay empty"),
    "entered_by": ("entered by", "name; may stay empty"),
    "note": ("note", "may stay empty"),
}
"""Field of the stop's data: its word and hint."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wear:
    """A wear as read: one number, points round the ring, or a bound. In mm."""

    wear_mm: float | None = None
    points_mm: tuple[float, ...] = ()
    below_mm: float | None = None
    above_mm: float | None = None

    @property
    def worst_mm(self) -> float | None:
        """The value to hold against a limit; None for a bound from above."""
        return max(self.points_mm) if self.points_mm else self.wear_mm if self.wear_mm is not None else self.above_mm

    @property
    def middle_mm(self) -> float | None:
        """The value to hold against an expectation; None for bounds."""
        return sum(self.points_mm) / len(self.points_mm) if self.points_mm else self.wear_mm


def most_wear_mm(site: Site) -> float:
    """The most wear that can be typed: what the largest tool of the wheel has to lose."""
    return min(MOST_MM, max((one.most_wear_mm for one in site.wheel.tool_types), default=MOST_MM))


def read_wear(typed: str, *, inch: bool = False, most_mm: float = MOST_MM) -> Wear | str:
    """A wear from what was typed, or a sentence why it is none.

    ``12.5`` or ``12,5`` is one reading, ``9 10.5 9`` points round the ring, ``<1`` nothing seen at that resolution,
    ``>25`` past what can be measured. With ``inch`` the numbers are inches.
    """
    factor = 25.4 if inch else 1.0
    text = typed.strip().replace(",", ".")
    sign = text[:1] if text[:1] in "<>" else ""
    parts = text[len(sign) :].split()
    try:
        numbers = [
            round(float(part) * factor, 3) for part in parts if re.fullmatch(r"\d+(\.\d*)?|\.\d+", part) or _no(part)
        ]
    except ValueError:
        return f"{typed.strip()!r} is no wear: type 12.5, or 9 10.5 9 for points, <1 or >25"
    if not numbers or (sign and len(numbers) > 1):
        return f"{typed.strip()!r} is no wear: type 12.5, or 9 10.5 9 for points, <1 or >25"
    if max(numbers) > most_mm:
        return f"{max(numbers):g} mm is more than any tool has; check the decimal point"
    if sign == "<" and numbers[0] <= 0:
        return "nothing is below 0: type the least wear that would have been seen, such as <1, or 0 for none"
    if sign == "<":
        return Wear(below_mm=numbers[0])
    if sign == ">":
        return Wear(above_mm=numbers[0])
    return Wear(wear_mm=numbers[0]) if len(numbers) == 1 else Wear(points_mm=tuple(numbers))


def _no(part: str) -> bool:
    raise ValueError(part)


def read_head(head: dict[str, str], site: Site, now: datetime) -> tuple[dict[str, Any], list[str]]:
    """The stop's data from what was typed, and sentences on what is missing or wrong."""
    wrong: list[str] = []
    found = {**_where(head, site, wrong), **_when(head, now, wrong), **_how(head, wrong)}
    methods = [gauging.method for gauging in site.wheel.gauging]
    method = head.get("method", "").strip()
    if method and methods and method not in methods:
        wrong.append(f"measured with: {method!r} is no method of this site: {', '.join(methods)}")
    found["method"] = method or None
    for key in ("measured_by", "entered_by", "note"):
        found[key] = head.get(key, "").strip() or None
    return found, wrong


def _where(head: dict[str, str], site: Site, wrong: list[str]) -> dict[str, Any]:
    """Ring and chainage; each from the other where only one was typed."""
    found: dict[str, Any] = {}
    ring, chainage_m = _number(head, "ring", wrong, whole=True), _chainage(head.get("chainage", ""), wrong)
    if ring is None and chainage_m is not None:
        driven = site.drive.driven_m(chainage_m)
        near = [
            row for row in site.rings if row.start_m is not None and row.end_m is not None and row.start_m <= driven
        ]
        ring = near[-1].ring if near else None
    if chainage_m is None and ring is not None:
        row = {row.ring: row for row in site.rings}.get(int(ring))
        if row is not None and row.end_chainage_m is not None:
            chainage_m = row.end_chainage_m
        else:
            wrong.append(f"chainage: ring {int(ring)} is not in advance.csv, so its chainage must be typed")
    if ring is None:
        wrong.append("ring: its number is needed (or the chainage of a ring in advance.csv)")
    else:
        found["ring"] = int(ring)
    if chainage_m is not None:
        driven = site.drive.driven_m(chainage_m)
        why = chainage_fault(site.drive, chainage_m, slack_m=3 * site.drive.ring_length_m)  # as when it is read
        if why:
            wrong.append(f"chainage: {why}")
        found |= {"chainage_m": round(chainage_m, 3), "driven_m": driven}
    return found


def _when(head: dict[str, str], now: datetime, wrong: list[str]) -> dict[str, Any]:
    started = _moment(head.get("started", ""), now, "started", wrong)
    ended = _moment(head.get("ended", ""), now, "ended", wrong)
    if started is None and not head.get("started", "").strip():
        wrong.append("started: the time work began is needed")
    if started is not None and ended is not None and ended < started:
        wrong.append("ended: this is before it started")
    return {"started_at": started, "ended_at": ended}


def _how(head: dict[str, str], wrong: list[str]) -> dict[str, Any]:
    """Mode, pressure, entries and hours, and where the wheel was parked."""
    found: dict[str, Any] = {}
    mode = head.get("mode", "").strip().casefold()
    fits = [name for name in MODES if mode and name.startswith(mode)]
    if len(fits) != 1:
        wrong.append("mode: f free air, c compressed air, m mixed gas, s saturation, d divers")
    else:
        found["mode"] = fits[0]
    found["pressure_bar"] = _number(head, "pressure", wrong, most=20)
    if found.get("mode") == "free air" and (found["pressure_bar"] or 0.0) > 0:
        wrong.append("pressure: in free air there is none; leave it empty, or name another mode")
    entries = _number(head, "entries", wrong, whole=True, most=500)
    found["entries"] = None if entries is None else int(entries)
    found["person_hours"] = _number(head, "person_hours", wrong, most=50000)
    found["parking_angle_deg"] = _number(head, "parking", wrong, least=-360, most=360)
    return found


def _number(
    head: dict[str, str], key: str, wrong: list[str], *, whole: bool = False, least: float = 0.0, most: float = 1e6
) -> float | None:
    text = head.get(key, "").strip().replace(",", ".")
    if not text:
        return None
    word = HEAD[key][0]
    sign = "-?" if least < 0 else ""
    if not re.fullmatch(sign + (r"\d+" if whole else r"(\d+(\.\d*)?|\.\d+)"), text):
        wrong.append(f"{word}: {text!r} is no {'whole number' if whole else 'number'}")
        return None
    if not least <= float(text) <= most:
        wrong.append(f"{word}: {text} is {'more' if float(text) > most else 'less'} than can be")
        return None
    return float(text)


def _chainage(text: str, wrong: list[str]) -> float | None:
    text = text.strip().replace(",", ".")
    if not text:
        return None
    match = re.fullmatch(r"(-?)(?:(\d+)\+)?(\d+(?:\.\d+)?)", text)
    if not match:
        wrong.append(f"chainage: {text!r} is none; type 2345.6 or 2+345.6")
        return None
    value = (1000.0 * int(match[2]) if match[2] else 0.0) + float(match[3])
    return -value if match[1] else value


def _moment(text: str, now: datetime, word: str, wrong: list[str]) -> datetime | None:
    """A moment with a time zone: that of ``now`` where none is typed."""
    text = text.strip()
    if not text:
        return None
    day, rest = now, text
    if text.casefold().startswith("yesterday"):
        day, rest = now - timedelta(days=1), text[9:].strip()
    elif text.casefold().startswith("today"):
        rest = text[5:].strip()
    clock = re.fullmatch(r"(\d{1,2})[:.](\d{2})", rest)
    if clock and int(clock[1]) < 24 and int(clock[2]) < 60:
        return day.replace(hour=int(clock[1]), minute=int(clock[2]), second=0, microsecond=0)
    try:
        moment = datetime.fromisoformat(rest)
    except ValueError:
        wrong.append(f"{word}: {text!r} is no time; type 2026-04-01 22:10, or 22:10 for today")
        return None
    return moment if moment.tzinfo is not None else moment.replace(tzinfo=now.tzinfo)
