"""Part-worn tools used up elsewhere: taken off one place, put on another of the same type with a shorter way ahead.

Done with the stops and changes fixed: at each stop the tools taken off (and part-worn ones on the shelf) are offered to
the places changed there, the largest saving first. A move needs

- a chance of passing the limit before the place's next service that keeps the cap;
- a way ahead there that wears clearly less than the way ahead of the place it leaves;
- a new tool on the place it leaves: no chains, so no shuffling round in a circle;
- a saving of at least twice what handling costs, and of a fair share of a life. The work at both places is done anyway;
  handling (cleaned and gauged instead of taken from the crate) is reckoned as a quarter of it once more at each end;

and no stop has more than a few. The exact model knows nothing of moves; what they save, handling taken off, stands
beside the plan's cost, not in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from wearplan.plan.ahead.chance import gamma_tail, left_share, new_variance
from wearplan.plan.ahead.renewal import forced_between
from wearplan.plan.ahead.wear import wear_draws
from wearplan.plan.model.exact import Bools, Floats, Model
from wearplan.plan.optimise import served_before

_WITHOUT_CAP = 0.15
_LEAST_SHARE = 0.25
"""Of the price of a life: a smaller saving is not worth the trouble."""
_HANDLING = 0.25
"""Of the work of a change, at each end of a move: an assumption, no site's figure."""
_CLEARLY = 2.0
"""A move saves at least so many times what its handling costs."""
_EASIER = 0.7
"""A place is easier where a new tool would gather at most so much of what it would gather at the place it leaves."""
_MOST = 3
"""Moves a stop."""


@dataclass(frozen=True, kw_only=True)
class Donor:
    """A tool taken off at a stop, or on the shelf."""

    tool: int | None
    """Index of the place it comes from; None from the shelf."""
    label: str
    wear_mm: float
    sd_mm: float
    edges: int


@dataclass(frozen=True, kw_only=True)
class Move:
    """A part-worn tool for a place that is changed at a stop."""

    to_tool: int
    donor: Donor
    saving: float
    over: float
    """Chance of passing the limit there before its next service."""


def moves(model: Model, stops: tuple[int, ...], visits: Bools, *, seed: int) -> tuple[tuple[Move, ...], ...]:
    """The moves at each stop, (K) tuples."""
    nodes = model.nodes_at(stops).tolist()
    last = served_before(visits)
    shelf = _shelf(model)
    out = []
    for k in range(1, len(nodes) - 1):
        served = [int(p) for p in np.flatnonzero(visits[:, k])]
        options: list[Move] = []
        for code in dict.fromkeys(model.ahead.tools[p].tool_type.code for p in served):
            takers = [p for p in served if model.ahead.tools[p].tool_type.code == code]
            donors = [
                d for p in takers if (d := _donor(model, p, nodes[last[p, k]], nodes[k], seed)) is not None
            ]
            donors += shelf.get(code, [])
            ends = {p: nodes[_next_service(visits, p, k)] for p in takers}
            if donors:
                options += _options(model, donors, takers, nodes[k], ends)
        found = _chosen(options)
        for move in found:
            if move.donor.tool is None:
                code = model.ahead.tools[move.to_tool].tool_type.code
                shelf[code] = [d for d in shelf[code] if d is not move.donor]
        out.append(found)
    return tuple(out)


def _options(model: Model, donors: list[Donor], takers: list[int], start: int, ends: dict[int, int]) -> list[Move]:
    """Every sensible move of these donors to these places at a stop (node ``start``)."""
    gathers = {p: _gathers(model, p, start, ends[p]) for p in takers}
    options = []
    for p in takers:
        life = model.ahead.tools[p].life_value
        saving, over = _worth(model, donors, p, start, ends[p])
        for i, donor in enumerate(donors):
            source = () if donor.tool is None else (donor.tool,)
            handling = _HANDLING * sum(float(model.work_in_parts[q, start]) for q in (p, *source))
            easier = all(gathers[p] <= _EASIER * gathers[q] for q in source)
            if easier and saving[i] >= max(_CLEARLY * handling, _LEAST_SHARE * life) and life > 0:
                net = float(saving[i]) - handling
                options.append(Move(to_tool=p, donor=donor, saving=net, over=float(over[i])))
    return options


def _chosen(options: list[Move]) -> tuple[Move, ...]:
    """The largest savings, each tool and place once, and no place both giving a tool and taking a part-worn one."""
    found: list[Move] = []
    given: list[Donor] = []
    for move in sorted(options, key=lambda m: -m.saving):
        takers = {m.to_tool for m in found}
        givers = {m.donor.tool for m in found if m.donor.tool is not None}
        if len(found) >= _MOST:
            break
        if move.to_tool in takers | givers or move.donor.tool in takers or any(move.donor is d for d in given):
            continue
        found.append(move)
        given.append(move.donor)
    return tuple(found)


