"""Least cost against brute force and against a published example."""

from __future__ import annotations

import numpy as np
import pytest

from wearplan.plan.optimise import Problem, best_visits, branch, prices, solve, trials

from .brute import cost_of, least_cost
from .instances import by_node, small


def wagner_whitin() -> Problem:
    """Lot sizes of Wagner & Whitin 1958, Management Science 5:89 (data from memory, recomputed), as a plan of one
    place.

    A set-up in month n is a stop before month n; an interval from month s to month t holds the stock for s+1..t-1.
    Node 0 comes before the first month, so it must be followed at once by stop 1.
    """
    demand = np.array([69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56], dtype=float)
    setup = np.array([85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114], dtype=float)
    cost = np.full((1, 13, 14), np.inf)
    cost[0, 0, 1] = 0.0
    for s in range(1, 13):
        for t in range(s + 1, 14):
            cost[0, s, t] = sum((j - s) * demand[j - 1] for j in range(s + 1, t))
    return Problem(cost, by_node(setup))


@pytest.mark.parametrize("method", ["arc model", "prices"])
def test_wagner_and_whitin(method: str) -> None:
    solved = solve(wagner_whitin(), method=method)
    assert solved.cost == pytest.approx(864.0)
    assert solved.lower_bound == pytest.approx(864.0)
    assert solved.status == "least cost"


def test_wagner_and_whitin_month_by_month() -> None:
    # F(k): least cost of the first k months, same source.
    expected = [85, 114, 186, 277, 348, 400, 469, 555, 600, 710, 789, 864]
    whole = wagner_whitin()
    for months, value in enumerate(expected, start=1):
        first = Problem(whole.interval_cost[:, : months + 1, : months + 2], by_node(whole.stop_cost[1 : months + 1]))
        assert solve(first).cost == pytest.approx(value)


@pytest.mark.parametrize("method", ["arc model", "prices"])
@pytest.mark.parametrize("tied", [False, True])
def test_equals_brute_force(method: str, tied: bool) -> None:
    impossible = 0
    for seed in range(150):
        problem = small(seed, tied=tied, whole=method == "arc model")
        expected = least_cost(problem)
        solved = solve(problem, method=method)
        if np.isinf(expected):
            impossible += 1
            assert solved.status == "impossible", seed
            continue
        assert solved.cost == pytest.approx(expected, rel=1e-6, abs=1e-6), seed
        assert solved.lower_bound <= expected + 1e-6, seed
        assert cost_of(problem, solved.stops, solved.visits) == pytest.approx(solved.cost), seed
    assert 5 < impossible < 100  # both kinds are met


@pytest.mark.parametrize("tied", [False, True])
def test_branching_alone_equals_brute_force(tied: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    # Nothing is left to HiGHS but the visits at given stops, and hardly any prices, so that branching has to do the
    # work.
    monkeypatch.setattr(branch, "SMALL_REST", 0)
    monkeypatch.setattr(branch, "SMALL_TIED_REST", 0)
    monkeypatch.setattr(branch, "ROOT_ROUNDS", 0)
    monkeypatch.setattr(branch, "NODE_ROUNDS", 0)
    monkeypatch.setattr(trials, "TRIALS", 1)
    monkeypatch.setattr(branch, "smooth", lambda *_: None)
    monkeypatch.setattr(trials, "smooth", lambda *_: None)
    monkeypatch.setattr(prices, "sweep", lambda *_: None)
    split = 0
    for seed in range(150, 250):
        problem = small(seed, tied=tied)
        expected = least_cost(problem)
        solved = solve(problem, method="prices")
        split += solved.nodes > 1
        assert solved.cost == pytest.approx(expected, rel=1e-6, abs=1e-6), seed
        assert solved.lower_bound <= expected + 1e-6 or np.isinf(expected), seed
    assert split > 10


def test_fixed_stops_equal_brute_force() -> None:
    for seed in range(60):
        problem = small(seed)
        rng = np.random.default_rng(seed)
        some = tuple(int(n) for n in range(1, problem.stops + 1) if rng.random() < 0.5)
        given = Problem(
            problem.interval_cost, problem.stop_cost, forced=some,
            forbidden=tuple(set(range(1, problem.stops + 1)) - set(some)),
        )  # fmt: skip
        expected = least_cost(given)
        visits = best_visits(given, some)
        assert (visits is None) == np.isinf(expected)
        assert cost_of(given, some) == pytest.approx(expected)
        if visits is not None:
            assert cost_of(given, some, visits) == pytest.approx(expected)
