"""Where to stop and what to change there: candidates, costs, the optimiser, comparison, cautions."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wearplan.plan.cautions import PLANNING_ESTIMATE as PLANNING_ESTIMATE
    from wearplan.plan.cautions import cautions_for as cautions_for
    from wearplan.plan.jurisdictions import JURISDICTIONS as JURISDICTIONS
    from wearplan.plan.jurisdictions import Jurisdiction as Jurisdiction
    from wearplan.plan.jurisdictions import jurisdiction_of as jurisdiction_of
    from wearplan.plan.proposal import propose as propose
    from wearplan.plan.reading import read_by as read_by
    from wearplan.plan.records import Alternative as Alternative
    from wearplan.plan.records import Caution as Caution
    from wearplan.plan.records import Change as Change
    from wearplan.plan.records import Clash as Clash
    from wearplan.plan.records import CostParts as CostParts
    from wearplan.plan.records import Deferral as Deferral
    from wearplan.plan.records import GroundBreak as GroundBreak
    from wearplan.plan.records import LastStop as LastStop
    from wearplan.plan.records import Plan as Plan
    from wearplan.plan.records import Policy as Policy
    from wearplan.plan.records import ReadBy as ReadBy
    from wearplan.plan.records import Stop as Stop
    from wearplan.plan.records import UnusableWindow as UnusableWindow
    from wearplan.plan.records import Wishes as Wishes
    from wearplan.plan.use import Use as Use
    from wearplan.plan.use import UseDraws as UseDraws
    from wearplan.plan.use import use_draws as use_draws

_WHERE = {
    "propose": "proposal",
    "use_draws": "use",
    "Use": "use",
    "UseDraws": "use",
    "change_now": "standing",
    "JURISDICTIONS": "jurisdictions",
    "Jurisdiction": "jurisdictions",
    "jurisdiction_of": "jurisdictions",
    "cautions_for": "cautions",
    "PLANNING_ESTIMATE": "cautions",
    "read_by": "reading",
    **dict.fromkeys(
        (
            "Alternative", "Caution", "Change", "Clash", "CostParts", "Deferral", "GroundBreak", "LastStop", "Plan",
            "Policy", "ReadBy", "Stop", "UnusableWindow", "Wishes",
        ),
        "records",
    ),
}  # fmt: skip

__all__ = list(_WHERE)


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
