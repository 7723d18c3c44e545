"""Stock as typed in a form and as edits of stores.toml; no widgets here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import Any

from wearplan.site.records import Stock

FIELDS = {
    "on_hand": ("on hand", "new ones and ones rebuilt"),
    "in_rebuild": ("in rebuild", "at the workshop now"),
    "on_order": ("on order", "20 due 2027-01-18 +-10 no 17; 12 due 2027-03-01"),
    "part_worn": ("part worn", "D-0905 7.0; D-0917 11.5 (serial, wear in mm; - without a serial)"),
}
"""Field: its word and hint."""


def as_typed(stock: Stock | None) -> dict[str, str]:
    """Stock as the form shows it."""
    if stock is None:
        return dict.fromkeys(FIELDS, "")
    orders = [
        f"{order.quantity} due {order.due.isoformat()}"
        + (f" +-{order.due_doubt_days:g}" if order.due_doubt_days else "")
        + (f" cancel {100 * order.cancel_share:g} %" if order.cancel_share is not None else "")
        + (f" no {order.number}" if order.number is not None else "")
        for order in stock.on_order
    ]
    worn = [f"{one.serial or '-'} {one.wear_mm:g}" for one in stock.part_worn]
    return {
        "on_hand": str(stock.on_hand),
        "in_rebuild": str(stock.in_rebuild),
        "on_order": "; ".join(orders),
        "part_worn": "; ".join(worn),
    }


def read_form(typed: Mapping[str, str]) -> tuple[dict[str, Any], list[str]]:
    """What stores.toml should say, and sentences on what cannot be read."""
    found: dict[str, Any] = {}
    wrong: list[str] = []
    for key in ("on_hand", "in_rebuild"):
        text = typed.get(key, "").strip()
        if re.fullmatch(r"\d{1,5}", text):
            found[key] = int(text)
        elif text or key == "on_hand":
            wrong.append(f"{FIELDS[key][0]}: a whole number is needed, such as 14")
        else:
            found[key] = 0
    orders = []
    for part in _parts(typed.get("on_order", "")):
        match = re.fullmatch(
            r"(\d{1,5})\s+due\s+(\d{4}-\d{2}-\d{2})(?:\s*\+-\s*(\d+(?:\.\d+)?))?"
            r"(?:\s+cancel\s+(\d+(?:\.\d+)?)\s*%)?(?:\s+no\s+(\S.*))?",
            part,
        )
        try:
            if not match or int(match[1]) < 1:
                raise ValueError
            order: dict[str, Any] = {"quantity": int(match[1]), "due": date.fromisoformat(match[2])}
            if match[3]:
                order["due_doubt_days"] = float(match[3])
            if match[4]:
                order["cancel_share"] = float(match[4]) / 100.0
            if match[5]:
                order["number"] = match[5]
            orders.append(order)
        except ValueError:
            wrong.append(f"on order: {part!r} is none; type {FIELDS['on_order'][1]}")
    found["on_order"] = orders
    worn = []
    for part in _parts(typed.get("part_worn", "")):
        serial, _, wear = part.rpartition(" ")
        if not serial or not re.fullmatch(r"\d+(\.\d+)?", wear):
            wrong.append(f"part worn: {part!r} is none; type {FIELDS['part_worn'][1]}")
            continue
        tool: dict[str, Any] = {} if serial.strip() == "-" else {"serial": serial.strip()}
        worn.append({**tool, "wear_mm": float(wear)})
    found["part_worn"] = worn
    return found, wrong


def _parts(text: str) -> list[str]:
    return [part.strip() for part in text.split(";") if part.strip()]


def edits_of(tool_type: str, before: Mapping[str, str], typed: Mapping[str, str], known: bool) -> list[Any]:
    """Edits for what was changed in the form and nothing else."""
    from wearplan.site.write.edits import Add, Drop, Put

    found, _ = read_form(typed)
    if not known:
        return [
            Add(("stock",), {"tool_type": tool_type, **{key: value for key, value in found.items() if value != []}})
        ]
    edits: list[Any] = []
    for key, value in found.items():
        if typed.get(key, "").strip() == before.get(key, "").strip():
            continue
        where = ("stock", {"tool_type": tool_type}, key)
        edits.append(Drop(where) if value == [] else Put(where, value))
    return edits
