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
    """Taken from the store."""
    used_new: Quantiles
    used_rebuilt: Quantiles
    moved_part_worn: Quantiles
    """Part-worn tools fitted again; none of these is taken from the store's new or rebuilt ones."""
    after_damage: Quantiles
    """Tools taken off damaged, so not for their wear."""
    spend: Quantiles
    """Purchases and rebuilds at the site's prices."""
    expected_used: float
    """The mean over the draws: unlike quantiles, means of months add up."""
    expected_spend: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AtStop:
    """Tools of one type used at one place of the drive."""

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
    needed_by: date
    """The first date by which they must lie in the store."""
    late: bool
    """The date to order has passed: ask for a shorter lead time."""
    cost: float
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """Chance that the store has run short by a date if nothing more is ordered."""

    tool_type: str
    date: date
    probability: float


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
    order_by: date | None
    extra_quantity: int
    extra_cost: float
    sentence: str


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
    pace: tuple[str, ...] = ()
    """Where the first order of a type would move with the pace a quarter up or down."""
    moved: tuple[str, ...] = ()
    """Why dates moved since an earlier answer, one sentence each."""
    remarks: tuple[str, ...] = ()
