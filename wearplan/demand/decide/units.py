"""The n-th tool that will be missing, in every draw: when it is wanted, and what it costs to have it come in on a day."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearplan.demand.decide.terms import Terms

MOST = 400
"""More missing tools of one type than this are not told apart; the last ones then stand for all beyond."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """(D draws, N tools, H days)."""

    day: np.ndarray
    """(D, N) day on which the n-th missing tool is wanted; H where it never is."""
    stop_on: np.ndarray
    """(D, H + 1) day of the first stop on or after each day; H where there is none."""
    stops_by: np.ndarray
    """(D, H) stops passed by each day."""
    end: np.ndarray
    """(D,) day on which the drive ends."""
    net_use: np.ndarray
    """(D, H) tools taken by each day, less what came back or in."""

    @property
    def never(self) -> int:
        return int(self.stop_on.shape[1]) - 1

    @property
    def tools(self) -> int:
        return int(self.day.shape[1])

    def taking(self, draws: np.ndarray) -> Need:
        """The same for some of the draws."""
        return Need(
            day=self.day[draws], stop_on=self.stop_on[draws], stops_by=self.stops_by[draws], end=self.end[draws],
            net_use=self.net_use[draws],
        )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Stops:
    """Days of the stops ahead, shared by all types: ``day`` (D, S), ``end`` (D,), over so many days."""

    day: np.ndarray
    end: np.ndarray
    horizon: int

    def tables(self) -> tuple[np.ndarray, np.ndarray]:
        """``stop_on`` and ``stops_by`` of `Need`."""
        draws = len(self.end)
        there = np.zeros((draws, self.horizon), dtype=np.int32)
        rows = np.repeat(np.arange(draws), self.day.shape[1])
        np.add.at(there, (rows, np.clip(self.day, 0, self.horizon - 1).ravel()), 1)
        on = np.full((draws, self.horizon + 1), self.horizon, dtype=np.int32)
        days = np.where(there > 0, np.arange(self.horizon, dtype=np.int32), self.horizon)
        on[:, :-1] = np.minimum.accumulate(days[:, ::-1], axis=1)[:, ::-1]
        return on, np.cumsum(there, axis=1)


def need_of(level: np.ndarray, stops: Stops, tables: tuple[np.ndarray, np.ndarray], *, spare: int = 0) -> Need:
    """When each missing tool is wanted, given the shelf if nothing more is bought.

    Parameters
    ----------
    level : (D, H) int
        Tools on the shelf at the end of each day; negative is missing.
    spare : int
        So many tools more than are ever missing, for orders larger than any need.
    """
    draws, days = level.shape
    missing = np.maximum.accumulate(np.maximum(-level, 0), axis=1)
    tools = min(int(missing[:, -1].max(initial=0)), MOST) + spare
    wanted = np.full((draws, tools), days, dtype=np.int32)
    rises = np.diff(missing, axis=1, prepend=0)
    row, at = np.nonzero(rises)
    before = missing[row, at] - rises[row, at]
    for step in range(int(rises.max(initial=0))):
        more = rises[row, at] > step
        column = before[more] + step
        inside = column < tools
        wanted[row[more][inside], column[inside]] = at[more][inside]
    on, by = tables
    return Need(day=wanted, stop_on=on, stops_by=by, end=stops.end, net_use=level[:, :1] * 0 - level)


def unit_cost(need: Need, terms: Terms, *, comes: int, price: float) -> np.ndarray:
    """(D, N) what each missing tool costs if it is in the store on day ``comes``.

    Notes
    -----
    In time: its price and the days it lies there. Too late: the worn tool it was for is left until the next stop after
    it came, or the machine waits for it, whichever is the cheaper. Never wanted, or too late for any stop: its price
    less what a tool left over is worth.
    """
    wanted = need.day < need.never
    until = np.where(wanted, need.day, need.end[:, None])
    cost = price + terms.holding_per_day * np.maximum(until - comes, 0)
    cost = np.where(wanted, cost, cost - terms.left_value)
    late = wanted & (need.day < comes)
    if late.any():
        fitted = need.stop_on[:, min(comes, need.never)]
        gone = (np.where(fitted < need.never, fitted, need.end)[:, None] - need.day).clip(0)
        leave = terms.leave_once + terms.leave_per_day * gone
        leave = leave - np.where(fitted < need.never, 0.0, terms.left_value)[:, None]
        wait = terms.wait_per_day * (comes - need.day)
        cost = cost + np.where(late, np.minimum(leave, wait), 0.0)
    return np.asarray(cost)


def none_cost(need: Need, terms: Terms) -> np.ndarray:
    """(D, N) what each missing tool costs if it is never bought: the worn one stays to the end."""
    gone = (need.end[:, None] - need.day).clip(0)
    return np.where(need.day < need.never, terms.leave_once + terms.leave_per_day * gone, 0.0)


def short_if(need: Need, comes: int) -> np.ndarray:
    """(D, N) whether each tool is missing at its stop if it comes on that day."""
    return (need.day < need.never) & (need.day < comes)
