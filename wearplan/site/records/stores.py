"""The store."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Annotated

from wearplan.site.records.key import Days, Key, Money, Name, Share, WearMm
from wearplan.site.records.places import NOWHERE, Origin

_Number = Annotated[int, Key(ge=1, le=100_000)]
_Counted = Annotated[int, Key(ge=0, le=100_000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartWorn:
    """A part-worn tool on the shelf."""

    serial: Annotated[Name | None, Key()] = None
    wear_mm: Annotated[WearMm, Key()]


@dataclass(frozen=True, slots=True, kw_only=True)
class OnOrder:
    """What is ordered and not here yet."""

    quantity: Annotated[_Number, Key()]
    due: Annotated[date, Key()]
    due_doubt_days: Annotated[Days, Key()] = 0.0
    number: Annotated[Name | None, Key("What the order is called.")] = None
    cancel_share: Annotated[Share | None, Key("As in [service], for this order.")] = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Borrow:
    """Tools that another shelf would lend."""

    lender: Annotated[Name, Key("Whose shelf the tools lie on.")]
    quantity: Annotated[_Number, Key("How many can be had.")]
    days: Annotated[Days, Key("From asking until they are here.")] = 2.0
    cost: Annotated[Money, Key("Of bringing one here; a borrowed tool is given back as a new one.")] = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Stock:
    """What the store has of one tool type, and on what terms more is to be had."""

    tool_type: Annotated[Name, Key()]
    on_hand: Annotated[_Counted, Key("New ones and ones rebuilt.")]
    part_worn: Annotated[tuple[PartWorn, ...], Key(most=2000)] = ()
    in_rebuild: Annotated[_Counted, Key()] = 0
    on_order: Annotated[tuple[OnOrder, ...], Key(most=500)] = ()
    hurry_days: Annotated[Days | None, Key("From a hurried order until the tools are here.")] = None
    hurry_price: Annotated[Money | None, Key("Of one bought in a hurry; without it hurry_factor holds.")] = None
    minimum_order: Annotated[_Number | None, Key("The least the supplier sells.")] = None
    order_multiple: Annotated[_Number | None, Key("Sold in multiples of this.")] = None
    missing_cost: Annotated[
        Money | None,
        Key("What one missing at its stop costs; without it, as stops.toml puts on a late tool."),
    ] = None
    borrow: Annotated[tuple[Borrow, ...], Key(most=50)] = ()
    origin: Origin = NOWHERE


@dataclass(frozen=True, slots=True, kw_only=True)
class Stores:
    """stores.toml: the service the store gives, and what is in it."""

    no_stockout_probability: Annotated[float, Key(gt=0, lt=1, at="[service]", needed=True)] = 0.95
    review_days: Annotated[float, Key(gt=0, le=365, at="[service]", needed=True)] = 7.0
    holding_per_year: Annotated[float, Key("Share of the price.", ge=0, le=5, at="[service]")] = 0.15
    hurry_factor: Annotated[
        float, Key("What a hurried order costs against a planned one.", ge=1, le=100, at="[service]")
    ] = 1.6
    left_over_share: Annotated[
        Share | None, Key("Of its price, what a tool left over at the end of the drive is worth.", at="[service]")
    ] = None
    order_cost: Annotated[Money | None, Key("Of placing one order, whatever its size.", at="[service]")] = None
    cancel_share: Annotated[Share | None, Key("Of its price, lost on a tool that is cancelled.", at="[service]")] = None
    expedite_share: Annotated[
        float | None, Key("Of its price, what bringing forward a tool on order costs.", ge=0, le=100, at="[service]")
    ] = None
    payment_days: Annotated[Days | None, Key("From delivery to payment.", at="[service]")] = None
    stock: Annotated[tuple[Stock, ...], Key(most=500)] = ()
