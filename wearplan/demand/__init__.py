"""What the store needs by when, from the plan's own draws."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.lazily import lazily

if TYPE_CHECKING:
    from wearplan.demand.answer import demand_of as demand_of
    from wearplan.demand.carry import expected_rates as expected_rates
    from wearplan.demand.forecasting import DriveUse as DriveUse
    from wearplan.demand.forecasting import forecast as forecast
    from wearplan.demand.hindsight import PastDemand as PastDemand
    from wearplan.demand.hindsight import demand_in_hindsight as demand_in_hindsight
    from wearplan.demand.moved import why_moved as why_moved
    from wearplan.demand.records import Action as Action
    from wearplan.demand.records import AtStop as AtStop
    from wearplan.demand.records import Bridge as Bridge
    from wearplan.demand.records import Demand as Demand
    from wearplan.demand.records import Disagreement as Disagreement
    from wearplan.demand.records import LeadTime as LeadTime
    from wearplan.demand.records import Period as Period
    from wearplan.demand.records import Shortage as Shortage
    from wearplan.demand.records import StockLine as StockLine

<<<<<<< HEAD
_WHERE = {
    "DriveUse": "forecasting",
    "forecast": "forecasting",
    "demand_of": "answer",
    **dict.fromkeys(
        ("Action", "AtStop", "Bridge", "Disagreement", "Demand", "LeadTime", "Period", "Shortage", "StockLine"),
        "records",
    ),
    "why_moved": "moved",
    "expected_rates": "carry",
    "PastDemand": "hindsight",
    "demand_in_hindsight": "hindsight",
}

__all__ = list(_WHERE)


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
=======
__getattr__ = lazily(__name__)
>>>>>>> main
