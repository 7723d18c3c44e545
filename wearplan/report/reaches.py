"""How far a stop is off, in rings and hours or a date, said the same way everywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.words import count_text, plural

if TYPE_CHECKING:
    from wearplan.history.calendar import Calendar, Reach
    from wearplan.plan import Plan
    from wearplan.wear.outlooks.outlook import ToolOutlook

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


def short_reach(reach: Reach) -> str:
    """As `reach_words` without the band: ``in 4 rings, about 11 h``."""
    if reach.rings == 0:
        return "at the face"
    about = f"{count_text(reach.hours)} h" if reach.hours <= SOON_HOURS else f"{reach.day}"
    return f"in {plural(reach.rings, 'ring')}, about {about}"


def limit_reach(tool: ToolOutlook, calendar: Calendar) -> str:
    """When a tool left in place comes to its limit: ``in 19 rings, about 50 h; 0 to 47 rings nine times in ten``."""
    early, middle, late = (tool.limit_driven_m.p05, tool.limit_driven_m.p50, tool.limit_driven_m.p95)
    if early is None:
        return "beyond the drive"
    low = calendar.reach(early).rings
    high = "beyond the drive" if late is None else f"{count_text(calendar.reach(late).rings)} rings"
    head = "beyond the drive" if middle is None else short_reach(calendar.reach(middle))
    return f"{head}; {count_text(low)} to {high} nine times in ten"


def limit_rings(tool: ToolOutlook, calendar: Calendar) -> str:
    """The same in a column: rings to the limit, or a dash beyond the drive."""
    middle = tool.limit_driven_m.p50
    return "—" if middle is None else count_text(calendar.reach(middle).rings)
