"""How much worse the ground may be before the plan, kept as it stands, breaks a cap."""

from __future__ import annotations

import numpy as np

from wearplan.plan.ahead.chance import known_over_probability, over_probability
from wearplan.plan.carry_out.costing import arcs_of
from wearplan.plan.model.exact import Bools, Floats, Model
from wearplan.plan.records import GroundBreak
from wearplan.plan.settings import SETTINGS
from wearplan.plan.words import at

TRIED_TO = 3.0


def arc_over(model: Model, p: int, start: int, end: int, factors: Floats) -> Floats:
    """(F,) chance of being past the limit on an interval when all rates ahead are multiplied by each factor."""
    ahead, out = model.ahead, model.ahead.outlook
    draws = min(SETTINGS.beside.worse_draws, ahead.draws)
    x = model.inter.node_m[[start, end]]
    alive = np.ones((len(factors), draws))
    for e in ahead.tools[p].edges:
        both = ahead.at(np.asarray(out.potential_mm[:draws, e], float), x)
        mean = np.maximum(both[:, 1] - both[:, 0], 0.0)[None, :] * factors[:, None]
        step = np.asarray(out.step_mm[:draws, e], float)
        if start == 0:
            over = known_over_probability(
                wear_mm=np.asarray(out.wear_now_mm[:draws, e], float),
                mean_mm=mean,
                life_factor=np.asarray(out.life_factor[:draws, e], float),
                step_mm=step,
                limit_mm=float(ahead.limit_mm[e]),
            )
        else:
            sd = np.asarray(out.life_sd[:draws, e], float)
            over = over_probability(mean_mm=mean, life_sd=sd, step_mm=step, limit_mm=float(ahead.limit_mm[e]))
        alive *= 1.0 - over
    return np.asarray(1.0 - alive.mean(axis=1))


def _when(factor: float) -> str:
    if factor < 1.01:
        return "has no room left under a cap, so that ground any worse than expected breaks it"
    return f"first breaks a cap when the ground ahead wears {factor:.2f} times as fast as expected"


def ground_break(model: Model, stops: tuple[int, ...], visits: Bools) -> GroundBreak | None:
    """The smallest factor on all rates ahead at which an interval of the plan breaks its cap; None without caps."""
    who, start, end = arcs_of(model.nodes_at(stops), visits)
    bound = [
        i
        for i in range(len(who))
        if np.isfinite(model.cap[who[i]])
        and not model.free_rows[who[i]]
        and not model.breaks[who[i], start[i], end[i]]
        and model.inter.node_m[end[i]] > model.inter.node_m[start[i]]
    ]
    if not bound:
        return None
    worst, factor = None, TRIED_TO
    for i in bound:
        p, s, t = int(who[i]), int(start[i]), int(end[i])
        cap = float(model.cap[p])
        if arc_over(model, p, s, t, np.array([factor]))[0] <= cap:
            continue
        low, high = 1.0, factor
        for _ in range(SETTINGS.beside.worse_halvings):
            middle = 0.5 * (low + high)
            if arc_over(model, p, s, t, np.array([middle]))[0] > cap:
                high = middle
            else:
                low = middle
        worst, factor = i, high
    if worst is None:
        return GroundBreak(
            factor=None,
            tried_to=TRIED_TO,
            place=None,
            positions=(),
            from_chainage_m=None,
            to_chainage_m=None,
            sentence=f"Kept as it stands, the plan keeps its caps up to rates {TRIED_TO:g} times those expected.",
        )
    tool = model.ahead.tools[int(who[worst])]
    low_m, high_m = (model.ahead.chainage_m(float(model.inter.node_m[n])) for n in (start[worst], end[worst]))
    return GroundBreak(
        factor=round(factor, 3),
        tried_to=TRIED_TO,
        place=tool.place.code,
        positions=tool.place.positions,
        from_chainage_m=low_m,
        to_chainage_m=high_m,
        sentence=f"Kept as it stands, the plan {_when(factor)}: at "
        f"{'/'.join(map(str, tool.place.positions))} ({tool.place.zone}) between {at(low_m)} and {at(high_m)}.",
    )
