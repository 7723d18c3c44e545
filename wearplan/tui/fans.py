"""The fan of a tool as the screens draw it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wearplan.report.drawing.fan import Fan, fan_sheet, tool_fan
from wearplan.report.drawing.sheet import Sheet
from wearplan.tui.display import Display

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.site.records import Site
    from wearplan.tui.state import Snapshot


def readings_of(site: Site, life: Life | None, factor: float) -> tuple[tuple[float, float, float], ...]:
    """Driven metres, wear and standard error of each reading of a life, in the unit shown."""
    from wearplan.history import gauging_of, reading_sd_mm

    return tuple(
        (reading.driven_m, reading.wear_mm * factor, factor * reading_sd_mm(gauging_of(site.wheel, reading.method)))
        for reading in (life.readings if life else ())
        if reading.wear_mm is not None
    )


def fan_of_tool(snapshot: Snapshot, number: int, display: Display, width: int, height: int, *, plain: bool) -> Sheet:
    """The wear of the tool in place, from its first reading to the end of the drive, if it is left."""
    site, outlook, history = snapshot.site, snapshot.outlook, snapshot.history
    if site is None or outlook is None or history is None or number not in snapshot.tools:
        return Sheet(width, height)
    at = int(np.flatnonzero(outlook.numbers == number)[0])
    factor = 1 / 25.4 if display.us else 1.0
    fan = tool_fan(
        np.asarray(outlook.wear_mm[:, at, :]) * factor, at_m=outlook.grid_m, limit=float(outlook.limit_mm[at]) * factor,
        damage=float(outlook.damage_limit_mm[at]) * factor,
        readings=readings_of(site, history.current.get(number), factor),
        stops_m=[stop.driven_m for stop in snapshot.plan.stops] if snapshot.plan else (),
    )  # fmt: skip
    return drawn_fan(fan, site, display, width, height, plain=plain)


def drawn_fan(fan: Fan, site: Site, display: Display, width: int, height: int, *, plain: bool) -> Sheet:
    """A fan with the display's units and chainages."""
    return fan_sheet(
        fan, width=width, height=height, plain=plain, unit=display.wear_unit,
        x_text=lambda m: display.chainage(site.drive.chainage_m(m)),
        y_text=(lambda v: f"{v:.2f}") if display.us else (lambda v: f"{v:.0f}"),
    )  # fmt: skip
