"""The store."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from wearplan.site.facts.places import NOWHERE, Origin


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWorn:
    serial: str | None
    wear_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OnOrder:
    quantity: int
    due: date
    due_doubt_days: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    tool_type: str
    on_hand: int
    part_worn: tuple[PartWorn, ...] = ()
    in_rebuild: int = 0
    on_order: tuple[OnOrder, ...] = ()
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stores:
    no_stockout_probability: float = 0.95
    review_days: float = 7.0
    holding_per_year: float = 0.15
    hurry_factor: float = 1.6
    stock: tuple[Stock, ...] = ()
