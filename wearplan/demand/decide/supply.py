"""What comes in without anything new being bought, and what it costs: orders on the way, rebuilt tools, the shelf."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from wearplan.demand.decide.looks import Later, later
from wearplan.demand.decide.terms import Terms
from wearplan.demand.decide.today import Today, decide_today
from wearplan.demand.decide.units import Need, Stops, need_of, unit_cost


@dataclass(frozen=True, slots=True, kw_only=True)
class OnWay:
    """One order on the way, as drawn."""

    quantity: int
    day: np.ndarray
    """(D,) day on which it comes in; beyond the last day: not on this drive."""
    due_day: int
    """Day it is due by the folder, from today; negative where that has passed."""
    fee: float = 0.0
    """Paid in all for changing it as it stands here."""
    paid: int | None = None
    """Tools paid at their price: the quantity, or fewer where some are cancelled."""
    cancel_share: float | None = None
    """Of the price, lost on a tool that is cancelled; None: as the terms of the type say."""

    def arrivals(self, days: int) -> np.ndarray:
        """(D, H)"""
        out = np.zeros((len(self.day), days), dtype=np.int64)
        inside = self.day < days
        out[np.flatnonzero(inside), self.day[inside]] = self.quantity
        return out


@dataclass(frozen=True, kw_only=True)
class Supply:
    """One type on the shared draws, (D, H) by draw and day."""

    on_hand: int
    use: np.ndarray
    returns: np.ndarray
    """Rebuilt tools from those at the works now."""
    sent: np.ndarray
    """By the day they come off: worn tools that will come back rebuilt, if they are sent."""
    works_days: int
    rebuild_price: float
    on_way: tuple[OnWay, ...]
    stops: Stops
    terms: Terms
    send_until: int | None = None
    """Worn tools that come off from this day on are not sent; None: all are."""

    @property
    def days(self) -> int:
        return int(self.use.shape[1])

    @cached_property
    def rebuilt(self) -> np.ndarray:
        """(D, H) rebuilt tools by the day they come back."""
        coming = self.returns.copy()
        back = self.sent
        if self.send_until is not None:
            back = back.copy()
            back[:, self.send_until :] = 0
        if self.works_days < self.days:
            coming[:, self.works_days :] += back[:, : self.days - self.works_days]
        return coming

    @cached_property
    def coming(self) -> np.ndarray:
        """(D, H) what comes in by itself."""
        return np.asarray(self.rebuilt + sum(order.arrivals(self.days) for order in self.on_way))

    @cached_property
    def level(self) -> np.ndarray:
        """(D, H) the shelf if nothing more is bought."""
        return np.asarray(self.on_hand + np.cumsum(self.coming - self.use, axis=1))

    def need(self) -> Need:
        """What must be bought, tool by tool."""
        spare = self.terms.rounded(1) + 4 * self.terms.multiple
        return need_of(self.level, self.stops, spare=spare)

    def at_end(self) -> np.ndarray:
        """(D,) tools on the shelf at the end that were not bought from now on."""
        days = np.arange(self.days)
        last = self.stops.day.max(axis=1, initial=0)
        # what comes in after the last stop meets no want any more
        span = (days <= self.stops.end[:, None]) & (days > last[:, None])
        at_last = np.take_along_axis(self.level, last[:, None], axis=1)[:, 0]
        return np.asarray(np.maximum(at_last, 0) + np.where(span, self.coming, 0).sum(axis=1))

    def standing(self) -> np.ndarray:
        """(D,) cost of what comes in anyway: paid orders, rebuilds, holding, less what is left over.

        Tools bought for those missing are no part of it; a tool that comes in later then lies there instead.
        """
        terms, level = self.terms, self.level
        days = np.arange(self.days)
        inside = days <= self.stops.end[:, None]
        held = np.where(inside, np.maximum(level, 0), 0).sum(axis=1) * terms.holding_per_day
        paid = 0.0
        for order in self.on_way:
            paid += order.fee + terms.price * (order.quantity if order.paid is None else order.paid)
        works = np.where(inside, self.rebuilt, 0).sum(axis=1) * self.rebuild_price
        return np.asarray(paid + works + held - terms.left_value * self.at_end())

    def rough(self, looks: list[int] | None) -> float:
        """Expected cost of the whole type, with few looks and without order costs: to compare ways to change it."""
        need = need_of(self.level, self.stops)
        wait: Later = later(need, self.terms, looks=looks)
        ways = [wait.cost.mean(axis=0)]
        for mode in self.terms.modes:
            cost = unit_cost(need, self.terms, comes=mode.days, price=mode.price).mean(axis=0)
            if mode.first is not None:
                cost[mode.first :] = np.inf
            ways.append(cost)
        return float(self.standing().mean() + np.min(ways, axis=0).sum())

    def decide(self, looks: list[int] | None = None) -> Today:
        return decide_today(self.need(), self.terms, looks=looks)

    def with_order(self, index: int, order: OnWay) -> Supply:
        return replace(self, on_way=(*self.on_way[:index], order, *self.on_way[index + 1 :]))

    def half(self) -> Supply:
        """The same on every second draw, to look for what is then judged on all, or for what is told beside."""
        return self.only(np.arange(0, len(self.use), 2)) if len(self.use) >= 100 else self

    def only(self, draws: np.ndarray) -> Supply:
        """The same for some of the draws."""
        return replace(
            self, use=self.use[draws], returns=self.returns[draws], sent=self.sent[draws],
            stops=self.stops.taking(draws),
            on_way=tuple(replace(order, day=order.day[draws]) for order in self.on_way),
        )  # fmt: skip
