"""When best to ask for each missing tool, worked out backwards from the last look at the store."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from wearplan.demand.decide.terms import Terms
from wearplan.demand.decide.units import Need, none_cost, short_if, unit_cost

NEVER = -1
FEW = 8
"""Fewer draws than this tell nothing of chance: each is taken as known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Later:
    """What happens to each missing tool if it is not asked for today."""

    cost: np.ndarray
    """(D, N)"""
    way: np.ndarray
    """(D, N) number of the mode it is asked for by; `NEVER`: not at all."""
    day: np.ndarray
    """(D, N) day on which it is asked for; the number of days where never."""
    short: np.ndarray
    """(D, N) whether it is missing at its stop."""


def look_days(need: Need, terms: Terms, *, most: int = 26) -> list[int]:
    """Days of the looks after today: every review period, wider apart far ahead where they would be too many."""
    wanted = need.first[need.first < need.never]
    last = int(wanted.max(initial=0)) + 1
    step = max(1, terms.look_days)
    days = list(range(step, max(last, step) + 1, step))
    if len(days) > most:
        near = days[: most // 2]
        far = np.unique(np.linspace(near[-1], days[-1], most - len(near) + 1).astype(int))[1:]
        days = near + [int(day) for day in far]
    return days


def later(need: Need, terms: Terms, *, looks: list[int] | None = None, ways: tuple[int, ...] | None = None) -> Later:
    """Ask at each look for the tools that are then worth it, knowing what is known then.

    Parameters
    ----------
    looks : list of int, optional
        Days of the looks after today.
    ways : tuple of int, optional
        Numbers of the modes that may be used; all by default.

    Notes
    -----
    At a look two things are known: what has been used so far, and how many stops are passed. What asking would save
    against waiting is foretold from these by least squares over the draws, each half of the draws by what the other
    half shows, so that no draw is decided with its own future (Longstaff & Schwartz 2001, Review of Financial Studies
    14:113, with the two halves crossed). A tool that is missing already is no question of chance any more.
    """
    looks = look_days(need, terms) if looks is None else looks
    modes = terms.modes
    ways = tuple(range(len(modes))) if ways is None else ways
    cost = none_cost(need, terms)
    way = np.full(cost.shape, NEVER, dtype=np.int8)
    day = np.full(cost.shape, need.never, dtype=np.int32)
    short = need.first < need.never
    halves = np.arange(len(cost)) % 2
    for look in reversed(looks):
        options = [unit_cost(need, terms, comes=look + modes[k].days, price=modes[k].price) for k in ways]
        saved = np.stack([cost - option for option in options])
        known = _missing_now(need, look) if len(cost) >= FEW else np.ones(cost.shape, dtype=bool)
        foretold = _foretold(saved, ~known, _seen(need, look), halves)
        for index, k in enumerate(ways):
            if modes[k].first is not None:
                foretold[index, :, modes[k].first :] = -math.inf
                saved[index, :, modes[k].first :] = -math.inf
        judged = np.where(known[None], saved, foretold)
        best = judged.argmax(axis=0)
        take = np.take_along_axis(judged, best[None], axis=0)[0] > 0.0
        for index, k in enumerate(ways):
            here = take & (best == index)
            if not here.any():
                continue
            cost = np.where(here, options[index], cost)
            way[here], day[here] = k, look
            short = np.where(here, short_if(need, look + modes[k].days), short)
    return Later(cost=cost, way=way, day=day, short=short)


def _missing_now(need: Need, look: int) -> np.ndarray:
    """(D, N) whether each tool was missing at the last stop before a look."""
    passed = need.passed(look)
    if not need.missing.shape[1]:
        return np.zeros(need.first.shape, dtype=bool)
    return np.asarray(need.missing[np.arange(len(passed)), np.maximum(passed - 1, 0)] & (passed > 0)[:, None])


def _seen(need: Need, look: int) -> np.ndarray:
    """(D, F) what is known at a look: a constant, use so far, its square, stops passed."""
    passed = need.passed(look)
    used = np.concatenate([np.zeros((len(passed), 1)), need.used - need.used[:, :1]], axis=1)
    at = np.take_along_axis(used, passed[:, None], axis=1)[:, 0]
    columns = [np.ones(len(passed))]
    for values, powers in ((at, (1, 2)), (passed, (1,))):
        spread = float(values.std())
        if spread > 0:
            scaled = (values - values.mean()) / spread
            columns += [scaled**power for power in powers]
    return np.stack(columns, axis=1)


def _foretold(saved: np.ndarray, open_: np.ndarray, seen: np.ndarray, halves: np.ndarray) -> np.ndarray:
    """(K, D, N) what asking would save, as foretold from what is seen by the other half's draws."""
    features = seen.shape[1]
    if features == 1:  # nothing is known yet that was not known before: the mean of all draws, as of today
        mean = (saved * open_).sum(axis=1) / np.maximum(open_.sum(axis=0), 1)
        return np.broadcast_to(mean[:, None], saved.shape).copy()
    out = np.zeros(saved.shape)
    squares = (seen[:, :, None] * seen[:, None, :]).reshape(len(seen), -1)
    for half in (0, 1):
        mine, other = halves == half, halves != half
        weight = open_[other].astype(float)
        gram = (squares[other].T @ weight).T.reshape(-1, features, features)
        gram = gram + 1e-6 * np.eye(features)
        gram[:, 1:, 1:] += np.eye(features - 1)  # as if one more draw knew nothing: holds thin cells together
        for k in range(len(saved)):
            right = seen[other].T @ (weight * saved[k][other])
            factors = np.linalg.solve(gram, right.T[:, :, None])[:, :, 0]
            out[k][mine] = seen[mine] @ factors.T
    return out
