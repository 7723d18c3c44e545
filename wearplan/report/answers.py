"""All answers of one folder side by side, each None where it was not asked for or cannot be had."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wearplan.demand import Demand
    from wearplan.plan import Plan
    from wearplan.site.records import Site
    from wearplan.wear import Backtest, Fit, Outlook


@dataclass(frozen=True, slots=True, kw_only=True)
class Answers:
    """What a page or a pack is written from."""

    site: Site
    fit: Fit
    outlook: Outlook
    plan: Plan | None = None
    demand: Demand | None = None
    backtest: Backtest | None = None
    ring_notes: tuple[str, ...] = ()
