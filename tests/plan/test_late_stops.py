"""The reference for drives whose late tools stop them, see `late_stops`, against renewal theory."""

from __future__ import annotations

import numpy as np
import pytest

from tests.plan.late_stops import passed, small, stretches
from tests.plan.renewals import renewals


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