def _gathers(model: Model, p: int, start: int, end: int) -> float:
    """Share of its limit that a new tool on a place is expected to gather between two nodes, of its worst edge."""
    ahead = model.ahead
    tables = np.asarray(ahead.outlook.potential_mm)[:, list(model.ahead.tools[p].edges)]
    reached = ahead.at(tables, model.inter.node_m[[start, end]]).mean(axis=0)
    return max(
        float(reached[i, 1] - reached[i, 0]) / float(ahead.limit_mm[e]) for i, e in enumerate(ahead.tools[p].edges)
    )


def _next_service(visits: Bools, p: int, k: int) -> int:
    """Index among the plan's nodes of the next service of a place after stop ``k``; the end where there is none."""
    later = np.flatnonzero(visits[p])
    return int(next((n for n in later if n > k), visits.shape[1] - 1))


def _shelf(model: Model) -> dict[str, list[Donor]]:
    stores = model.ahead.site.stores
    found: dict[str, list[Donor]] = {}
    for stock in stores.stock if stores else ():
        for part in stock.part_worn:
            donor = Donor(tool=None, label=part.serial or "a part-worn one", wear_mm=part.wear_mm, sd_mm=0.5, edges=1)
            found.setdefault(stock.tool_type, []).append(donor)
    return found


def _donor(model: Model, p: int, start: int, here: int, seed: int) -> Donor | None:
    """The tool taken off a place, or None where it is likely late, in trouble or all but used up."""
    ahead, inter = model.ahead, model.inter
    tool = ahead.tools[p]
    if tool.life_value <= 0 or inter.late_chance[p, start, here] > 0.02 or (start == 0 and tool.in_trouble):
        return None
    draws = np.stack(
        [
            wear_draws(
                ahead,
                e,
                from_m=None if start == 0 else float(inter.node_m[start]),
                to_m=float(inter.node_m[here]),
                seed=seed,
            )
            for e in tool.edges
        ]
    ).max(axis=0)
    mean = float(draws.mean())
    if mean > 0.9 * min(float(ahead.limit_mm[e]) for e in tool.edges):
        return None
    return Donor(
        tool=p,
        label=f"position {tool.place.positions[0]}",
        wear_mm=mean,
        sd_mm=float(draws.std()),
        edges=len(tool.edges),
    )


def _worth(model: Model, donors: list[Donor], p: int, start: int, end: int) -> tuple[Floats, Floats]:
    """What putting each donor on place ``p`` saves against a new tool, and the chance of passing the limit, (n,) each.

    The saving is 0 where a donor may not go there.
    """
    ahead, inter = model.ahead, model.inter
    tool, out = ahead.tools[p], model.ahead.outlook
    costs = ahead.site.stops.costs if ahead.site.stops else None
    read = np.array([d.wear_mm for d in donors])
    doubt = np.array([d.sd_mm for d in donors]) ** 2
    fits = np.array([d.tool != p and d.edges == len(tool.edges) for d in donors])
    alive, alive_damage = np.ones(len(donors)), np.ones(len(donors))
    left, left_new = np.ones(len(donors)), 1.0
    for e in tool.edges:
        both = ahead.at(np.asarray(out.potential_mm[:, e], float), inter.node_m[[start, end]])
        rise = np.maximum(both[:, 1] - both[:, 0], 0.0)
        sd, step = float(np.mean(out.life_sd[:, e])), float(np.mean(out.step_mm[:, e]))
        mean = max(float(rise.mean()), 1e-6)
        own = float(new_variance(mean, life_sd=sd, step_mm=step, mean_variance=float(rise.var())))
        limit, damage = float(ahead.limit_mm[e]), float(ahead.damage_limit_mm[e])
        worn = ahead.even(e, read)
        given: dict[str, Any] = {"mean_mm": mean, "variance_mm2": own + doubt}
        alive *= 1.0 - gamma_tail(room_mm=limit - worn, **given)
        alive_damage *= 1.0 - gamma_tail(room_mm=damage - worn, **given)
        if end == model.stops + 1:
            left = np.minimum(left, left_share(room_mm=limit - worn, limit_mm=limit, **given))
            new = left_share(mean_mm=mean, variance_mm2=own, room_mm=limit, limit_mm=limit)
            left_new = min(left_new, float(new))
    over, late = 1.0 - alive, 1.0 - alive_damage
    cap = float(model.cap[p])
    more_late = np.maximum(0.0, late - float(inter.late_chance[p, start, end]))
    # A late tool is changed where it stops the drive: the fee, the hours there and a new tool.
    forced = float(forced_between(ahead.site.stops, inter.node_m[[start, end]])[0])
    risk = more_late * (tool.price + forced + (costs.passed_limit if costs else 0.0))
    lost = tool.life_value * (left_new - left) if end == model.stops + 1 else 0.0
    may = fits & (over <= (cap if np.isfinite(cap) else _WITHOUT_CAP))
    return np.where(may, tool.life_value - risk - lost, 0.0), over
