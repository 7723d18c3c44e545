"""What would have been foretold and ordered at past stops, against what was used since."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from wearplan.site.records import Inspection, Site, Window
from wearplan.wear.quantiles import Quantiles

if TYPE_CHECKING:
    from wearplan.plan import UseDraws


@dataclass(frozen=True, slots=True, kw_only=True)
class PastDemand:
    """One type from one past stop to the face of today."""

    inspection_id: str
    chainage_m: float
    tool_type: str
    foretold: Quantiles
    """Tools the plan of that day would have used up to today's face."""
    would_have_ordered: int
    """Tools to hold for the wanted chance of not running short over that stretch."""
    used: int
    """Fitted since, as recorded."""
    service: float
    """The chance the site wishes for."""
    stops_planned: int
    """Stops of that day's plan up to today's face."""
    stops_made: int
    """Stops with changes since."""

    @property
    def enough(self) -> bool:
        return self.used <= self.would_have_ordered


def demand_in_hindsight(
    site: Site, *, stops: int = 4, draws: int = 200, progress: Callable[..., None] | None = None
) -> tuple[PastDemand, ...]:
    """Refit and replan at some past stops with what was known then; compare use up to today's face.

    Parameters
    ----------
    stops : int
        So many past stops, spread evenly; those at which no rate or plan could be had are passed over.

    Notes
    -----
    Where the crew did stop later is taken as places where the plan of that day could stop, besides the site's
    windows, and the caps on passing a limit are left out, since the stops as made need not keep them. Foretold is what
    the *plan* of that day would have used; used is what the crew did use. A crew that changes tools by another rule
    differs for that reason too.
    """
    from wearplan import history, plan, wear

    face_m = history.face_m(site)
    past = [inspection for inspection in site.inspections if inspection.driven_m < face_m - 1.0 and inspection.fittings]
    # the first stop alone tells too little, and after the last ones hardly anything has been used yet
    some = past[1:-2] or past[:-1]
    chosen = [some[int(index)] for index in np.unique(np.linspace(0, len(some) - 1, stops).astype(int))] if some else []
    service = site.stores.no_stockout_probability if site.stores else 0.95
    out: list[PastDemand] = []
    for number, inspection in enumerate(chosen):
        if progress:
            progress("looking back", number / len(chosen))
        then = _with_stops_made(history.as_of(site, inspection.id), past)
        if then.ground() is None or then.stops is None:
            continue
        outlook = wear.look_ahead(then, wear.learn(then), draws=draws)
        wishes = plan.Wishes(deferral=False, tradeoff=False, comparison=False, time_limit_s=20.0, free=True)
        proposed = plan.propose(then, outlook, wishes=wishes)
        if not proposed.keeps_rules:
            continue
        planned = sum(stop.driven_m < face_m - 1.0 for stop in proposed.stops)
        made = sum(stop.driven_m > inspection.driven_m and bool(stop.fittings) for stop in site.inspections)
        foretold = _upto(plan.use_draws(then, outlook, proposed), face_m)
        used = used_since(site, inspection.driven_m)
        for code in sorted({*foretold, *used}):
            counts = foretold.get(code, np.zeros(draws, dtype=int))
            out.append(
                PastDemand(
                    inspection_id=inspection.id,
                    chainage_m=inspection.chainage_m,
                    tool_type=code,
                    foretold=Quantiles.of(counts),
                    would_have_ordered=int(np.quantile(counts, service, method="inverted_cdf")),
                    used=used.get(code, 0),
                    service=service,
                    stops_planned=planned,
                    stops_made=made,
                )
            )
    return tuple(out)


def _with_stops_made(site: Site, made: Sequence[Inspection]) -> Site:
    """The site of that day, free to stop where the crew did stop later."""
    if site.stops is None:
        return site
    hours = [window.setup_hours for window in site.stops.windows]
    more = tuple(
        Window(
            name=f"stop {stop.id}",
            kind="other",
            from_chainage_m=stop.chainage_m,
            to_chainage_m=stop.chainage_m,
            from_m=stop.driven_m,
            to_m=stop.driven_m,
            mode=stop.mode,
            pressure_bar=stop.pressure_bar or 0.0,
            setup_hours=float(np.median(hours)) if hours else 0.0,
        )
        for stop in made
    )
    windows = tuple(sorted((*site.stops.windows, *more), key=lambda window: window.from_m))
    wheel = replace(site.wheel, max_over_limit_probability={})
    return replace(site, wheel=wheel, stops=replace(site.stops, windows=windows, keep_outs=()))


def _upto(use: UseDraws, face_m: float) -> dict[str, np.ndarray]:
    counts: dict[str, np.ndarray] = {}
    for entry in use.uses:
        if entry.driven_m < face_m - 1.0:
            counts[entry.tool_type] = counts.get(entry.tool_type, 0) + entry.counts
    return counts


def used_since(site: Site, from_m: float) -> dict[str, int]:
    """Tools put on from the store since a place; a housing counts once, as it does in the plan."""
    counts: dict[str, int] = {}
    for inspection in site.inspections:
        if inspection.driven_m <= from_m:
            continue
        seen: set[str] = set()
        for fitting in inspection.fittings:
            if fitting.action != "change" or fitting.damaged:
                continue
            place = site.wheel.position(fitting.position)
            if place.housing is not None and place.housing in seen:
                continue
            if place.housing is not None:
                seen.add(place.housing)
            code = fitting.new_tool_type or place.tool_type
            counts[code] = counts.get(code, 0) + 1
    return counts
