"""The optimiser: which stops to open and which places to serve at each, at least expected cost, with a proven gap.

Arrays in, arrays out; nothing here knows tunnels, money or people. See `problem` for what the model holds.
"""

from __future__ import annotations

from .clash import why_infeasible
from .fixed import best_visits, broken, intervals_of, served_before
from .highs import solve_arc_model
from .near import nearby
from .problem import Budget, Problem, RowRule, WholeEntries
from .result import Clash, Progress, Solved, Watch
from .solve import solve
from .whole import arcs_below, least_entries, whole_bound

__all__ = [
    "Budget",
    "Clash",
    "Problem",
    "Progress",
    "RowRule",
    "Solved",
    "Watch",
    "WholeEntries",
    "arcs_below",
    "best_visits",
    "broken",
    "intervals_of",
    "least_entries",
    "nearby",
    "served_before",
    "solve",
    "solve_arc_model",
    "whole_bound",
    "why_infeasible",
]
