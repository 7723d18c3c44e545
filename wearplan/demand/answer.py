"""The short way from sites, outlooks and plans to the demand; commands, app and page all take it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

from wearplan.demand.forecasting import DriveUse, forecast
from wearplan.demand.records import Demand

if TYPE_CHECKING:
    from wearplan.plan import Plan
    from wearplan.site.records import Site
    from wearplan.wear import Outlook


def demand_of(
    drives: Sequence[tuple[Site, Outlook, Plan]], *, as_of: date | None = None, seed: int = 1, pace: float = 1.0
) -> Demand:
    """Play each drive's plan on its own draws and join what they use at one store.

    Raises
    ------
    ValueError
        Where no plan keeps the rules: nothing can be foretold of a drive without one.
    """
    from wearplan.plan import use_draws

    for site, _, plan in drives:
        if not plan.keeps_rules:
            raise ValueError(f"{site.name}: {plan.headline}, so no demand can be foretold")
    uses = [
        DriveUse(site=site, plan=plan, use=use_draws(site, outlook, plan), face_m=outlook.face_m)
        for site, outlook, plan in drives
    ]
    return with_pace(uses, as_of=as_of, seed=seed, pace=pace)


def with_pace(uses: Sequence[DriveUse], *, as_of: date | None = None, seed: int = 1, pace: float = 1.0) -> Demand:
    """The forecast, with a sentence a type on what a pace a quarter up or down does to its first order, and why."""
    demand = forecast(uses, as_of=as_of, seed=seed, pace=pace)
    faster, slower = (forecast(uses, as_of=as_of, seed=seed, pace=pace * factor) for factor in (1.25, 0.75))
    kinds = sorted({order.tool_type for answer in (demand, faster, slower) for order in answer.orders})
    sentences = tuple(
        f"{kind}: first order {_first(demand, kind)}; a quarter faster, {_first(faster, kind)}; "
        f"a quarter slower, {_first(slower, kind)}."
        for kind in kinds
    )
    return replace(demand, pace=sentences)


def _first(demand: Demand, kind: str) -> str:
    order = next((order for order in demand.orders if order.tool_type == kind), None)
    if order is None:
        return "none"
    when = f"now ({order.order_by})" if order.now else f"by {order.order_by}"
    return f"{order.quantity} {when}, since needed from {order.needed_by}"
