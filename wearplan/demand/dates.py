"""When the drive gets where, in every draw."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from wearplan.site.records import Site


@dataclass(frozen=True, slots=True)
class Halt:
    """A planned stop that lets days pass without advance."""

    driven_m: float
    hours: float


def last_logged_day(site: Site) -> date | None:
    """The day of the last ring or inspection with a time; None where nothing has one."""
    days = [row.finished_at.date() for row in site.rings if row.finished_at]
    days += [(stop.ended_at or stop.started_at).date() for stop in site.inspections]
    return max(days, default=None)


def days_ahead(
    site: Site, *, face_m: float, driven_m: np.ndarray, pace_factor: np.ndarray, halts: Sequence[Halt], start: date
) -> np.ndarray:
    """(E,) whole days from ``start`` until the face gets to each place.

    Parameters
    ----------
    driven_m, pace_factor : (E,)
        Places, and the pace factor of the draw each belongs to.
    halts : sequence of Halt
        Planned stops; their hours pass before any place beyond them.

    Notes
    -----
    The site's advance a day is net of planned stops, so working days come from metres alone and the hours of stops
    are added as round-the-clock days.
    """
    pace = site.pace
    working = np.floor(np.maximum(driven_m - face_m, 0) / (pace.advance_m_per_day * pace_factor)).astype(int)
    mask = "1" * pace.working_days_per_week + "0" * (7 - pace.working_days_per_week)
    holidays = np.array(pace.holidays, dtype="datetime64[D]")
    then = np.busday_offset(np.datetime64(start), working, roll="forward", weekmask=mask, holidays=holidays)
    days = (then - np.datetime64(start)).astype(int)
    for halt in halts:
        days = days + np.where(driven_m > halt.driven_m + 1e-6, halt.hours / 24.0, 0.0)
    return np.asarray(np.ceil(days), dtype=int)


def gone_on(site: Site, today: date, logged: date | None = None) -> int:
    """Days since the last log, over which the drive is taken to have gone on at its pace; 0 where nothing is logged."""
    logged = logged or last_logged_day(site)
    return max(0, (today - logged).days) if logged else 0


def day(start: date, offset: float) -> date:
    """A date so many days on."""
    return start + timedelta(days=int(offset))


def month_of(start: date, days: int) -> np.ndarray:
    """(H,) the month of each day as ``YYYY-MM``."""
    return (np.datetime64(start) + np.arange(days)).astype("datetime64[M]").astype(str)
