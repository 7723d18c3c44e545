"""Whole entries solved: visits at given stops with entries counted whole, and the fewest entries any plan takes.

With the stops given, entries counted whole tie the places together, and so do rows: one mixed-integer programme of
the places' intervals between these stops, small enough to be solved. What it leaves out is met before or after: the
neighbour step (visits that break it are not taken), and changes that cannot be split between work places.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np

from wearplan.plan.model.exact import Bools, Model
from wearplan.plan.optimise import (
    Clash,
    Problem,
    Solved,
    Watch,
    WholeEntries,
    arcs_below,
    least_entries,
    solve,
    solve_arc_model,
)
from wearplan.plan.optimise.problem import restricted
from wearplan.plan.settings import SETTINGS

from .neighbours import pairs_broken

ShouldStop = Callable[[], bool]


def whole_problem(model: Model, problem: Problem, *, at_most: float = math.inf) -> Problem:
    """A path problem (without a price on entries) with its entries counted whole."""
    beside = model.work_beside - model.work_in_parts
    cost = problem.interval_cost.copy()
    cost[:-1] += beside[:, None, :]
    none = np.zeros((1, model.stops + 2))
    entries = WholeEntries(
        change_hours=np.concatenate([np.nan_to_num(model.chamber_hours), none]),
        fixed_hours=model.per_stop("look_hours"),
        hours_per_entry=model.hours_per_entry,
        cost_per_entry=model.entry_cost,
        counted=model.counted.astype(float),
        at_most=at_most,
    )
    return replace(problem, interval_cost=cost, stop_cost=model.opening, budgets=(), entries=entries)


def filled_visits(
    model: Model, stops: Iterable[int], problem: Problem, *, below: float = math.inf,
    should_stop: ShouldStop | None = None,
) -> Bools | None:  # fmt: skip
    """Visits (P, K+2) of least cost at these stops with entries counted whole and within the cap on them; None where
    there are none that keep the neighbour step.

    Parameters
    ----------
    problem
        From `Model.path_problem`, without a price on entries.
    below
        Only plans that cost less are asked for; intervals that lift the cost in parts to this are left out, and where
        too many remain, None is given.
    """
    chosen = tuple(stops)
    most = math.inf if model.max_entries is None else float(model.max_entries)
    small = restricted(whole_problem(model, problem, at_most=most), chosen, chosen)
    effort = SETTINGS.fill
    watch = Watch(math.inf, should_stop)
    keep = None
    if math.isfinite(below):
        keep = arcs_below(restricted(problem, chosen, chosen), below)
        if int(keep.sum()) > effort.arcs:
            return None
    solved = solve_arc_model(small, gap=effort.gap, watch=watch, most_nodes=effort.nodes, keep=keep)
    if solved.visits is None:
        return None
    visits = solved.visits[:-1]
    step = model.ahead.site.wheel.neighbour_step_limit_mm
    return None if step is not None and pairs_broken(model.only(chosen), visits, step) else visits


@dataclass(frozen=True, kw_only=True)
class Fewest:
    """How few entries under pressure there must be, and stops at which there are few."""

    at_least: int
    """No plan that keeps the caps takes fewer."""
    stops: tuple[int, ...]


def fewest_entries(model: Model, problem: Problem, *, should_stop: ShouldStop | None = None) -> Fewest:
    """The fewest entries under pressure of the path problem, counted in parts (whole ones are no fewer), and whole with
    neighbouring rings of a window taken as one.
    """
    hours = np.nan_to_num(model.chamber_hours) * model.counted
    cost = np.zeros_like(problem.interval_cost)
    cost[:-1] += (hours / model.hours_per_entry)[:, None, :]
    cost[~np.isfinite(problem.interval_cost)] = np.inf
    look = model.per_stop("look_hours") * model.counted / model.hours_per_entry
    effort = SETTINGS.sparing
    solved = solve(
        replace(problem, interval_cost=cost, stop_cost=look, budgets=()),
        gap=effort.gap, time_limit_s=math.inf, most_nodes=effort.nodes, should_stop=should_stop,
    )  # fmt: skip
    least = math.ceil(solved.lower_bound - 1e-6) if np.isfinite(solved.lower_bound) else 0
    if np.isfinite(solved.lower_bound):
        whole = least_entries(
            whole_problem(model, problem), alike=np.asarray(model.cands.window), most_arcs=SETTINGS.whole.arcs,
            most_nodes=SETTINGS.fill.nodes, watch=Watch(math.inf, should_stop),
        )  # fmt: skip
        least = max(least, int(whole) if math.isfinite(whole) else 0)
    return Fewest(at_least=max(0, least), stops=solved.stops)


def decided(model: Model, problem: Problem, *, should_stop: ShouldStop | None = None) -> Solved | None:
    """Whole entries within the cap at any of the stops, where the task is small enough for one programme: a plan, or
    the proof that there is none; None where it is too large or the nodes did not do.
    """
    arcs = model.places * (model.stops + 1) * (model.stops + 2) // 2
    if model.max_entries is None or arcs > SETTINGS.fill.decided_arcs:
        return None
    whole = whole_problem(model, problem, at_most=float(model.max_entries))
    effort = SETTINGS.fill
    solved = solve_arc_model(
        whole, gap=effort.gap, watch=Watch(math.inf, should_stop), most_nodes=effort.decided_nodes
    )
    return solved if solved.visits is not None or solved.status == "impossible" else None


def too_few(model: Model, at_least: int | None) -> Clash:
    """No plan keeps the cap on entries; with how many there must be at least, where that is known."""
    assert model.max_entries is not None
    needed = None if at_least is None else float(at_least)
    return Clash((), 0, model.stops + 1, "entries", needed=needed, allowed=float(model.max_entries))
