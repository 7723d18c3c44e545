"""Planning problems to test with: small random ones of every kind, and larger ones with the shape of real wear-out
costs.
"""

from __future__ import annotations

import numpy as np

from wearplan.plan.optimise import Budget, Problem, RowRule, WholeEntries


def by_node(values: np.ndarray, ends: float = 0.0) -> np.ndarray:
    """What belongs to stops, (..., N), by node, (..., N+2)."""
    return np.pad(values, [(0, 0)] * (values.ndim - 1) + [(1, 1)], constant_values=ends)


def wear_out(
    places: int,
    stops: int,
    seed: int,
    *,
    length_m: float = 2000.0,
    caps: bool = True,
    tied: bool = False,
) -> Problem:
    """An invented drive: tools wear at their own rates through changing ground; late tools cost more the later they
    are.

    Interval cost = price of a tool with its work, less the value of the life left at the end of the drive, plus the
    expected cost of driving past the damage limit (gamma-like spread by a normal approximation), growing with the
    excess. ``tied`` adds rows of four at the far end of the places.
    """
    rng = np.random.default_rng(seed)
    at = np.concatenate(([0.0], np.sort(rng.uniform(0.02, 0.98, stops)) * length_m, [length_m]))
    edges = np.linspace(0.0, length_m, 9)
    ground = np.interp(at, edges, np.concatenate(([0.0], np.cumsum(rng.gamma(4.0, 0.25, 8))))) / 8.0
    ground *= length_m / ground[-1]
    limit = rng.choice([20.0, 25.0, 32.0], places)
    spread = rng.uniform(0.12, 0.3, places)
    life_m = rng.uniform(250.0, 1600.0, places)  # metres of average ground until the damage limit
    worn_now = rng.uniform(0.0, 0.8, places) * limit
    if tied:
        smooth = 700.0 + 500.0 * np.sin(np.linspace(0.0, 5.0, places) + rng.uniform(0, 6))
        life_m = smooth * rng.uniform(0.85, 1.15, places)
        limit = np.full(places, 25.0)
        worn_now = np.clip(
            8.0 + 5.0 * np.sin(np.linspace(0.0, 9.0, places)) + rng.uniform(-3.0, 3.0, places), 0.0, None
        )
    per_m = limit / life_m
    price = rng.uniform(1500.0, 6000.0, places)
    work = rng.uniform(1.0, 3.0, places) * 1500.0
    late, late_per_m = 18000.0, 60.0
    driven = ground[None, :] - ground[: stops + 1, None]
    mean = per_m[:, None, None] * driven
    mean[:, 0, :] += worn_now[:, None]
    sd = spread[:, None, None] * np.maximum(mean, 1e-3) + 0.3
    from scipy.special import ndtr

    z = (mean - limit[:, None, None]) / sd
    over = ndtr(z)
    excess_mm = sd * (z * over + np.exp(-0.5 * z**2) / np.sqrt(2 * np.pi))
    cost = late * over + late_per_m * excess_mm / per_m[:, None, None]
    if caps:
        cost[over > 0.35] = np.inf
        cost[:, np.arange(stops + 1), np.arange(1, stops + 2)] = np.nan_to_num(
            cost[:, np.arange(stops + 1), np.arange(1, stops + 2)], posinf=5e4
        )
    compressed = rng.random(stops) < 0.6
    dearer = np.where(compressed, 2.2, 1.0)
    cost[:, :, 1:-1] += price[:, None, None] + work[:, None, None] * dearer[None, None, :]
    left = np.clip(1.0 - mean[:, :, -1] / limit[:, None], 0.0, 1.0)
    cost[:, 1:, -1] -= 0.5 * price[:, None] * left[:, 1:]
    stop_cost = by_node(np.where(compressed, rng.uniform(60e3, 110e3, stops), rng.uniform(20e3, 50e3, stops)))
    if not tied:
        return Problem(cost, stop_cost)
    in_rows = places // 5
    over[:, np.arange(stops + 1), np.arange(1, stops + 2)] = 0.0  # what cannot be helped is no fault of the row
    rows = tuple(
        RowRule(f"S{k}", tuple(range(k, k + 4)), (over[k : k + 4] > 0.5).astype(float), 2.0)
        for k in range(places - in_rows, places - 3, 4)
    )
    return Problem(cost, stop_cost, rows=rows)


def small(seed: int, *, tied: bool = False, whole: bool = False) -> Problem:
    """A random problem small enough for brute force: caps, forced and forbidden stops, budgets, rows (tied), entries
    counted whole (whole).
    """
    rng = np.random.default_rng(seed)
    stops = int(rng.integers(1, 6 if tied else 8))
    places = int(rng.integers(1, 3 if tied else 5))
    node = np.arange(stops + 2)
    gap = (node[None, :] - node[: stops + 1, None]).clip(0)
    cost = rng.uniform(0, 3, (places, stops + 1, stops + 2)) + rng.uniform(0.2, 2.0, (places, 1, 1)) * gap**2
    if rng.random() < 0.3:
        cost -= rng.uniform(0, 5)
    cost[rng.random(cost.shape) < rng.choice([0.0, 0.2, 0.5])] = np.inf
    stop_cost = by_node(rng.uniform(0, 8, stops))
    shuffled = rng.permutation(stops) + 1
    forced = tuple(int(n) for n in shuffled[: rng.integers(0, 2)])
    forbidden = tuple(int(n) for n in shuffled[stops - rng.integers(0, 2) :]) if stops > 1 else ()
    forbidden = tuple(n for n in forbidden if n not in forced)
    budgets = ()
    if rng.random() < 0.4:
        budgets = (Budget("entries", by_node(rng.integers(0, 3, stops).astype(float)), float(rng.integers(1, 5))),)
    if not tied:
        return Problem(cost, stop_cost, forced, forbidden, budgets)
    entries = None
    if whole and rng.random() < 0.7:
        entries = WholeEntries(
            by_node(rng.uniform(0.5, 3, (places, stops))), by_node(rng.uniform(0, 1, stops)),
            by_node(rng.choice([2.0, 4.0, np.inf], stops), np.inf), by_node(rng.uniform(0, 4, stops)),
            by_node(rng.integers(0, 2, stops).astype(float)), float(rng.choice([2.0, 4.0, np.inf])),
        )  # fmt: skip
    rows: tuple[RowRule, ...] = ()
    if rng.random() < 0.7:
        over = np.cumsum(rng.random((places, stops + 1, stops + 2)) < 0.25, axis=2) > 0
        rows = (RowRule("S1", tuple(range(places)), over.astype(float), float(rng.integers(0, places + 1))),)
    return Problem(cost, stop_cost, forced, forbidden, budgets, entries, rows)
