"""Small cases of a store with two ways to buy, solved exactly by dynamic programming over every state."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.stats import poisson

from wearplan.demand.decide.terms import Terms
from wearplan.demand.decide.today import decide_today
from wearplan.demand.decide.units import Stops, need_of

PERIOD = 10
MOST = 5
"""Tools taken at one stop, at the most."""

Policy = Callable[[int, int, tuple[int, ...]], list[tuple[int, int]]]


@dataclass(frozen=True, kw_only=True)
class Case:
    """Looks at the start of each period, one stop at its end; lead times in periods."""

    periods: int
    lead: int
    fast: int
    mean: tuple[float, ...]
    price: float
    hurry: float
    left: float
    once: float
    per_period: float
    hold: float
    start: int


def small_case(seed: int) -> Case:
    rng = np.random.default_rng(seed)
    periods = int(rng.integers(3, 6))
    lead = int(rng.integers(1, 4))
    fast = int(rng.integers(0, lead))
    mean = tuple(float(m) for m in rng.uniform(0.4, 2.0, periods))
    return Case(
        periods=periods, lead=lead, fast=fast, mean=mean, price=100.0, hurry=float(rng.uniform(110, 220)),
        left=float(rng.uniform(0, 60)), once=float(rng.uniform(100, 900)), per_period=float(rng.uniform(0, 100)),
        hold=float(rng.uniform(0, 3)), start=int(rng.integers(0, 4)),
    )  # fmt: skip


def value_of(case: Case, policy: Policy | None = None) -> float:
    """Expected cost of the best policy, or of one given: quantities to order and to hurry in each state."""
    chance = []
    for mean in case.mean:
        line = poisson.pmf(np.arange(MOST + 1), mean)
        line[-1] += 1.0 - line.sum()
        chance.append(line)
    every = [(q, h) for q in range(5) for h in range(5)]

    @lru_cache(None)
    def value(period: int, level: int, coming: tuple[int, ...]) -> float:
        if period == case.periods:
            return -case.left * (max(level, 0) + sum(coming))
        best = np.inf
        for order, hurry in policy(period, level, coming) if policy else every:
            pipe = [*coming, 0]
            pipe[case.lead] += order
            pipe[case.fast] += hurry
            there = level + pipe[0]
            cost = order * case.price + hurry * case.hurry
            for taken, p in enumerate(chance[period]):
                after = there - taken
                missing, was = max(-after, 0), max(-there, 0)
                here = case.once * (missing - was) + case.per_period * missing + case.hold * max(after, 0)
                cost += p * (here + value(period + 1, after, tuple(pipe[1:])))
            best = min(best, cost)
        return float(best)

    return value(0, case.start, (0,) * case.lead)


def with_decisions(case: Case, *, draws: int = 400) -> float:
    """Exact expected cost if every state is decided anew by the program on its own draws."""
    rng = np.random.default_rng(7)
    taken = np.stack([np.minimum(rng.poisson(mean, draws), MOST) for mean in case.mean], axis=1)
    terms = Terms(
        price=case.price, lead_days=case.lead * PERIOD, hurry_price=case.hurry, hurry_days=case.fast * PERIOD,
        left_value=case.left, holding_per_day=case.hold / PERIOD, leave_once=case.once,
        leave_per_day=case.per_period / PERIOD, look_days=PERIOD,
    )  # fmt: skip
    known: dict[tuple[int, int, tuple[int, ...]], list[tuple[int, int]]] = {}

    def policy(period: int, level: int, coming: tuple[int, ...]) -> list[tuple[int, int]]:
        key = (period, level, coming)
        if key not in known:
            ahead = case.periods - period
            days = np.tile(np.arange(ahead) * PERIOD + PERIOD - 1, (draws, 1))
            shelf = np.full((draws, ahead * PERIOD + 1), level)
            for k in range(ahead):
                shelf[:, k * PERIOD + PERIOD - 1 :] -= taken[:, period + k][:, None]
                shelf[:, k * PERIOD :] += coming[k] if k < len(coming) else 0
            stops = Stops.of(days, np.full(draws, ahead * PERIOD), ahead * PERIOD + 1)
            asked = {a.mode.name: a.quantity for a in decide_today(need_of(shelf, stops, spare=5), terms).asks}
            known[key] = [(min(asked.get("order", 0), 8), min(asked.get("hurry", 0), 8))]
        return known[key]

    return value_of(case, policy)
