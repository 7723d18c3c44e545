"""Holding steel against buying it in a hurry: the service level of one type, in numbers and in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from wearplan.demand.orders import Needs, hurry_share
from wearplan.demand.records import Basis
from wearplan.site.records import Stock, Stores, ToolType
from wearplan.wear.quantiles import Quantiles


@dataclass(frozen=True, slots=True)
class Weighed:
    """The two chances that orders are made for."""

    of_site: float
    """Of never running short on the drive: the site's own wish."""
    of_money: float
    """Of not being short at any one date: where one more held costs as much as one more bought in a hurry."""
    days_held: float


def weigh(kind: ToolType, stores: Stores, use: np.ndarray) -> Weighed:
    """The chances of not running short that the site and that money ask for; orders keep both.

    Parameters
    ----------
    use : (D, H)
        Tools used by draw and day.

    Notes
    -----
    A tool that turns out not to be needed yet lies until the next use; its holding against the extra price of a hurried
    purchase is a newsvendor (see `wearplan.demand.theory`). Money is not all that a missing tool costs, so the site's
    wish holds beside it. Money is asked for no more than the draws can tell.
    """
    days_held = max(stores.review_days, _gap(use, otherwise=kind.lead_time_days + stores.review_days))
    of_money = 1.0 - hurry_share(
        price=kind.price,
        holding_per_year=stores.holding_per_year,
        hurry_factor=stores.hurry_factor,
        days_held=days_held,
    )
    return Weighed(
        of_site=stores.no_stockout_probability,
        of_money=min(of_money, 1.0 - 2.0 / max(len(use), 4)),
        days_held=days_held,
    )


def _gap(use: np.ndarray, *, otherwise: float) -> float:
    """Mean days between days of use, over the draws that have any."""
    occasions = (use > 0).sum(axis=1)
    if not occasions.any():
        return otherwise
    some = occasions > 0
    last = use.shape[1] - np.argmax(use[some, ::-1] > 0, axis=1)
    return float(np.mean(last / occasions[some]))


def basis_of(kind: ToolType, stock: Stock, stores: Stores, weighed: Weighed, needed: Needs, left: np.ndarray) -> Basis:
    """What the orders of a type rest on.

    Parameters
    ----------
    left : (D,)
        Tools on the shelf at the end if every order is placed.
    """
    return Basis(
        tool_type=kind.code,
        on_hand=stock.on_hand,
        in_rebuild=stock.in_rebuild,
        part_worn=len(stock.part_worn),
        on_order=sum(order.quantity for order in stock.on_order),
        on_order_due=min((order.due for order in stock.on_order), default=None),
        lead_time_days=kind.lead_time_days,
        price=kind.price,
        service=weighed.of_site,
        service_of_money=weighed.of_money,
        days_held=weighed.days_held,
        holding=kind.price * stores.holding_per_year * weighed.days_held / 365.0,
        hurry=kind.price * max(stores.hurry_factor - 1.0, 0.0),
        left_at_end=Quantiles.of(left),
        left_cost=float(np.maximum(left, 0).mean() * kind.price),
        what_holds=_words(needed),
    )


def _words(needed: Needs) -> str:
    more = int(np.max(needed.money - needed.site))
    if more > 0:
        return f"money: at some date up to {more} more than the site's wish"
    if np.any(needed.site > needed.money):
        return "the site's wish: money alone would do with fewer"
    return "both ask for the same"


__all__ = ["Weighed", "basis_of", "weigh"]
