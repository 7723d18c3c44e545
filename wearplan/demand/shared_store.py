"""One store for several drives: every tool counted once."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from wearplan.site.records import PartWorn, Site, Stock, Stores, ToolType


@dataclass(frozen=True, slots=True)
class SharedStore:
    """Stock and tool types by code, and what had to be decided to join them."""

    stores: Stores
    stock: dict[str, Stock]
    tool_types: dict[str, ToolType]
    remarks: tuple[str, ...]


def one_store(sites: Sequence[Site]) -> SharedStore:
    """Join the stores of several folders.

    Rows that say the same of a type are one store seen from two folders and count once. Where they differ, the first
    folder's row holds and the difference is named: the larger number must not be invented by adding. A serial stands
    once, and never on the shelf while it is on a wheel.
    """
    remarks: list[str] = []
    fitted = [_fitted_serials(site) for site in sites]
    on_wheel = set().union(*fitted)
    twice = sorted(serial for serial in on_wheel if sum(serial in some for some in fitted) > 1)
    if twice:
        few = ", ".join(twice[:5]) + (f" and {len(twice) - 5} more" if len(twice) > 5 else "")
        remarks.append(f"By the records these serials stand on two wheels at once, which cannot be: {few}.")
    tool_types: dict[str, ToolType] = {}
    stock: dict[str, Stock] = {}
    for site in sites:
        remarks += _join_types(tool_types, site)
        remarks += _join_stock(stock, site)
    for code, row in stock.items():
        shelf = tuple(tool for tool in _joined(row.part_worn, ()) if tool.serial not in on_wheel or tool.serial is None)
        if len(shelf) < len(row.part_worn):
            remarks.append(f"{code}: a part-worn tool listed in the store is on a wheel or listed twice; counted once.")
        stock[code] = replace(row, part_worn=shelf)
    stores = next((site.stores for site in sites if site.stores), Stores())
    return SharedStore(stores=stores, stock=stock, tool_types=tool_types, remarks=tuple(dict.fromkeys(remarks)))


def _join_types(known: dict[str, ToolType], site: Site) -> Iterator[str]:
    """Add a folder's tool types; say where it has other prices or lead times than those before it."""
    for kind in site.wheel.tool_types:
        first = known.setdefault(kind.code, kind)
        if (first.price, first.lead_time_days) != (kind.price, kind.lead_time_days):
            yield f"{site.name}: price or lead time of {kind.code} differs; the first drive's are used."


def _join_stock(known: dict[str, Stock], site: Site) -> Iterator[str]:
    """Add a folder's rows; say where a row differs from the one before it."""
    for row in site.stores.stock if site.stores else ():
        first = known.setdefault(row.tool_type, row)
        if first is row:
            continue
        if replace(row, origin=first.origin, part_worn=first.part_worn) != first:
            yield (
                f"{site.name}: stock of {row.tool_type} differs between folders ({_told(row)} here, {_told(first)} "
                "in the first one, which is used)."
            )
        known[row.tool_type] = replace(first, part_worn=_joined(first.part_worn, row.part_worn))


def _told(row: Stock) -> str:
    coming = sum(order.quantity for order in row.on_order)
    return f"{row.on_hand} on hand, {row.in_rebuild} at the works, {coming} on order"


def _joined(first: tuple[PartWorn, ...], second: tuple[PartWorn, ...]) -> tuple[PartWorn, ...]:
    seen: set[str] = set()
    out = []
    for tool in (*first, *second):
        if tool.serial is not None and tool.serial in seen:
            continue
        if tool.serial is not None:
            seen.add(tool.serial)
        out.append(tool)
    return tuple(out)


def _fitted_serials(site: Site) -> set[str]:
    """Serials on the wheel now: put on and not taken off since."""
    now: dict[int, str | None] = {}
    for stop in site.inspections:
        for fitting in stop.fittings:
            now[fitting.position] = fitting.new_serial
    return {serial for serial in now.values() if serial}
