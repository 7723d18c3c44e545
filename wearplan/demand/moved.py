"""Why an order moved since the last answer."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

from wearplan.demand.records import Demand, Order


def why_moved(demand: Demand, before: Mapping[str, Any]) -> tuple[str, ...]:
    """Compare with an earlier ``demand --json`` and say, type by type, what moved the first order.

    Parameters
    ----------
    demand : Demand
    before : mapping
        The earlier answer as read from JSON.

    Returns
    -------
    tuple of str
        One sentence a type whose first order moved, came or went. The causes named are those the two answers
        show: the day it is needed from, use, what stands in the store, the day reckoned from.
    """
    then = _first_orders(before.get("orders", []))
    now: dict[str, Order] = {}
    for order in demand.orders:
        now.setdefault(order.tool_type, order)
    sentences = []
    for code in sorted({*then, *now}):
        old, new = then.get(code), now.get(code)
        causes = _causes(demand, before, code, old, new)
        if old and not new:
            sentences.append(
                f"{code}: the order of {old['quantity']} by {old['order_by']} is no longer needed{causes}."
            )
        elif new and not old:
            sentences.append(f"{code}: an order of {new.quantity} by {new.order_by} is new{causes}.")
        elif old and new:
            days = (new.order_by - date.fromisoformat(old["order_by"])).days
            if days or new.quantity != old["quantity"]:
                far = f"{abs(days)} {'day' if abs(days) == 1 else 'days'}"
                how = f"{far} {'later' if days > 0 else 'earlier'}" if days else "on the same day"
                sentences.append(
                    f"{code}: first order {how} ({old['order_by']} to {new.order_by}), "
                    f"{old['quantity']} to {new.quantity} {'tool' if new.quantity == 1 else 'tools'}{causes}."
                )
    return tuple(sentences)


def _first_orders(orders: list[Mapping[str, Any]]) -> dict[str, Mapping[str, Any]]:
    first: dict[str, Mapping[str, Any]] = {}
    for order in sorted(orders, key=lambda entry: str(entry["order_by"])):
        first.setdefault(str(order["tool_type"]), order)
    return first


def _causes(
    demand: Demand, before: Mapping[str, Any], code: str, old: Mapping[str, Any] | None, new: Order | None
) -> str:
    parts = []
    if old and new and old.get("needed_by") and str(old["needed_by"]) != new.needed_by.isoformat():
        parts.append(f"needed from {new.needed_by}, not {old['needed_by']}")
    if old and new and old.get("hurried") is not None and old["hurried"] != new.hurried:
        parts.append(f"wanted before an order of that day can come in went from {old['hurried']} to {new.hurried}")
    used_then = _total(before.get("totals", []), code)
    used_now = next((quantiles.p50 for name, quantiles in demand.totals if name == code), None)
    if used_then is not None and used_now is not None and abs(used_now - used_then) >= 1:
        parts.append(f"use to the end of the drive went from {used_then:.0f} to {used_now:.0f}")
    parts += _stock_causes(demand, before, code)
    days_then, days_now = (_first_month(periods, code) for periods in (before.get("periods", []), demand.periods))
    if days_then and days_now and days_then != days_now:
        parts.append(f"the first month of use went from {days_then} to {days_now}")
    if str(before.get("as_of")) != demand.as_of.isoformat():
        parts.append(f"reckoned from {demand.as_of}, not {before.get('as_of')}")
    return f": {'; '.join(parts)}" if parts else ""


def _stock_causes(demand: Demand, before: Mapping[str, Any], code: str) -> list[str]:
    then = next((dict(row) for row in before.get("basis", []) if row["tool_type"] == code), None)
    now = next((row for row in demand.basis if row.tool_type == code), None)
    if then is None or now is None:
        return []
    named = (
        ("the shelf", "on_hand"),
        ("tools at the works", "in_rebuild"),
        ("tools on order", "on_order"),
        ("the first delivery", "on_order_due"),
        ("the lead time in days", "lead_time_days"),
    )
    parts = []
    for words, key in named:
        old, new = then.get(key), getattr(now, key)
        new = new.isoformat() if isinstance(new, date) else new
        if old != new:
            parts.append(f"{words} went from {_said(old)} to {_said(new)}")
    if then.get("service") is not None and abs(then["service"] - now.service) > 0.002:
        parts.append(f"the site's wish went from {100 * then['service']:g} to {100 * now.service:g} %")
    return parts


def _said(value: Any) -> str:
    return "none" if value is None else f"{value:g}" if isinstance(value, (int, float)) else str(value)


def _total(totals: list[Any], code: str) -> float | None:
    for name, quantiles in totals:
        if name == code:
            value = quantiles.get("p50")
            return None if value is None else float(value)
    return None


def _first_month(periods: Any, code: str) -> str | None:
    for period in periods:
        kind = period["tool_type"] if isinstance(period, Mapping) else period.tool_type
        used = period["used"]["p50"] if isinstance(period, Mapping) else period.used.p50
        if kind == code and used:
            return str(period["month"] if isinstance(period, Mapping) else period.month)
    return None
