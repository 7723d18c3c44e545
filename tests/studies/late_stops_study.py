"""The plan against every plan there is, on small drives whose late tools stop them; see `tests.plan.late.late_stops`.

    python -m tests.studies.late_stops_study [drives] [first]

A drive's line: the plan's own expected cost, what the reference finds for that same plan, and the least cost of any.
"""

from __future__ import annotations

import sys

import numpy as np

from tests.plan.late.late_stops import Small, Stretch, cost_of, least, small, stretches
from wearplan.plan.proposal import propose
from wearplan.plan.records import Plan, Wishes

ALONE = Wishes(deferral=False, tradeoff=False, comparison=False, gap=1e-6, time_limit_s=10.0)


def solved(seed: int) -> tuple[Small, list[Stretch], Plan]:
    case = small(seed)
    table = [stretches(case, p) for p in range(len(case.outlook.numbers))]
    return case, table, propose(case.site, case.outlook, wishes=ALONE)


def told_and_least(seed: int) -> tuple[float, float, float]:
    """The plan's own expected cost, what the reference finds for that plan, and the least of the reference."""
    case, table, plan = solved(seed)
    stops = tuple(int(np.argmin(np.abs(np.array(case.stop_m) - s.driven_m))) for s in plan.stops)
    visits = [
        tuple(n for n, s in zip(stops, plan.stops, strict=True) if any(p + 1 in c.positions for c in s.changes))
        for p in range(len(table))
    ]
    assert plan.expected_cost is not None
    return plan.expected_cost, cost_of(case, table, stops, visits), least(case, table)


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    first = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    told, above = [], []
    for seed in range(first, first + count):
        own, reference, best = told_and_least(seed)
        told.append(own / reference - 1.0)
        above.append(reference / best - 1.0)
        print(
            f"{seed:5d}{own:12,.0f}{reference:12,.0f}{best:12,.0f}  told {told[-1]:+.2%}  above {above[-1]:+.2%}",
            flush=True,
        )
    for name, values in (("told against the reference", told), ("plan above the least", above)):
        off = np.abs(np.array(values))
        print(f"{name}: mean {off.mean():.3%}, worst {off.max():.2%}, over 1 % on {(off > 0.01).sum()} of {count}")
