"""Days that matter as an iCalendar file (RFC 5545): stops, order dates, deliveries, notices to suppliers."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from wearplan.report.words import chainage_text, plain

if TYPE_CHECKING:
    from wearplan.demand import Demand
    from wearplan.plan import Plan
    from wearplan.site.records import Site

LINE_OCTETS = 75


@dataclass(frozen=True, slots=True)
class Day:
    """One whole-day event; ``mark`` stays the same from week to week, so that a calendar moves it instead of adding."""

    on: date
    title: str
    text: str
    mark: str


def days_of(demand: Demand, drives: Sequence[tuple[Site, Plan]]) -> list[Day]:
    """Stops of the plans, orders to place, deliveries, and what to ask of suppliers."""
    days = [day for site, plan in drives for day in _stops(site, plan)]
    counts: dict[str, int] = {}
    for action in (*demand.orders, *demand.asks):
        key = f"{action.what}/{action.tool_type}/{action.of_order}"
        counts[key] = counts.get(key, 0) + 1
        mark = f"{key}/{counts[key]}"
        what = f"{action.what} {action.quantity} {action.tool_type}" + (" (foreseen)" if action.later else "")
        days.append(Day(action.order_by, what, action.text, f"do/{mark}"))
        if action.gets_tools and action.comes:
            days.append(Day(action.comes, f"{action.quantity} {action.tool_type} come in", action.text, f"in/{mark}"))
    days += [day for site, _ in drives for day in _deliveries(site)]
    if demand.next_look:
        days.append(Day(demand.next_look, "look at the store again", "", "look"))
    found = {day.mark: day for day in reversed(days)}
    return sorted(found.values(), key=lambda day: (day.on, day.mark))


def calendar(days: Iterable[Day], *, name: str, stamp: date) -> str:
    """The file's text, lines folded at 75 octets and ended as the standard asks."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//wearplan//store//EN",
        f"X-WR-CALNAME:{_escaped(name)}",
    ]
    for day in days:
        uid = hashlib.sha256(f"{name}/{day.mark}".encode()).hexdigest()[:32]
        lines += [
            "BEGIN:VEVENT",
            f"UID:{uid}@wearplan",
            f"DTSTAMP:{stamp:%Y%m%d}T000000Z",
            f"DTSTART;VALUE=DATE:{day.on:%Y%m%d}",
            f"DTEND;VALUE=DATE:{day.on + timedelta(days=1):%Y%m%d}",
            "TRANSP:TRANSPARENT",
            f"SUMMARY:{_escaped(day.title)}",
            *([f"DESCRIPTION:{_escaped(day.text)}"] if day.text else []),
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(part for line in lines for part in _folded(line))


def _stops(site: Site, plan: Plan) -> Iterable[Day]:
    for number, stop in enumerate(plan.stops, start=1):
        if stop.date is None:
            continue
        at = chainage_text(stop.chainage_m)
        yield Day(
            stop.date,
            f"{site.name}: planned stop at {at}",
            f"{stop.window}, chainage {stop.chainage_m:.1f} m, {stop.hours:.0f} h; the date is the plan's expectation",
            f"stop/{site.name}/{number}",
        )


def _deliveries(site: Site) -> Iterable[Day]:
    for row in site.stores.stock if site.stores else ():
        for number, order in enumerate(row.on_order, start=1):
            give = f", give or take {order.due_doubt_days:g} days" if order.due_doubt_days else ""
            name = order.number or number
            yield Day(
                order.due,
                f"{order.quantity} {row.tool_type} due",
                f"on order as stores.toml says{give}",
                f"due/{row.tool_type}/{name}",
            )


def _escaped(text: str) -> str:
    """Text as the standard writes it: backslash, semicolon, comma and line ends escaped, nothing else unprintable."""
    return "\\n".join(
        plain(part).replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,") for part in text.splitlines()
    )


def _folded(line: str) -> Iterable[str]:
    """A line in pieces of at most 75 octets, never inside a letter; all but the first begin with a space."""
    piece, room = "", LINE_OCTETS
    for letter in line:
        if len((piece + letter).encode()) > room:
            yield piece + "\r\n"
            piece, room = " ", LINE_OCTETS
        piece += letter
    yield piece + "\r\n"
