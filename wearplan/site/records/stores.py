"""The store."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from wearplan.site.records.places import NOWHERE, Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWorn:
    serial: str | None
    wear_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OnOrder:
    quantity: int
    due: date
    due_doubt_days: float = 0.0
    number: str | None = None
    cancel_share: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Borrow:
    """Tools that another shelf would lend."""

    lender: str
    quantity: int
    days: float = 2.0
    cost: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    tool_type: str
    on_hand: int
    part_worn: tuple[PartWorn, ...] = ()
    in_rebuild: int = 0
    on_order: tuple[OnOrder, ...] = ()
    hurry_days: float | None = None
    hurry_price: float | None = None
    minimum_order: int | None = None
    order_multiple: int | None = None
    missing_cost: float | None = None
    borrow: tuple[Borrow, ...] = ()
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stores:
    no_stockout_probability: float = 0.95
    review_days: float = 7.0
    holding_per_year: float = 0.15
    hurry_factor: float = 1.6
    left_over_share: float | None = None
    order_cost: float | None = None
    cancel_share: float | None = None
    expedite_share: float | None = None
    payment_days: float | None = None
    stock: tuple[Stock, ...] = ()
