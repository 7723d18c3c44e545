"""Overcut after every stop, met by changing gauge tools at the stops already chosen."""

from __future__ import annotations

import numpy as np

from wearplan.plan.ahead.tools import Ahead
from wearplan.plan.model.exact import Bools, Model
from wearplan.plan.optimise import served_before
from wearplan.plan.words import at
from wearplan.wheel import overcut_left_mm


def required_overcut(ahead: Ahead, from_m: float, to_m: float) -> float | None:
    """Largest overcut the sections of a stretch ask for; None where none asks."""
    ground = ahead.site.ground()
    if ground is None:
        return None
    asked = [
        s.required_overcut_mm
        for s in ground.sections
        if s.required_overcut_mm is not None and s.from_m < to_m and s.to_m > from_m
    ]
    return max(asked, default=None)


def overcut_left(model: Model, last: np.ndarray, node: int) -> float | None:
    """Overcut expected on reaching a node, each place last served at ``last``; None where it cannot be followed."""
    ahead = model.ahead
    wear = np.zeros(len(ahead.outlook.numbers))
    for p, tool in enumerate(ahead.tools):
        wear[list(tool.edges)] = model.inter.mean_wear_mm[p, last[p], node]
    left = overcut_left_mm(ahead.site.wheel, ahead.outlook.layout, wear_mm=wear)
    return None if left is None else float(left)


def overcut_repair(model: Model, visits: Bools) -> tuple[Bools, Bools, tuple[str, ...]]:
    """Add changes of gauge tools until every stretch after a stop keeps the overcut it asks for, on expected wear.

    Parameters
    ----------
    model
        The task cut down to the plan's stops.
    visits
        (P, K+2).

    Returns
    -------
    Visits, those of them added here, and what could not be met, in words.
    """
    ahead, out = model.ahead, visits.copy()
    added = np.zeros_like(visits)
    said: list[str] = []
    if ahead.site.wheel.shield_diameter_m is None:
        return out, added, ()
    reach = _reach_order(model)
    nodes = model.inter.node_m
    for k in range(len(nodes) - 1):
        low, high = float(nodes[k]), float(nodes[k + 1])
        asked = required_overcut(ahead, low, high)
        if asked is None:
            continue
        for _ in range(len(reach) + 1):
            left = overcut_left(model, served_before(out)[:, k + 1], k + 1)
            if left is None or left >= asked:
                break
            more = [p for p in reach if not out[p, k] and model.serviceable[p, k]]
            if not more:
                where = f"{at(ahead.chainage_m(low))} and {at(ahead.chainage_m(high))}"
                said.append(
                    f"Between {where} the ground asks for {asked:g} mm of overcut; {left:.1f} mm are expected on "
                    f"reaching the end "
                    "of it and no change of gauge tools at the stop before gives more."
                )
                break
            out[more[0], k] = added[more[0], k] = True
    return out, added, tuple(said)


def _reach_order(model: Model) -> list[int]:
    """Gauge places, the furthest-reaching track first."""
    radius = model.ahead.outlook.layout.track_radius_mm
    kinds = model.ahead.outlook.layout.kinds
    gauge = [
        p for p, t in enumerate(model.ahead.tools)
        if t.place.zone == "gauge" and kinds[t.edges[0]] != "copy tool"
    ]  # fmt: skip
    return sorted(gauge, key=lambda p: -float(max(radius[e] for e in model.ahead.tools[p].edges)))
