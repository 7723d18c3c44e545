"""A plan near given stops, by local search alone: no bound."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from .local import Search
from .problem import Problem
from .repair import repaired
from .result import Solved, Watch


def nearby(problem: Problem, stops: Iterable[int], *, watch: Watch | None = None) -> Solved:
    """Descend from a set of stops, and keep the rows at where it ends; its bound is not one of the problem."""
    clock = watch or Watch()
    best, _ = Search(problem).improve(stops, clock)
    return replace(repaired(problem, best, watch=clock), lower_bound=-np.inf, gap=np.inf)
