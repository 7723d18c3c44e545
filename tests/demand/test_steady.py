"""A line called sure does not hang on the random numbers; the sample's own forty seeds stand in a study."""

from __future__ import annotations

from collections import Counter

from tests.demand.test_forecast import NEED, TODAY, drive, site, stocked
from wearplan.demand import forecast

__all__ = ["site"]
SEEDS = 12


def test_no_sure_line_is_missing_on_other_draws(site):
    seen, sure = Counter(), Counter()
    numbers: dict[tuple[int, str], set[int]] = {}
    bands: dict[tuple[int, str], list[tuple[int, int]]] = {}
    for on_hand in (0, 4, 9):
        for seed in range(SEEDS):
            demand = forecast(
                [drive(stocked(site, on_hand=on_hand, on_order=()), NEED, seed=seed)], as_of=TODAY, seed=seed
            )
            for action in demand.actions:
                key = (on_hand, action.what)
                seen[key] += 1
                sure[key] += action.sure
                numbers.setdefault(key, set()).add(action.quantity)
                if action.sure:
                    bands.setdefault(key, []).append((action.low, action.high))
    assert any(sure.values())
    assert [key for key, count in sure.items() if count and seen[key] < SEEDS] == []
    for key, found in bands.items():
        low, high = min(low for low, _ in found), max(high for _, high in found)
        assert all(low <= number <= high for number in numbers[key]), key
