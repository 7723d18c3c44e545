"""The terms of one type from what the folder says; what it does not say is taken, and said."""

from __future__ import annotations

import math
from dataclasses import dataclass

from wearplan.demand.decide.terms import Mode, Terms
from wearplan.site.records import Site, Stock, Stores, ToolType


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What is taken where stores.toml has no word of it. Taken, not measured: no published source."""

    hurry_lead_share: float = 0.3
    """A hurried tool comes in this share of the ordinary lead time."""
    left_over_share: float = 0.3
    """Of its price, what a tool left over at the end of the drive is worth."""
    order_cost: float = 150.0
    cancel_share: float = 0.25
    """Of its price, lost on a cancelled tool."""
    payment_days: float = 30.0
    """From delivery to payment."""
    leave_prices: float = 4.0
    """Prices a missing tool costs where stops.toml gives no cost of a late one."""


TAKEN = Taken()


def terms_of(kind: ToolType, stock: Stock, stores: Stores, site: Site) -> Terms:
    """Price, lead times, minimum and what a shortage costs, for one type of the first drive that has it.

    Notes
    -----
    A tool missing at a stop leaves its worn predecessor where it is until the next stop: that costs what stops.toml
    puts on a tool past its damage limit, once and for every metre; or the machine waits for it at the cost of
    standstill. A worn tool left is not always past its damage limit, so this is the dearer side.
    """
    said: list[str] = []

    def told(value: float | None, otherwise: float, words: str) -> float:
        if value is None:
            said.append(words)
            return otherwise
        return value

    lead = max(0, math.ceil(kind.lead_time_days))
    hurry_days = told(stock.hurry_days, max(1.0, TAKEN.hurry_lead_share * lead),
        f"a hurried one comes in {100 * TAKEN.hurry_lead_share:g} % of the ordinary lead time",
    )  # fmt: skip
    share = told(stores.left_over_share, TAKEN.left_over_share,
        f"a tool left over at the end is worth {100 * TAKEN.left_over_share:g} % of its price",
    )  # fmt: skip
    order_cost = told(stores.order_cost, TAKEN.order_cost, f"placing an order costs {TAKEN.order_cost:g}")
    cancel = told(stores.cancel_share, TAKEN.cancel_share,
        f"cancelling an order costs {100 * TAKEN.cancel_share:g} % of its price",
    )  # fmt: skip
    expedite = told(stores.expedite_share, 0.5 * max(stores.hurry_factor - 1.0, 0.0),
        "bringing an order forward costs half of what a hurried purchase costs more",
    )  # fmt: skip
    hurry_price = kind.price * max(stores.hurry_factor, 1.0) if stock.hurry_price is None else stock.hurry_price
    costs = site.stops.costs if site.stops else None
    own = stock.missing_cost
    once = own if own is not None else costs.late_tool if costs else TAKEN.leave_prices * kind.price
    per_day = costs.late_tool_per_m * site.pace.advance_m_per_day if costs and own is None else 0.0
    if own is None:
        said.append(
            f"one missing at its stop costs {once:,.0f}".replace(",", " ")
            + (f" and {per_day:,.0f} a day".replace(",", " ") if per_day else "")
            + ", as a tool left past its limit does"
        )
    return Terms(
        price=kind.price,
        lead_days=lead,
        hurry_price=float(hurry_price),
        hurry_days=min(max(0, math.ceil(hurry_days)), lead),
        order_cost=float(order_cost),
        minimum=stock.minimum_order or 1,
        multiple=stock.order_multiple or 1,
        left_value=float(share) * kind.price,
        holding_per_day=kind.price * stores.holding_per_year / 365.0,
        leave_once=float(once),
        leave_per_day=float(per_day),
        wait_per_day=24.0 * costs.standstill_per_hour if costs else 1e12,
        look_days=max(1, math.ceil(stores.review_days)),
        borrow=tuple(
            Mode(name="borrow", days=math.ceil(offer.days), price=kind.price + offer.cost, first=offer.quantity)
            for offer in stock.borrow
        ),
        cancel_share=float(cancel),
        expedite_cost=float(expedite) * kind.price,
        expedite_days=min(max(1, math.ceil(hurry_days)), max(lead, 1)),
        said=tuple(said),
    )


def payment_days(stores: Stores) -> int:
    """Days from delivery to payment."""
    return math.ceil(TAKEN.payment_days if stores.payment_days is None else stores.payment_days)
