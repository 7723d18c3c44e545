"""A lower bound for plans as they are carried out, with entries counted whole."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from wearplan.plan.model.exact import Model
from wearplan.plan.optimise import Problem, Watch, whole_bound
from wearplan.plan.settings import SETTINGS

from .filled import whole_problem


def bound_of_whole(
    model: Model, problem: Problem, cost: float, *, should_stop: Callable[[], bool] | None = None
) -> float:
    """What no plan costs less than as it would be carried out; -inf where nothing more is shown than in parts.

    Parameters
    ----------
    problem
        From `Model.path_problem`, without a price on entries.
    cost
        Of the best plan known; the bound goes no further than `SETTINGS.whole.bound` of it.
    """
    effort = SETTINGS.whole
    if not math.isfinite(cost) or cost <= 0.0 or not np.isfinite(model.hours_per_entry).any():
        return -math.inf
    most = math.inf if model.max_entries is None else float(model.max_entries)
    return whole_bound(
        problem, whole_problem(model, problem, at_most=most), effort.bound * cost, alike=np.asarray(model.cands.window),
        most_arcs=effort.arcs, most_nodes=effort.nodes, watch=Watch(math.inf, should_stop),
    )  # fmt: skip
