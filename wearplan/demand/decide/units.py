"""The n-th missing tool, in every draw: at which stops it is missing, and what it costs to have it come in on a day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearplan.demand.decide.terms import Terms

MOST = 400
"""More missing tools of one type than this are not told apart; the last ones then stand for all beyond."""


@dataclass(frozen=True, slots=True)
class Stops:
    """The stops ahead, shared by all types."""

    day: np.ndarray
    """(D, S) day of each, rising."""
    end: np.ndarray
    """(D,) day on which the drive ends."""
    horizon: int
    """Number of days looked at."""

    @classmethod
    def of(cls, days: np.ndarray, end: np.ndarray, horizon: int) -> Stops:
        """Sorted in each draw and kept inside the days looked at; several drives' stops stand in one row."""
        return cls(day=np.sort(np.clip(days, 0, horizon - 1), axis=1), end=end, horizon=horizon)

    def taking(self, draws: np.ndarray) -> Stops:
        return Stops(day=self.day[draws], end=self.end[draws], horizon=self.horizon)


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """D draws, S stops, N missing tools."""

    stops: Stops
    missing: np.ndarray
    """(D, S, N) bool: the n-th tool is missing after the stop if it was not bought."""
    days: np.ndarray
    """(D, S + 1, N) days from the stop to the next one or the end for which it is missing, added up to each stop."""
    times: np.ndarray
    """(D, S + 1, N) how often it began to be missing, added up in the same way."""
    first: np.ndarray
    """(D, N) day of the first stop at which it is missing; the number of days where at none."""
    used: np.ndarray
    """(D, S) tools taken up to each stop, less what came in without being bought."""

    @property
    def never(self) -> int:
        return self.stops.horizon

    @property
    def tools(self) -> int:
        return int(self.first.shape[1])

    @property
    def left(self) -> np.ndarray:
        """(D, N) bool: if bought it lies on the shelf at the end."""
        return ~self.missing[:, -1] if self.missing.shape[1] else np.ones(self.first.shape, dtype=bool)

    def passed(self, day: int) -> np.ndarray:
        """(D,) stops before a day."""
        return np.asarray((self.stops.day < day).sum(axis=1))

    def taking(self, tools: np.ndarray) -> Need:
        """Only some of the tools."""
        return Need(
            stops=self.stops, missing=self.missing[..., tools], days=self.days[..., tools],
            times=self.times[..., tools], first=self.first[..., tools], used=self.used,
        )  # fmt: skip


def need_of(level: np.ndarray, stops: Stops, *, spare: int = 0) -> Need:
    """Which tools are missing at which stops, given the shelf if nothing more is bought.

    Parameters
    ----------
    level : (D, H) int
        Tools on the shelf at the end of each day; negative is missing.
    spare : int
        So many tools more than are ever missing, for orders larger than any need.

    Notes
    -----
    A tool that comes in without being bought later ends a want at the stop after it, so what is missing falls again.
    """
    draws = len(level)
    short = np.maximum(-np.take_along_axis(level, stops.day, axis=1), 0) if stops.day.size else stops.day
    tools = min(int(short.max(initial=0)), MOST) + spare
    missing = short[:, :, None] > np.arange(tools)
    gaps = np.diff(
        np.concatenate([stops.day, np.maximum(stops.end, stops.day.max(axis=1, initial=0))[:, None]], axis=1)
    )
    small = np.int16 if stops.horizon < 30_000 else np.int32  # days add up to no more than the horizon
    none = np.zeros((draws, 1, tools), dtype=small)
    began = missing & ~np.concatenate([none.astype(bool), missing[:, :-1]], axis=1)[:, : missing.shape[1]]
    first = np.full((draws, tools), stops.horizon, dtype=np.int32)
    if missing.shape[1]:
        some = missing.any(axis=1)
        first = np.where(some, np.take_along_axis(stops.day, missing.argmax(axis=1), axis=1), first)
    return Need(
        stops=stops,
        missing=missing,
        days=np.concatenate([none, np.cumsum(missing * gaps[:, :, None].astype(small), axis=1, dtype=small)], axis=1),
        times=np.concatenate([none, np.cumsum(began, axis=1, dtype=small)], axis=1),
        first=first,
        used=-np.take_along_axis(level, stops.day, axis=1) if stops.day.size else np.zeros(stops.day.shape),
    )


def unit_cost(need: Need, terms: Terms, *, comes: int, price: float) -> np.ndarray:
    """(D, N) what each missing tool costs if it is in the store on day ``comes``.

    Notes
    -----
    Its price; the days it lies there; for the stops before it came, the worn tool left where it is, or the machine
    waiting for it, whichever is the cheaper; less what it is worth where it is left over at the end.
    """
    at, rows = need.passed(comes), np.arange(len(need.first))
    days, times = need.days[rows, at], need.times[rows, at]
    leave = terms.leave_once * times + terms.leave_per_day * days
    cost = price + np.minimum(leave, terms.wait_per_day * np.maximum(comes - need.first, 0))
    held = np.maximum(need.stops.end - comes, 0)[:, None] - (need.days[:, -1] - days)
    cost = cost + terms.holding_per_day * np.maximum(held, 0)
    useless = (at >= need.missing.shape[1])[:, None] | need.left
    return np.asarray(cost - np.where(useless, terms.left_value, 0.0))


def none_cost(need: Need, terms: Terms) -> np.ndarray:
    """(D, N) what each missing tool costs if it is never bought."""
    return np.asarray(terms.leave_once * need.times[:, -1] + terms.leave_per_day * need.days[:, -1])


def short_if(need: Need, comes: int) -> np.ndarray:
    """(D, N) whether each tool is missing at a stop if it comes on that day."""
    return need.first < min(comes, need.never)
