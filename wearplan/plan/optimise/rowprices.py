"""Prices for rows: what every interval with a member over its limit pays, from the linear programme at given stops.

``sum over members of over[m, last served, n] <= at_most`` holds at every node n of every plan, open or not (it must
not fall along an interval, and binds at the open stop that follows), so that a multiplier mu[n] >= 0 on it keeps a
bound a bound: a member's interval (s, t) pays ``mu[n] * over[m, s, n]`` for every n in s < n <= t, and the bound loses
``mu[n] * at_most``. With the stops given the best multipliers are the duals of a small linear programme; a stop
shifted a little still passes the nodes that are priced, so that they serve for all plans near these stops.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from . import fixed
from .arc_model import arc_model
from .highs import row_duals
from .problem import Floats, Problem, only_places, restricted


def row_prices(problem: Problem, stops: Iterable[int]) -> tuple[dict[int, Floats], float]:
    """What the members' intervals pay, (N+1, N+2) for each place in a row with a price, and what the bound loses;
    from the linear programme of the rows alone with exactly these stops open.
    """
    at = tuple(sorted(stops))
    free = fixed.best_visits(problem, stops)
    if free is None:
        return {}, 0.0
    broken = fixed.rows_broken(problem, problem.at(at), fixed.served_before(free))
    rules = tuple(problem.rows[k] for k in sorted({k for *_, k in broken}))
    if not rules:
        return {}, 0.0
    members = np.array(sorted({p for r in rules for p in r.members}), dtype=np.intp)
    alone = replace(problem, rows=rules, entries=None, budgets=())
    alone = only_places(alone, members)
    model = arc_model(restricted(alone, at, at))
    duals = row_duals(model)
    pays = {int(p): np.zeros(problem.interval_cost.shape[1:]) for p in members}
    if duals is None:
        return pays, 0.0
    nodes = problem.nodes(at)
    each = nodes.size  # rules of one row: one at every node, the last ones of the model
    lost = 0.0
    for rule, dual in zip(rules, duals[-each * len(rules) :].reshape(-1, each), strict=True):
        price = np.zeros(problem.end + 1)
        price[nodes] = np.maximum(-dual, 0.0)
        lost += float(price.sum()) * rule.at_most
        after = np.arange(problem.end + 1)[None, :] > np.arange(problem.end)[:, None]
        for m, p in enumerate(rule.members):
            pays[p] += np.cumsum(np.where(after, rule.over[m] * price, 0.0), axis=1)
    return pays, lost
