"""What a plan costs as it would be carried out: hours, whole entries, steel and late tools."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.ahead.terms import Terms, makespan_hours
from wearplan.plan.model.exact import Bools, Model
from wearplan.plan.optimise import intervals_of
from wearplan.plan.records import CostParts


@dataclass(frozen=True, kw_only=True)
class Work:
    """Hours, entries and costs of one stop."""

    hours: float
    chamber_hours: float
    entries: int
    entries_under_pressure: int
    person_hours: float
    schedule: tuple[tuple[str, float], ...]
    stop_cost: float
    """Set-up, look, close-out and fixed cost."""
    work_cost: float

    @property
    def cost(self) -> float:
        return self.stop_cost + self.work_cost


def work_of(terms: Terms, chamber: list[float], inside: list[float]) -> Work:
    """Put a stop together from the hours of its single changes, from the chamber and from inside."""
    look = terms.look_hours
    busy = makespan_hours(chamber, terms.work_places) if chamber else 0.0
    entries = terms.entries(look + busy)
    standstill = max(terms.work_hours(look + busy), look + sum(inside))
    people = 0.0 if terms.inside_only else terms.persons * (look + busy)
    stand = terms.standstill_per_hour
    person_price = terms.person_hour_price if terms.under_pressure else 0.0
    schedule = list(terms.before)
    if look > 0:
        schedule.append(("clean_and_look", look))
    if standstill - look > 1e-9:
        name = "changes from inside" if terms.inside_only else "changes"
        if terms.entry_interval_hours > 0:
            name = f"changes, {entries} {'entry' if entries == 1 else 'entries'} at the site's interval"
        schedule.append((name, standstill - look))
    schedule += terms.after
    return Work(
        hours=terms.before_hours + standstill + terms.after_hours,
        chamber_hours=look + busy,
        entries=entries,
        entries_under_pressure=entries if terms.under_pressure else 0,
        person_hours=people,
        schedule=tuple(schedule),
        stop_cost=terms.opening_cost + look * (stand + terms.persons * person_price),
        work_cost=(standstill - look) * stand + terms.persons * busy * person_price,
    )


def works(model: Model, stops: tuple[int, ...], visits: Bools) -> list[Work]:
    """One `Work` a stop."""
    out = []
    for k, n in enumerate(stops, start=1):
        terms = model.cands.term(n)
        served = np.flatnonzero(visits[:, k])
        inside = [float(model.inside_hours[p]) for p in served if model.ahead.tools[p].place.access == "inside"]
        chamber = [
            float(model.chamber_hours[p, n]) * terms.work_places
            for p in served
            if model.ahead.tools[p].place.access != "inside"
        ]
        out.append(work_of(terms, chamber, inside))
    return out


@dataclass(frozen=True)
class Likeliest:
    """Where a forced stop is likeliest."""

    positions: tuple[int, ...]
    from_m: float
    to_m: float


def arcs_of(nodes: NDArray[np.intp], visits: Bools) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The intervals of a plan at some nodes of the whole task (K+2,) with visits (P, K+2): places, start nodes and end
    nodes, the last ones to the end.
    """
    who, start, end = intervals_of(visits)
    return who, nodes[start], nodes[end]


def cost_parts(model: Model, stops: tuple[int, ...], visits: Bools, done: list[Work]) -> CostParts:
    """Expected cost of a plan by cause."""
    who, start, end = arcs_of(model.nodes_at(stops), visits)
    return CostParts(
        stops=sum(w.stop_cost for w in done),
        work=sum(w.work_cost for w in done),
        tools=float(model.inter.tool_cost[who, start, end].sum()),
        late=float(model.inter.late_cost[who, start, end].sum()),
        damage=look_cost(model, stops),
    )


def forced_stops(model: Model, stops: tuple[int, ...], visits: Bools) -> tuple[float, Likeliest | None]:
    """Stops that late tools are expected to force under a plan, and the stretch where one is likeliest."""
    who, start, end = arcs_of(model.nodes_at(stops), visits)
    passes = model.inter.passes[who, start, end]
    if not len(passes):
        return 0.0, None
    worst = int(np.argmax(passes))
    here = model.inter.node_m[[start[worst], end[worst]]]
    positions = model.ahead.tools[int(who[worst])].place.positions
    return float(passes.sum()), Likeliest(positions, float(here[0]), float(here[1]))


def look_cost(model: Model, stops: tuple[int, ...]) -> float:
    """Expected cost of damage between the looks of a plan."""
    return float(sum(model.inter.look_cost[a, b] for a, b in pairwise(model.nodes_at(stops))))


def total(parts: CostParts) -> float:
    return parts.stops + parts.work + parts.tools + parts.late + parts.damage


@dataclass(frozen=True, kw_only=True)
class Costed:
    """A set of stops with visits (P, K+2) and what it costs with whole entries."""

    stops: tuple[int, ...]
    visits: Bools
    cost: float
    entries: int


def costed(model: Model, stops: tuple[int, ...], visits: Bools) -> Costed:
    """Cost a plan as it would be carried out; inf where it takes more entries than allowed."""
    done = works(model, stops, visits)
    entries = sum(w.entries_under_pressure for w in done)
    cost = total(cost_parts(model, stops, visits, done))
    if model.max_entries is not None and entries > model.max_entries:
        cost = math.inf
    return Costed(stops=stops, visits=visits, cost=cost, entries=entries)


def used(stops: tuple[int, ...], visits: Bools, forced: tuple[int, ...]) -> tuple[tuple[int, ...], Bools]:
    """Without stops at which nothing is done, unless the user forces them."""
    keep = [k for k, n in enumerate(stops, start=1) if visits[:, k].any() or n in forced]
    return tuple(stops[k - 1] for k in keep), visits[:, [0, *keep, -1]]
