"""Places not seen at the last stop, gathered by where they were last seen."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from wearplan.report.words import chainage_text

if TYPE_CHECKING:
    from wearplan.plan import Stop
    from wearplan.site.records import Site


def rings_of(site: Site) -> dict[str, int]:
    """Inspection id to its ring."""
    return {inspection.id: inspection.ring for inspection in site.inspections}


def unseen_words(stop: Stop, site: Site, *, chainage: Callable[[float | None], str] = chainage_text) -> str:
    """Such as ``1, 5 and 6 last seen at 1+878.0 (ring 1132); 7 never``; empty where all were seen."""
    rings = rings_of(site)
    groups: dict[str, list[str]] = {}
    for position, chainage_m, inspection_id in stop.not_seen_since:
        if chainage_m is None:
            where = "never"
        else:
            ring = rings.get(inspection_id or "")
            where = f"last seen at {chainage(chainage_m)}" + (f" (ring {ring})" if ring is not None else "")
        groups.setdefault(where, []).append(str(position))
    return "; ".join(f"{', '.join(places)} {where}" for where, places in groups.items())
