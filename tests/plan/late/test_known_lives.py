"""The opportunistic replacement problem with known lives: the planner against proven optima from outside.

Ten parts of known life; each occasion to work costs 20 whatever is replaced, each part its own price, and no part may
be used longer than it lives. Model: Almgren, Andréasson, Patriksson, Strömberg, Wojciechowski, Önnheim 2012, "The
opportunistic replacement problem: theoretical analyses and numerical tests", Mathematical Methods of Operations
Research 76:289. The instance is the one of the course exercise "uh-stor" of Chalmers and the University of Gothenburg:
model read at math.chalmers.se/Math/Grundutb/CTH/mve165/1011/Assignments/uh-stor.mod, costs and lives read in a
student's public solution of it (github.com/blogsh/linopt2, local/solve.py); the course's own data file was not read.
The optima are found here again by SciPy from a formulation of its own, so they are no values from memory.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.plan.makers import MadeOutlook, make_site, window
from wearplan.plan.proposal import propose
from wearplan.plan.records import Plan, Wishes
from wearplan.site.records import Costs, Site, ToolType
from wearplan.wheel import layout_at

PRICE = (34, 25, 14, 21, 16, 3, 10, 5, 7, 10)
LIFE = (42, 18, 90, 94, 49, 49, 34, 90, 37, 11)
OCCASION = 20.0
OPTIMA = {50: 260.0, 100: 615.0, 125: 762.0}


def milp_optimum(steps: int) -> float:
    """Least cost over 1..steps: every run of LIFE steps holds a replacement, and replacements only at occasions."""
    import scipy.optimize
    import scipy.sparse

    parts = len(PRICE)
    cost = np.concatenate([np.repeat(np.array(PRICE, float), steps), np.full(steps, OCCASION)])
    row, col, value, low = [], [], [], []
    for i, life in enumerate(LIFE):
        for first in range(steps - life + 1):
            row += [len(low)] * life
            col += [i * steps + first + k for k in range(life)]
            value += [1.0] * life
            low.append(1.0)
    for i in range(parts):
        for t in range(steps):
            row += [len(low)] * 2
            col += [parts * steps + t, i * steps + t]
            value += [1.0, -1.0]
            low.append(0.0)
    matrix = scipy.sparse.csr_array((value, (row, col)), shape=(len(low), len(cost)))
    found = scipy.optimize.milp(
        cost, constraints=scipy.optimize.LinearConstraint(matrix, low, np.inf), bounds=scipy.optimize.Bounds(0, 1),
        integrality=np.concatenate([np.zeros(parts * steps), np.ones(steps)]), options={"mip_rel_gap": 0.0},
    )  # fmt: skip
    return float(found.fun)


def drive(steps: int) -> tuple[Site, MadeOutlook]:
    """The instance as a drive of rings of 1 m: a part is a disc without scatter that passes its limit half a ring
    after its life; its price is the hours of its change at 1 an hour, and an occasion is the window's fixed cost.
    """
    types = tuple(
        ToolType(
            code=f"part-{i + 1}", kind="disc", wear_limit_mm=10.0, damage_limit_mm=10.0, price=0.0, lead_time_days=0.0,
            change_hours={"free air": float(price)},
        )
        for i, price in enumerate(PRICE)
    )  # fmt: skip
    site = make_site(
        discs=len(PRICE), gauge=0, windows=(window("all the way", 0.5, steps + 0.5, setup_hours=0.0, fixed_cost=20.0),),
        rows=(), face_m=0.0, end_m=float(steps + 1), caps={}, steps={},
        costs=Costs(standstill_per_hour=1.0, late_tool=1e5, late_tool_per_m=0.0),
    )  # fmt: skip
    positions = tuple(replace(p, tool_type=t.code) for p, t in zip(site.wheel.positions, types, strict=True))
    site = replace(
        site,
        drive=replace(site.drive, ring_length_m=1.0),
        wheel=replace(site.wheel, positions=positions, tool_types=types),
    )
    grid = np.arange(0.0, steps + 1.01, 0.5)
    layout = layout_at(site.wheel, 0.0)
    rate = 10.0 / (np.array(LIFE) + 0.5)
    one = np.ones((1, len(PRICE)))
    potential = (rate[None, :, None] * grid).astype(np.float64)
    return site, MadeOutlook(
        site=site, layout=layout, face_m=0.0, end_m=float(steps + 1), grid_m=grid, numbers=layout.numbers,
        limit_mm=layout.limit_mm, damage_limit_mm=layout.damage_limit_mm, wear_now_mm=0.0 * one, life_factor=one,
        potential_mm=potential, damage_hazard=0.0 * potential, life_sd=1e-6 * one, step_mm=1e-6 * one,
        lives=(None,) * len(PRICE), unknown=np.zeros(len(PRICE), bool),
    )  # fmt: skip


def planned(steps: int, *, gap: float = 1e-6, time_limit_s: float = 60.0) -> Plan:
    site, outlook = drive(steps)
    wishes = Wishes(
        deferral=False, tradeoff=False, comparison=False, gap=gap, time_limit_s=time_limit_s,
        max_candidates=200,
    )  # fmt: skip
    return propose(site, outlook, wishes=wishes)


def check_lives(plan: Plan, steps: int) -> float:
    """Cost of a plan in the words of the problem; fails where a part is used longer than it lives."""
    cost = OCCASION * len(plan.stops)
    for i, (price, life) in enumerate(zip(PRICE, LIFE, strict=True)):
        at = [round(s.driven_m) for s in plan.stops if any(i + 1 in c.positions for c in s.changes)]
        assert max(np.diff([0, *at, steps + 1])) <= life
        cost += price * len(at)
    return cost


def test_fifty_steps_cost_what_is_proven() -> None:
    assert milp_optimum(50) == pytest.approx(OPTIMA[50])
    plan = planned(50)
    assert plan.status == "least_cost"
    assert check_lives(plan, 50) == OPTIMA[50]
    assert plan.expected_cost == pytest.approx(OPTIMA[50])


def test_a_hurried_answer_stays_honest_about_the_long_instance() -> None:
    """125 steps in a second: whatever is found, the proven optimum lies between its bound and its cost."""
    plan = planned(125, gap=0.15, time_limit_s=3.0)
    assert plan.lower_bound is not None
    assert plan.expected_cost is not None
    assert plan.lower_bound <= OPTIMA[125] + 1e-6
    assert check_lives(plan, 125) >= OPTIMA[125]
    assert plan.gap is not None
    assert plan.expected_cost * (1.0 - plan.gap) <= OPTIMA[125] * (1.0 + 1e-6)
