"""Where to stop and what to change there: candidates, costs, the optimiser, comparison, cautions."""

from __future__ import annotations

from importlib import import_module
from typing import Any

_WHERE = {
    "propose": "proposal",
    "use_draws": "use",
    "JURISDICTIONS": "jurisdictions",
    "Jurisdiction": "jurisdictions",
    "jurisdiction_of": "jurisdictions",
    "cautions_for": "cautions",
    "PLANNING_ESTIMATE": "cautions",
    "read_by": "reading",
    **dict.fromkeys(
        (
            "Alternative", "Caution", "Change", "Clash", "CostParts", "Deferral", "GroundBreak", "LastStop", "Plan",
            "Policy", "ReadBy", "Stop", "UnusableWindow", "Use", "UseDraws", "Wishes",
        ),
        "records",
    ),
}  # fmt: skip

__all__ = list(_WHERE)


def __getattr__(name: str) -> Any:
    if name in _WHERE:
        return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
