"""What procurement is told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from wearplan.wear.quantiles import Quantiles


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """Tools of one type used in one month, over all draws."""

    month: str
    """As ``2026-12``."""
    tool_type: str
    used: Quantiles
    """Taken from the store, new or rebuilt."""
    used_new: Quantiles
    used_rebuilt: Quantiles
    moved_part_worn: Quantiles
    """Part-worn tools fitted again; none of these is taken from the store's new or rebuilt ones."""
    after_damage: Quantiles
    """Tools taken off damaged, so not for their wear."""
    spend: Quantiles
    """What the tools used are worth: new ones at their price, rebuilt ones at the price of the rebuild."""
    expected_used: float
    """The mean over the draws: unlike quantiles, means of months add up."""
    expected_spend: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AtStop:
    """Tools of one type used at one place of a drive."""

    drive: str
    chainage_m: float
    window: str
    tool_type: str
    used: Quantiles


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """So many of one type, to be ordered by a date for the service level to hold."""

    tool_type: str
    quantity: int
    order_by: date
    """The last date to order; the day reckoned from where that date is that day or has passed."""
    now: bool
    """Order on the day reckoned from: the next look at the store would be too late."""
    comes: date
    """When they come in if ordered on ``order_by``: a lead time later."""
    needed_by: date
    """The first date by which some of them must lie in the store for the service level to hold."""
    late: bool
    """Some are needed before an order of today can come in."""
    hurried: int
    """Of the quantity, those that can be wanted before an ordinary order can come in, at the service level."""
    short_before: float
    """Chance of running short before an order of today can come in; no ordinary order changes it."""
    missing_before: float
    """Expected number missing until then."""
    hurry_cost: float
    """Expected extra cost of buying those in a hurry."""
    cost: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """Chance that the store has run short by a date."""

    tool_type: str
    date: date
    probability: float
    """If nothing more is ordered."""
    probability_if_ordered: float | None
    """From when an order of today can be in, if every order is placed on its last date; None before that day. What was
    missing before is taken as bought in a hurry, off the order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine:
    """Tools on the shelf by date if nothing more is ordered; negative is missing."""

    tool_type: str
    dates: tuple[date, ...]
    p05: tuple[float, ...]
    p50: tuple[float, ...]
    p95: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadTime:
    """What one week more of lead time would do to one type."""

    tool_type: str
    order_by: date
    """The first order's last date then."""
    extra_quantity: int
    """Tools to have on the shelf or on order in addition."""
    extra_holding: float
    """A year's holding of the reserve among them."""
    extra_hurry: float
    """Expected extra cost of hurried purchases while orders of today cannot have come in yet."""
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """What the orders of one type rest on, and how holding was weighed against hurry."""

    tool_type: str
    on_hand: int
    in_rebuild: int
    part_worn: int
    on_order: int
    on_order_due: date | None
    """The earliest date on which an order on the way is due."""
    lead_time_days: float
    price: float
    service: float
    """The site's wish: the chance of never running short, from when an order of today can be in."""
    service_of_money: float
    """The chance of not being short at any one date that holding against hurry asks for."""
    days_held: float
    """How long a tool that is not needed yet waits for the next use."""
    holding: float
    """What holding one tool so long costs."""
    hurry: float
    """What one tool bought in a hurry costs more."""
    left_at_end: Quantiles
    """Tools on the shelf at the end of the drive if every order is placed; negative is missing."""
    left_cost: float
    """Their expected price."""
    what_holds: str
    """Which of the two the orders go by, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """Expected money of one month over all tool types; means, so they add up."""

    month: str
    tools_used: float
    """What the tools used are worth, paid for or not."""
    orders: float
    """Orders to be placed in that month."""
    rebuilds: float
    """Rebuilt tools coming back in that month."""
    hurry: float
    """Extra cost of hurried purchases that no ordinary order can prevent any more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """The whole answer; all parts come from the same draws."""

    as_of: date
    drives: tuple[str, ...]
    currency: str
    service: float
    draws: int
    periods: tuple[Period, ...]
    at_stops: tuple[AtStop, ...]
    totals: tuple[tuple[str, Quantiles], ...]
    """Tools used to the end of the drive, by type."""
    orders: tuple[Order, ...]
    shortage: tuple[Shortage, ...]
    stock_lines: tuple[StockLine, ...]
    lead_times: tuple[LeadTime, ...]
    basis: tuple[Basis, ...] = ()
    budget: tuple[Budget, ...] = ()
    pace: tuple[str, ...] = ()
    """Where the first order of a type would move with the pace a quarter up or down, and why."""
    moved: tuple[str, ...] = ()
    """Why dates moved since an earlier answer, one sentence each."""
    remarks: tuple[str, ...] = ()
