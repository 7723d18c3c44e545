"""Reading what was typed: a wear, the stop's data. Each gives a value or a sentence that says what to do."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from wearplan.site.parse import typed
from wearplan.site.parse.stretches import chainage_fault
from wearplan.site.records import MODES, Inspection, Site
from wearplan.site.records.clock import placed
from wearplan.site.records.key import described

MOST_MM = 500.0
_CALLED = {
    "chainage_m": "chainage", "started_at": "started", "ended_at": "ended", "pressure_bar": "pressure",
    "parking_angle_deg": "parking",
}  # fmt: skip
"""Fields of the form that drafts know by another word than the record's key."""
_NOT_ASKED = ("number",)
KEYS = {
    _CALLED.get(key.name, key.name): key for key in described(Inspection) if key.key.head and key.name not in _NOT_ASKED
}
"""Field of the stop's data: the key of the record it gives."""
_BLANK = re.compile(r"(\d{1,3})[.,]?\s+(\d)\Z", re.ASCII)
_WORDS = {"person_hours": "person-hours", "parking": "wheel at"}
_HINTS = {
    "ring": "number of the last ring built",
    "chainage": "of the face, as 2345.6 or 2+345.6; empty: from the ring",
    "started": "2026-04-01 22:10, or 22:10 for today, yesterday 22:10",
    "ended": "the same way; may stay empty",
    "mode": "f free air, c compressed air, m mixed gas, s saturation, d divers",
    "pressure": "bar, gauge, at the axis; may stay empty",
    "entries": "how many; may stay empty",
    "parking": "degrees clockwise from 12 o'clock; may stay empty",
    "measured_by": "name; may stay empty",
    "entered_by": "name; may stay empty",
    "checked_by": "name; may stay empty",
}
_METHOD = ("measured with", "one of the site's methods; may stay empty")
HEAD = {
    **{field: (_WORDS.get(field, key.key.head), _HINTS.get(field, "may stay empty")) for field, key in KEYS.items()},
    "method": _METHOD,
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


def read_wear(text: str, *, inch: bool = False, most_mm: float = MOST_MM) -> Wear | str:
    """A wear from what was typed, or a sentence why it is none.

    ``12.5`` or ``12,5`` is one reading, ``9 10.5 9`` points round the ring, ``<1`` nothing seen at that resolution,
    ``>25`` past what can be measured. With ``inch`` the numbers are inches.
    """
    try:
        said = typed.wear(text, factor=25.4 if inch else 1.0, most_mm=most_mm, spaced=True)
    except ValueError as error:
        return str(error)
    return Wear(
        wear_mm=said.get("wear_mm"), points_mm=said.get("points_mm", ()), below_mm=said.get("wear_below_mm"),
        above_mm=said.get("wear_above_mm"),
    )  # fmt: skip


def blank_for_point(typed: str) -> str | None:
    """A question where a blank may stand for a decimal point: ``12 5`` is two points round the ring, or 12.5."""
    found = _BLANK.match(typed)
    return f"{found[1]} and {found[2]} as two points, or {found[1]}.{found[2]}" if found else None


def later_than_now(head: dict[str, str], now: datetime) -> list[str]:
    """A question for each time of the stop that has not come yet: ``23:59`` typed at ten may be yesterday's."""
    asked = []
    for field in ("started", "ended"):
        said = head.get(field, "").strip()
        try:
            told = typed.moment(said, now) if said else now
        except (ValueError, OverflowError):
            continue
        told = told if told.tzinfo else told.replace(tzinfo=now.tzinfo)
        if told > now:
            yesterday = f"; yesterday {said}" if ":" in said and len(said) <= 5 else ""
            asked.append(f"{field}: {told:%Y-%m-%d %H:%M} is later than now{yesterday}?")
    return asked


def read_head(head: dict[str, str], site: Site, now: datetime) -> tuple[dict[str, Any], list[str]]:
    """The stop's data from what was typed, and sentences on what is missing or wrong."""
    wrong: list[str] = []
    said = {field: head.get(field, "").strip() for field in KEYS}
    found: dict[str, Any] = {}
    for field, key in KEYS.items():
        if field == "mode":
            continue
        found[key.name] = None
        if said[field]:
            try:
                found[key.name] = typed.value(key, said[field], now=now)
            except (ValueError, OverflowError) as error:
                wrong.append(f"{HEAD[field][0]}: {error}")
    _where(found, said, site, wrong)
    _when(found, said, site, now, wrong)
    _how(found, said["mode"], wrong)
    methods = [gauging.method for gauging in site.wheel.gauging]
    method = head.get("method", "").strip()
    if method and methods and method not in methods:
        wrong.append(f"measured with: {method!r} is no method of this site: {', '.join(methods)}")
    found["method"] = method or None
    return found, wrong


def _where(found: dict[str, Any], said: dict[str, str], site: Site, wrong: list[str]) -> None:
    """Ring and chainage; each from the other where only one was typed."""
    ring, chainage_m = found.pop("ring"), found.pop("chainage_m")
    if ring is None and chainage_m is not None:
        driven = site.drive.driven_m(chainage_m)
        near = [
            row for row in site.rings if row.start_m is not None and row.end_m is not None and row.start_m <= driven
        ]
        ring = near[-1].ring if near else None
    if chainage_m is None and ring is not None and not said["chainage"]:
        row = {row.ring: row for row in site.rings}.get(ring)
        if row is not None and row.end_chainage_m is not None:
            chainage_m = row.end_chainage_m
        else:
            wrong.append(f"chainage: ring {ring} is not in advance.csv, so its chainage must be typed")
    if ring is None and not said["ring"]:
        wrong.append("ring: its number is needed (or the chainage of a ring in advance.csv)")
    elif ring is not None:
        found["ring"] = ring
    if chainage_m is not None:
        driven = site.drive.driven_m(chainage_m)
        why = chainage_fault(site.drive, chainage_m, slack_m=3 * site.drive.ring_length_m)  # as when it is read
        if why:
            wrong.append(f"chainage: {why}")
        found |= {"chainage_m": round(chainage_m, 3), "driven_m": driven}


def _when(found: dict[str, Any], said: dict[str, str], site: Site, now: datetime, wrong: list[str]) -> None:
    """Times without an offset are of the site's clock; where the folder tells none, of the zone of ``now``."""
    for key in ("started_at", "ended_at"):
        told = found[key]
        if told is not None and told.tzinfo is None:
            try:
                found[key] = placed(told, site.zone or now.tzinfo)
            except ValueError as error:
                found[key] = None
                wrong.append(f"{key.removesuffix('_at')}: {error}")
    started, ended = found["started_at"], found["ended_at"]
    if not said["started"]:
        wrong.append("started: the time work began is needed")
    if started is not None and ended is not None and ended < started:
        wrong.append("ended: this is before it started")


def _how(found: dict[str, Any], typed_mode: str, wrong: list[str]) -> None:
    """The mode, of which the first letter is enough, and the pressure that goes with it."""
    mode = typed_mode.casefold()
    fits = [name for name in MODES if mode and name.startswith(mode)]
    if len(fits) != 1:
        wrong.append("mode: f free air, c compressed air, m mixed gas, s saturation, d divers")
    else:
        found["mode"] = fits[0]
    if found.get("mode") == "free air" and (found["pressure_bar"] or 0.0) > 0:
        wrong.append("pressure: in free air there is none; leave it empty, or name another mode")
