"""What a supplier asks and what the site loses: one frozen record a type, with what was taken for want of a word."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Mode:
    """A way to get one tool."""

    name: str
    """``order``, ``hurry`` or ``borrow``."""
    days: int
    """From asking to the shelf."""
    price: float
    first: int | None = None
    """So many tools at the most can be had this way; None: as many as wanted."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """Money and days of one type; amounts in the site's currency."""

    price: float
    lead_days: int
    hurry_price: float
    hurry_days: int
    order_cost: float = 0.0
    """Of placing one order, whatever its size."""
    minimum: int = 1
    multiple: int = 1
    left_value: float = 0.0
    """What a tool left on the shelf at the end is worth."""
    holding_per_day: float = 0.0
    leave_once: float = 0.0
    """A worn tool left where it is because there is none to change it with: once."""
    leave_per_day: float = 0.0
    """And for each day until it is changed."""
    wait_per_day: float = 1e12
    """The machine waiting for a tool."""
    look_days: int = 7
    """From one look at the store to the next."""
    borrow: tuple[Mode, ...] = ()
    cancel_share: float = 0.25
    """Of the price, lost on a tool whose order is cancelled."""
    expedite_cost: float = 0.0
    """A tool on the way brought forward."""
    expedite_days: int = 0
    """From asking for it until it is there."""
    said: tuple[str, ...] = ()
    """What was taken, not told by the site, one sentence each."""

    @property
    def modes(self) -> tuple[Mode, ...]:
        """Ordinary first; a hurried way that is neither faster nor cheaper is left out."""
        order = Mode(name="order", days=self.lead_days, price=self.price)
        hurry = Mode(name="hurry", days=self.hurry_days, price=self.hurry_price)
        quick = (hurry,) if hurry.days < order.days or hurry.price < order.price else ()
        return (order, *quick, *self.borrow)

    def rounded(self, quantity: int) -> int:
        """The least quantity the supplier sells that is no less."""
        if quantity <= 0:
            return 0
        return max(self.minimum, math.ceil(quantity / self.multiple) * self.multiple, self._least)

    @property
    def _least(self) -> int:
        return math.ceil(self.minimum / self.multiple) * self.multiple
