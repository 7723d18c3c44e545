"""Standing at a stop with its readings in: what to change before going on, when later stops will be read as well.

The plan decides all changes now. Whoever stands at a stop need only decide this stop's: at the next one there will be
readings again. The rule of `rule.thresholds` takes that into account, so it leaves tools that the plan, deciding
everything today, would change.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from wearplan.plan.ahead.tools import OutlookLike
from wearplan.plan.carry_out.neighbours import pairs_broken
from wearplan.plan.play.rule import thresholds, whole_choice
from wearplan.plan.play.use import model_at_stops
from wearplan.plan.records import Plan

if TYPE_CHECKING:
    from wearplan.site.records import Site


def change_now(site: Site, outlook: OutlookLike, plan: Plan) -> tuple[int, ...]:
    """Positions to change at the stop where the machine stands, by the plan's later stops and today's wear.

    Parameters
    ----------
    plan
        Made with ``Wishes(standing=True)``.

    Returns
    -------
    Position numbers; the plan's own changes where the rule's choice would break the neighbour step.

    Raises
    ------
    ValueError
        Where the plan's first stop is not at the face.
    """
    if not plan.stops or abs(plan.stops[0].driven_m - outlook.face_m) > site.drive.ring_length_m:
        raise ValueError("the plan has no stop at the face")
    model = model_at_stops(site, outlook, plan)
    rule = thresholds(model, tuple(model.cands.stops))
    tools = model.ahead.tools
    now = model.ahead.outlook.wear_now_mm
    wear = np.array([[max(float(now[:, e].mean()) for e in t.edges)] for t in tools]).T
    here = rule.stops[0]
    gain = rule.gains(here, wear)
    broken = np.array([t.in_trouble for t in tools])
    gain[:, broken & model.serviceable[:, here]] = np.inf
    chosen = whole_choice(gain, np.nan_to_num(model.chamber_hours[:, here]), model.cands.term(here))[0]
    step = site.wheel.neighbour_step_limit_mm
    planned = tuple(n for c in plan.stops[0].changes for n in c.positions)
    if step is not None:
        visits = np.zeros((len(tools), model.stops + 2), dtype=bool)
        visits[:, here] = chosen
        if any(k == here for *_, k in pairs_broken(model, visits, step)):
            return planned
    return tuple(n for p in np.flatnonzero(chosen) for n in tools[p].place.positions)
