"""The short way from sites, outlooks and plans to the demand; commands, app and page all take it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from wearplan.demand.forecast import DriveUse, forecast
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
        Where a plan is impossible: nothing can be foretold of a drive without one.
    """
    from wearplan.plan import use_draws

    for site, _, plan in drives:
        if plan.status == "impossible":
            raise ValueError(f"{site.name}: no plan keeps the rules, so no demand can be foretold")
    return forecast(
        [
            DriveUse(site=site, plan=plan, use=use_draws(site, outlook, plan), face_m=outlook.face_m)
            for site, outlook, plan in drives
        ],
        as_of=as_of,
        seed=seed,
        pace=pace,
    )
