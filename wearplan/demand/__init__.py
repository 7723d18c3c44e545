"""What the store needs by when, from the plan's own draws."""

from __future__ import annotations

from importlib import import_module
from typing import Any

_WHERE = {
    "DriveUse": "forecasting",
    "forecast": "forecasting",
    "demand_of": "answer",
    **dict.fromkeys(("AtStop", "Demand", "LeadTime", "Order", "Period", "Shortage", "StockLine"), "records"),
    "why_moved": "moved",
    "expected_rates": "carry",
}

__all__ = list(_WHERE)


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
