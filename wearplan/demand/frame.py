"""When each drive gets where, in every draw, and what is used on which day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np

from wearplan.demand.dates import Halt, days_ahead, gone_on
from wearplan.demand.decide.units import Stops
from wearplan.demand.one_type import Counts
from wearplan.demand.part_worn import Again
from wearplan.site.records import Site

if TYPE_CHECKING:
    from wearplan.plan import Plan, UseDraws

MARGIN_DAYS = 60


@dataclass(frozen=True, slots=True)
class DriveUse:
    """One drive's part: its site, its plan, and the tools used when that plan is played on the draws."""

    site: Site
    plan: Plan
    use: UseDraws
    face_m: float
    logged: date | None = None
    """The day of the last log; by default that of the site."""


class Clock:
    """Days from today to any place of one drive, in each draw.

    The drive is taken to have gone on at its pace since its last log; what should be passed by today counts as today.
    """

    def __init__(self, drive: DriveUse, today: date, pace: float) -> None:
        self._drive = drive
        self._late = gone_on(drive.site, today, drive.logged)
        self._start = today - timedelta(days=self._late)
        self._factor = pace * drive.use.pace_factor
        self._halts = [Halt(stop.driven_m, stop.hours) for stop in drive.plan.stops]
        self._known: dict[float, np.ndarray] = {}

    def __call__(self, driven_m: float) -> np.ndarray:
        """(D,) days until the face is there."""
        if driven_m not in self._known:
            days = days_ahead(
                self._drive.site,
                face_m=self._drive.face_m,
                driven_m=np.full(len(self._factor), driven_m),
                pace_factor=self._factor,
                halts=self._halts,
                start=self._start,
            )
            self._known[driven_m] = np.maximum(days - self._late, 0)
        return self._known[driven_m]

    @property
    def end(self) -> np.ndarray:
        return self(self._drive.site.drive.length_m)


@dataclass(frozen=True, slots=True)
class Frame:
    """The days ahead, shared by all types."""

    stops: Stops
    clocks: tuple[Clock, ...]
    days: int

    @classmethod
    def of(cls, drives: Sequence[DriveUse], today: date, pace: float, longest: float) -> Frame:
        """``longest`` is the longest lead time of any type."""
        clocks = tuple(Clock(drive, today, pace) for drive in drives)
        draws = min(drive.use.draws for drive in drives)
        days = int(max(*(int(clock.end.max()) for clock in clocks), longest)) + MARGIN_DAYS
        at = [
            clock(stop_m)[:draws] for drive, clock in zip(drives, clocks, strict=True) for stop_m in drive.use.stops_m
        ]
        end = np.max([clock.end[:draws] for clock in clocks], axis=0)
        return cls(stops=Stops.of(np.array(at, dtype=int).reshape(-1, draws).T, end, days), clocks=clocks, days=days)


def counts_of(drive: DriveUse, again: Sequence[Again], clock: Clock, code: str, days: int) -> Counts:
    """(D, H) counts of one type on one drive."""
    use = drive.use
    rows = np.arange(use.draws)
    tables = {name: np.zeros((use.draws, days), dtype=np.int64) for name in Counts.__slots__}

    def put(name: str, driven_m: float, counts: np.ndarray) -> None:
        # one cell a draw, so that no two counts meet in one statement
        tables[name][rows, np.clip(clock(driven_m), 0, days - 1)] += counts.astype(np.int64)

    for entry in use.uses:
        if entry.tool_type == code:
            put("store", entry.driven_m, entry.counts)
    for name, removed in (("damage", use.damaged), ("rebuildable", use.removed_sound)):
        for stop_m, counts in zip(use.stops_m, removed.get(code, np.zeros((use.draws, 0))).T, strict=False):
            put(name, stop_m, counts)
    for fit in again:
        if fit.tool_type == code:
            at, fitted = use.stops_m[fit.stop], fit.fitted.astype(np.int64)
            put("store", at, -fitted)
            put("moved", at, fitted)
            if fit.from_place:
                put("rebuildable", at, -fitted)
    tables["rebuildable"] = np.maximum(tables["rebuildable"], 0)
    return Counts(**tables)
