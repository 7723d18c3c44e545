"""What the store needs by when, from the plan's own draws."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.lazily import lazily

if TYPE_CHECKING:
    from wearplan.demand.answer import demand_of as demand_of
    from wearplan.demand.carry import expected_rates as expected_rates
    from wearplan.demand.forecasting import forecast as forecast
    from wearplan.demand.frame import DriveUse as DriveUse
    from wearplan.demand.hindsight import PastDemand as PastDemand
    from wearplan.demand.hindsight import demand_in_hindsight as demand_in_hindsight
    from wearplan.demand.records import Action as Action
    from wearplan.demand.records import AtStop as AtStop
    from wearplan.demand.records import Bridge as Bridge
    from wearplan.demand.records import Demand as Demand
    from wearplan.demand.records import Disagreement as Disagreement
    from wearplan.demand.records import LeadTime as LeadTime
    from wearplan.demand.records import Period as Period
    from wearplan.demand.records import Shortage as Shortage
    from wearplan.demand.records import StockLine as StockLine

__getattr__ = lazily(__name__)
