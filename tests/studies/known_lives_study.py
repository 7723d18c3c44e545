"""The opportunistic replacement problem with known lives at full length; see `tests.plan.late.test_known_lives`.

python -m tests.studies.known_lives_study [seconds a plan]
"""

from __future__ import annotations

import sys
import time

from tests.plan.late.test_known_lives import OPTIMA, check_lives, milp_optimum, planned

if __name__ == "__main__":
    limit = float(sys.argv[1]) if len(sys.argv) > 1 else 60.0
    print(" steps  proven  again by SciPy  planned  bound    gap  CPU s")
    for steps, proven in OPTIMA.items():
        began = time.process_time()
        plan = planned(steps, time_limit_s=limit)
        spent = time.process_time() - began
        again = milp_optimum(steps)
        print(
            f"{steps:6d}{proven:8.0f}{again:16.1f}{check_lives(plan, steps):9.0f}{plan.lower_bound:7.1f}"
            f"{plan.gap:7.2%}{spent:7.1f}",
            flush=True,
        )
