"""How far a stop is off, in rings and hours or a date, said the same way everywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.words import count_text, plural

if TYPE_CHECKING:
    from wearplan.history.calendar import Calendar, Reach
    from wearplan.plan import Plan

SOON_HOURS = 96.0
"""Up to here hours say more than a date."""


def stop_reaches(plan: Plan, calendar: Calendar) -> list[Reach]:
    """One a stop; the standstill of the stops before it is counted."""
    lost, found = 0.0, []
    for stop in plan.stops:
        found.append(calendar.reach(stop.driven_m, hours_lost=lost))
        lost += stop.hours
    return found


def reach_words(reach: Reach) -> str:
    """Such as ``in 4 rings, about 11 h (8 to 15)``; further off with a date in place of hours."""
    if reach.rings == 0:
        return "at the face"
    head = f"in {plural(reach.rings, 'ring')}"
    if reach.hours <= SOON_HOURS:
        band = f"{count_text(reach.hours_early)} to {count_text(reach.hours_late)}"
        return f"{head}, about {count_text(reach.hours)} h ({band})"
    return f"{head}, about {reach.day} ({reach.day_early} to {reach.day_late})"
