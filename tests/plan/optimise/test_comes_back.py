"""A model on which HiGHS 1.16 restarts and then never comes back, deaf to callbacks and clock: whole entries at six
stops of a simulated drive of 88 places.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import scipy.sparse

from wearplan.plan.optimise.arc_model import ArcModel
from wearplan.plan.optimise.highs import run
from wearplan.plan.optimise.result import Watch

MODEL = Path(__file__).with_name("restart.npz")


def solve() -> None:
    """Solve it and print status and bound."""
    kept = np.load(MODEL)
    shape = (kept["row_lower"].size, kept["cost"].size)
    none = np.zeros(0, dtype=np.intp)
    model = ArcModel(
        cost=kept["cost"], lower=kept["lower"].astype(float), upper=kept["upper"].astype(float),
        whole=np.ones(shape[1], dtype=bool), row_lower=kept["row_lower"], row_upper=kept["row_upper"],
        matrix=scipy.sparse.csc_array((kept["data"], kept["row"], kept["col"]), shape=shape),
        place=none, start=none, end=none, nodes=0,
    )  # fmt: skip
    status, values, bound, *_ = run(model, gap=2e-3, watch=Watch(30.0), most_nodes=200)
    assert values is not None
    print(status, round(bound), round(float(kept["cost"] @ values)))


def test_a_model_that_restarts_is_solved() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.plan.optimise.test_comes_back"],
        capture_output=True, text=True, check=False, timeout=120, cwd=Path(__file__).parents[3],
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    bound, cost = done.stdout.split()[-2:]
    assert done.stdout.startswith("best found")
    assert 0.998 * float(cost) <= float(bound) <= float(cost)


if __name__ == "__main__":
    solve()
