"""Least cost by trying everything: all sets of stops, and for rules that tie places together all visits too."""

from __future__ import annotations

from itertools import chain, combinations, pairwise, product

import numpy as np

from wearplan.plan.optimise import Problem, fixed
from wearplan.plan.optimise.repair import repaired


def all_sets(items):
    return chain.from_iterable(combinations(items, k) for k in range(len(items) + 1))


def chain_cost(problem: Problem, place: int, served: tuple[int, ...]) -> float:
    """Interval costs of one place served at these stops, straight from the definition."""
    nodes = (0, *served, problem.stops + 1)
    return sum(float(problem.interval_cost[place, s, t]) for s, t in pairwise(nodes))


def stops_kept(problem: Problem, opened: tuple[int, ...]) -> bool:
    if set(problem.forced) - set(opened) or set(opened) & set(problem.forbidden):
        return False
    return all(sum(b.weight[n] for n in opened) <= b.at_most + 1e-9 for b in problem.budgets)


def entry_cost(problem: Problem, opened: tuple[int, ...], served: tuple[tuple[int, ...], ...]) -> float:
    """Cost of whole entries, or inf where there are more than may be."""
    if problem.entries is None:
        return 0.0
    rule, used, cost = problem.entries, 0.0, 0.0
    for n in opened:
        hours = rule.fixed_hours[n] + sum(rule.change_hours[p, n] for p, s in enumerate(served) if n in s)
        count = max(1, int(np.ceil(hours / rule.hours_per_entry[n] - 1e-9)))
        cost += count * rule.cost_per_entry[n]
        used += count * rule.counted[n]
    return np.inf if used > rule.at_most + 1e-9 else cost


def kept_together(problem: Problem, opened: tuple[int, ...], served: tuple[tuple[int, ...], ...]) -> float:
    """Cost of the entries, or inf where a rule that ties places together is broken."""
    extra = entry_cost(problem, opened, served)

    def before(p: int, n: int) -> int:
        return max((s for s in served[p] if s < n), default=0)

    for row in problem.rows:
        for n in (*opened, problem.stops + 1):
            if sum(row.over[m, before(p, n), n] for m, p in enumerate(row.members)) > row.at_most + 1e-9:
                return np.inf
    return extra


def least_cost(problem: Problem) -> float:
    """Least cost over all sets of stops and all visits; inf where nothing is allowed."""
    best = np.inf
    for opened in all_sets(range(1, problem.stops + 1)):
        if not stops_kept(problem, opened):
            continue
        fixed_cost = float(sum(problem.stop_cost[n] for n in opened))
        options = [[(chain_cost(problem, p, s), s) for s in all_sets(opened)] for p in range(problem.places)]
        if problem.is_path_model:
            best = min(best, fixed_cost + sum(min(o)[0] for o in options))
            continue
        for choice in product(*options):
            total = fixed_cost + sum(c for c, _ in choice)
            if total < best:
                best = min(best, total + kept_together(problem, opened, tuple(s for _, s in choice)))
    return best


def cost_of(problem: Problem, stops, visits=None) -> float:
    """What the program says a plan costs; without visits, the best ones at these stops."""
    chosen = sorted(set(stops))
    return repaired(problem, chosen).cost if visits is None else fixed.plan_cost(problem, chosen, visits)
