"""Chainage into dates: working days, holidays, pace."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearplan.history.rings import Rings, clean_rings
from wearplan.site.records import Site

NINE_IN_TEN_SD = 1.6449
"""Standard deviations either side of the middle that hold nine in ten of a normal spread."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """When the face comes to a place at the site's pace; the band holds nine times out of ten."""

    driven_m: float
    rings: int
    """From the face; 0 at or behind it."""
    hours: float
    """Of working time round the clock, standstill on the way included."""
    hours_early: float
    hours_late: float
    day: date
    day_early: date
    day_late: date


class Calendar:
    """When the face is, was or will be where.

    Behind the face the dates are those of the rings; ahead the drive goes on from the last date on record (or
    ``today`` where that is later, or none is on record) at the site's pace, on working days only.

    Parameters
    ----------
    site
        For pace, holidays and the log of rings.
    rings
        Mended rings; by default those of the site.
    today
        Without it the clock is not asked as long as the log or an inspection has a date.
    """

    def __init__(self, site: Site, rings: Rings | None = None, *, today: date | None = None) -> None:
        self.pace = site.pace
        self._ring_m = site.drive.ring_length_m
        rings = rings if rings is not None else clean_rings(site)
        self.face_m = rings.face_m
        self._known_m, self._known = _known_dates(site, rings)
        last = self._known[-1] if len(self._known) else None
        dates = [day for day in (last, np.datetime64(today) if today else None) if day is not None]
        self.start: date = max(dates, default=np.datetime64(date.today())).astype(object)
        days = min(max(self.pace.working_days_per_week, 1), 7)
        self._week = np.busdaycalendar(
            weekmask=[day < days for day in range(7)],
            holidays=np.array(self.pace.holidays, dtype="datetime64[D]"),
        )

    def date_at(self, driven_m: float, pace_factor: float = 1.0, *, hours_lost: float = 0.0) -> date:
        """The day the face is at ``driven_m``; ``pace_factor`` above 1 is faster, ``hours_lost`` stand still before."""
        day: date = self.dates_at(driven_m, pace_factor, hours_lost=hours_lost).astype(object).item()
        return day

    def dates_at(
        self, driven_m: ArrayLike, pace_factor: ArrayLike = 1.0, *, hours_lost: ArrayLike = 0.0
    ) -> NDArray[np.datetime64]:
        """As `date_at` for arrays, broadcast against one another."""
        metres, factor, lost = np.broadcast_arrays(
            np.asarray(driven_m, float), np.asarray(pace_factor, float), np.asarray(hours_lost, float)
        )
        ahead = np.maximum(metres - self.face_m, 0.0)
        days = ahead / (self.pace.advance_m_per_day * np.maximum(factor, 1e-6)) + lost / 24.0
        days = np.minimum(days, 40_000.0)
        dates = np.busday_offset(np.datetime64(self.start), np.floor(days).astype(int), "forward", busdaycal=self._week)
        dates = np.where(ahead + lost > 0, dates, np.datetime64(self.start))
        if len(self._known):
            index = np.clip(np.searchsorted(self._known_m, metres - 1e-6), 0, len(self._known) - 1)
            dates = np.where(metres < self.face_m - 1e-6, self._known[index], dates)
        return np.asarray(dates, dtype="datetime64[D]")

    def reach(self, driven_m: float, *, hours_lost: float = 0.0) -> Reach:
        """Rings, hours and dates from the face to a place; ``hours_lost`` stand still before it.

        The band is that of `pace_draws` (log-normal, mean 1): its 5 % and 95 % points.
        """
        ahead = max(driven_m - self.face_m, 0.0)
        sd = float(np.sqrt(np.log1p(self.pace.advance_doubt**2)))
        fast, slow = (float(np.exp(-(sd**2) / 2 + sign * NINE_IN_TEN_SD * sd)) for sign in (1, -1))
        driving = 24.0 * ahead / self.pace.advance_m_per_day
        return Reach(
            driven_m=driven_m,
            rings=round(ahead / self._ring_m),
            hours=driving + hours_lost,
            hours_early=driving / max(fast, 1.0) + hours_lost,
            hours_late=driving / min(slow, 1.0) + hours_lost,
            day=self.date_at(driven_m, hours_lost=hours_lost),
            day_early=self.date_at(driven_m, max(fast, 1.0), hours_lost=hours_lost),
            day_late=self.date_at(driven_m, min(slow, 1.0), hours_lost=hours_lost),
        )

    def pace_draws(self, count: int, seed: int = 1) -> NDArray[np.float64]:
        """Factors on the pace to come, ``(count,)``: log-normal with mean 1 and the site's relative doubt."""
        sd = np.sqrt(np.log1p(self.pace.advance_doubt**2))
        return np.asarray(np.exp(np.random.default_rng(seed).normal(-(sd**2) / 2, sd, count)))


def _known_dates(site: Site, rings: Rings) -> tuple[NDArray[np.float64], NDArray[np.datetime64]]:
    """Dates on record along the drive, made to run forward with it: order is by the drive, not by the clock."""
    known = [(float(end), at.date()) for end, at in zip(rings.end_m, rings.finished_at, strict=True) if at is not None]
    known += [(each.driven_m, (each.ended_at or each.started_at).date()) for each in site.inspections]
    known = sorted((m, day) for m, day in known if m <= rings.face_m + 1e-6)
    metres = np.array([m for m, _ in known], dtype=float)
    days = np.array([day for _, day in known], dtype="datetime64[D]").astype(np.int64)
    if len(days):
        # one clock that ran wild must not move the rest: a running middle, then never backwards
        wide = np.lib.stride_tricks.sliding_window_view(np.pad(days, 2, mode="edge"), 5)
        days = np.where(np.abs(days - np.median(wide, axis=1)) > 60, np.median(wide, axis=1).astype(np.int64), days)
        days = np.maximum.accumulate(days)
    return metres, days.astype("datetime64[D]")
