"""Drives whose late tools stop them: the reference of `late_stops` against renewal theory, and the plan against it.

A few drives here; `tests.studies.late_stops_study` runs 300.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.plan.late.late_stops import passed, small, stretches
from tests.plan.late.renewals import renewals
from tests.studies.late_stops_study import told_and_least


def test_the_reference_agrees_with_renewal_theory() -> None:
    """A new tool in even ground, forced stops dear everywhere: R(0, t) is the fee times M(t)."""
    case = small(13)
    stretch = stretches(case, 0)
    out = case.outlook
    rate = float(np.diff(out.potential_mm[0, 0, [0, -1]])[0]) / (out.end_m - out.face_m)
    sd, step, damage = float(out.life_sd[0, 0]), float(out.step_mm[0, 0]), float(out.damage_limit_mm[0])

    def fails(t: np.ndarray) -> np.ndarray:
        return passed(rate * t, step * rate * t + (sd * rate * t) ** 2, damage)

    stops = case.site.stops
    assert stops is not None
    row = stops.forced_stops[0]
    assert row.from_m == 0.0
    fee = stops.costs.late_tool + row.hours * stops.costs.standstill_per_hour + 3200.0
    _, mean = renewals(fails, out.end_m - out.face_m)
    assert mean[-1] > 0.3
    assert stretch.late[0, -1] == pytest.approx(fee * mean[-1], rel=2e-3)


@pytest.mark.parametrize("seed", range(1000, 1008))
def test_the_plan_is_the_least_of_all_and_costs_what_it_says(seed: int) -> None:
    told, reference, best = told_and_least(seed)
    assert told == pytest.approx(reference, rel=0.01)
    assert reference <= best * 1.002 + 1.0
