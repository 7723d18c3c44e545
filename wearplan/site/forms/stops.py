"""The forms of stops.toml and stores.toml."""

from __future__ import annotations

import datetime as dt
from typing import Literal

from pydantic import Field

from wearplan.site.forms.inspection import Condition
from wearplan.site.forms.site import Chainage, Days, Hours, Line, Mode, Money, Name, Note, PressureBar, Strict, WearMm


class CostsTable(Strict):
    standstill_per_hour: Money
    late_tool: Money = Field(
        description="Expected when a tool passes its damage limit, beside the hours of the stop it forces and the new "
        "tool."
    )
    late_tool_per_m: Money = Field(0.0, description="For every metre driven with a tool that is broken.")
    compressed_air_per_person_hour: Money = Field(
        0.0, description="The price the site puts on an hour under pressure when plans are compared."
    )
    max_compressed_air_entries: int | None = Field(None, ge=0, le=100_000)
    minor_damage: Money = Field(0.0, description="Expected when a tool is chipped or the like and goes on working.")
    major_damage: Money | None = Field(
        None, description="Expected when a tool is cracked, seized, lost or the like; `late_tool` without it."
    )
    major_damage_per_m: Money | None = Field(
        None, description="For every metre driven with it until it is changed; `late_tool_per_m` without it."
    )
    minor_conditions: tuple[Condition, ...] = Field(
        ("chipped", "mushroomed", "leaking"),
        description="Which conditions of a reading are minor; all other damage is major.",
    )


class ForcedStopTable(Strict):
    """What a stop outside the windows costs on a stretch; without a row the hours of the slowest window are taken."""

    from_chainage_m: Chainage
    to_chainage_m: Chainage
    hours: Hours


class EntryTable(Strict):
    """A row of the site's own approved procedure. The program has no values of its own."""

    mode: Mode
    up_to_pressure_bar: PressureBar = Field(
        description="Between rows the next higher one holds; above the last a window cannot be used; never "
        "interpolated."
    )
    working_hours_per_entry: float = Field(gt=0, le=24)
    entries_per_day: float = Field(gt=0, le=24)
    persons: int = Field(ge=1, le=50)
    places: int = Field(ge=1, le=50, description="Tools that can be worked on at once.")
    document: Line | None = Field(None, description="Document and revision.")
    approved_by: Line | None = None
    approved_on: dt.date | None = None


class WindowTable(Strict):
    """Where the drive may stop for an entry."""

    from_chainage_m: Chainage
    to_chainage_m: Chainage
    name: Name
    kind: Literal["shaft", "treated block", "competent ground", "station box", "other"]
    mode: Mode
    pressure_bar: PressureBar = Field(
        description="From the approved face-stability calculation; bar gauge at the axis."
    )
    pressure_source: Line | None = Field(
        None, description='Without it: "not approved, planning only", on every output.'
    )
    setup_hours: Hours
    fixed_cost: Money = Field(0.0, description="Treatment and the like.")


class KeepOutTable(Strict):
    from_chainage_m: Chainage
    to_chainage_m: Chainage
    reason: Note


class StopsFile(Strict):
    """stops.toml: what stops cost and where they may be."""

    costs: CostsTable
    forced_stop: list[ForcedStopTable] = Field(default=[], max_length=1000)
    steps: dict[Name, Hours] = Field(default={}, description="Site durations in hours, for the schedule of a stop.")
    entry: list[EntryTable] = Field(default=[], max_length=200)
    window: list[WindowTable] = Field(default=[], max_length=1000)
    keep_out: list[KeepOutTable] = Field(default=[], max_length=1000)


class ServiceTable(Strict):
    no_stockout_probability: float = Field(gt=0, lt=1)
    review_days: float = Field(gt=0, le=365)
    holding_per_year: float = Field(0.15, ge=0, le=5, description="Share of the price.")
    hurry_factor: float = Field(1.6, ge=1, le=100, description="What a hurried order costs against a planned one.")
    left_over_share: float | None = Field(
        None, ge=0, le=1, description="Of its price, what a tool left over at the end of the drive is worth."
    )
    order_cost: Money | None = Field(None, description="Of placing one order, whatever its size.")
    cancel_share: float | None = Field(None, ge=0, le=1, description="Of its price, lost on a tool that is cancelled.")
    expedite_share: float | None = Field(
        None, ge=0, le=100, description="Of its price, what bringing forward a tool on order costs."
    )
    payment_days: Days | None = Field(None, description="From delivery to payment.")


class PartWornTable(Strict):
    serial: Name | None = None
    wear_mm: WearMm


class OnOrderTable(Strict):
    quantity: int = Field(ge=1, le=100_000)
    due: dt.date
    due_doubt_days: Days = 0.0
    number: Name | None = Field(None, description="What the order is called.")
    cancel_share: float | None = Field(None, ge=0, le=1, description="As in [service], for this order.")


class BorrowTable(Strict):
    lender: Name = Field(description="Whose shelf the tools lie on.")
    quantity: int = Field(ge=1, le=100_000, description="How many can be had.")
    days: Days = Field(2.0, description="From asking until they are here.")
    cost: Money = Field(0.0, description="Of bringing one here; a borrowed tool is given back as a new one.")


class StockTable(Strict):
    tool_type: Name
    on_hand: int = Field(ge=0, le=100_000, description="New ones and ones rebuilt.")
    part_worn: list[PartWornTable] = Field(default=[], max_length=2000)
    in_rebuild: int = Field(0, ge=0, le=100_000)
    on_order: list[OnOrderTable] = Field(default=[], max_length=500)
    hurry_days: Days | None = Field(None, description="From a hurried order until the tools are here.")
    hurry_price: Money | None = Field(None, description="Of one bought in a hurry; without it hurry_factor holds.")
    minimum_order: int | None = Field(None, ge=1, le=100_000, description="The least the supplier sells.")
    order_multiple: int | None = Field(None, ge=1, le=100_000, description="Sold in multiples of this.")
    missing_cost: Money | None = Field(
        None, description="What one missing at its stop costs; without it, as stops.toml puts on a late tool."
    )
    borrow: list[BorrowTable] = Field(default=[], max_length=50)


class StoresFile(Strict):
    """stores.toml: the service the store gives, and what is in it."""

    service: ServiceTable
    stock: list[StockTable] = Field(default=[], max_length=500)
