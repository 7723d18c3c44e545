"""What late tools will cost, foretold against what comes: nothing planned, every tool changed where it is late.

    python -m tests.studies.late_cost_study "as modelled" [first [last]] [--futures N]

For each drive of a committed world (see `tests.simulate.seeds`): the cost of tools past their damage limit between the
face and the end that the outlook foretells, and the mean of N futures of the truth, in which steps of wear and the
factors of new tools are drawn anew and the ground stays what it is. Damage by chance is left out on both sides. A late
tool is changed where it is late, for the site's price of one and its own. Told by seed; then the ratio of the means.
"""

from __future__ import annotations

import argparse
import copy
from dataclasses import replace

import numpy as np

from tests.simulate.seeds import WORLDS, Case
from wearplan.plan.model.asked import task
from wearplan.plan.records import Wishes
from wearplan.wear import learn, look_ahead

FUTURES = 200


def foretold(case: Case) -> tuple[float, dict[int, float]]:
    """Expected cost, and what each late tool costs by position."""
    site = case.world().site
    outlook = look_ahead(site, learn(site))
    model, _ = task(site, replace(outlook, hazard_per_m=0.0 * outlook.hazard_per_m), Wishes(max_candidates=1))
    assert site.stops is not None
    fee = site.stops.costs.passed_limit
    cost = np.array([fee + tool.price for tool in model.ahead.tools])
    by_position = {n: float(cost[p]) for p, tool in enumerate(model.ahead.tools) for n in tool.place.positions}
    return float((model.inter.passes[:, 0, -1] * cost).sum()), by_position


def true_cost(case: Case, cost: dict[int, float], futures: int) -> float:
    """Mean cost of the truth's futures."""
    truth = case.world().truth
    run, process = truth.run, copy.copy(truth.process)
    process.hazard = np.zeros_like(process.hazard)
    wheel = run.blueprint.wheel
    types = [wheel.tool_type(position.tool_type) for position in process.positions]
    damage = np.array([each.damage_limit_mm or each.wear_limit_mm for each in types])
    price = np.array([cost[int(n)] for n in process.numbers])
    rng = np.random.default_rng([case.seed, 77])
    shape = 1.0 / process.life_sd**2
    spent = 0.0
    for _ in range(futures):
        process._step = rng.random(process._step.shape)
        process._factor = rng.gamma(shape, 1.0 / shape, process._factor.shape)
        state = run.state.copy()
        for ring in range(run.ring, process.rings):
            late = state.wear_mm > damage
            for place in np.flatnonzero(late):
                process.fit(state, int(place), ring)
            spent += float(price[late].sum())
            process.advance(state, ring)
        spent += float(price[state.wear_mm > damage].sum())
    return spent / futures


def main(world: str, first: int, last: int, futures: int) -> None:
    """One line a seed, then the world."""
    told, came = [], []
    for case in WORLDS[world][first:last]:
        expected, price = foretold(case)
        true = true_cost(case, price, futures)
        told.append(expected)
        came.append(true)
        print(f"{world:<26} {case.seed} foretold {expected / 1e3:8.0f} came {true / 1e3:8.0f} thousand", flush=True)
    ratio = sum(told) / max(sum(came), 1e-9)
    means = f"foretold {np.mean(told) / 1e3:.0f}, came {np.mean(came) / 1e3:.0f} thousand"
    print(f"{world}: {means} on the mean: x{ratio:.2f}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description="What late tools will cost, foretold against what comes.")
    parser.add_argument("world", choices=[*WORLDS, "all"])
    parser.add_argument("first", nargs="?", type=int, default=0)
    parser.add_argument("last", nargs="?", type=int, default=24)
    parser.add_argument("--futures", type=int, default=FUTURES)
    args = parser.parse_args()
    for name in WORLDS if args.world == "all" else (args.world,):
        main(name, args.first, args.last, args.futures)
