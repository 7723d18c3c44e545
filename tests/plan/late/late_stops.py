"""Small drives whose late tools stop them, solved without the program: own renewals, every set of stops and changes.

A tool that passes its damage limit is changed there and then, for the fee, the hours of a forced stop and its price;
so a stretch from s to t costs R(s, t) = sum over u of dq(s, u) (fee + hours(u) + price + R(u, t)) with q(s, u) the
chance that a tool fitted at s has passed by u; hours are the row's, beyond it the set-up of the slowest window. Wear of
a new tool is a gamma of the mean of the ground and the variance
theta m + (sd m)^2, by the incomplete gamma function. No two places meet: late tools of one ring pay their hours twice.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.plan.makers import DISC, MadeOutlook, forced_stop, make_outlook, make_site, window
from wearplan.site.records import Costs, Site

Floats = NDArray[np.float64]
STEP_M = 4.0


@dataclass(frozen=True, kw_only=True)
class Small:
    """One small drive and what a reference needs of it."""

    site: Site
    outlook: MadeOutlook
    stop_m: tuple[float, ...]
    stop_cost: Floats
    work_cost: float
    """Of one change at a stop."""


def small(seed: int) -> Small:
    """Two or three discs, two to four places to stop, forced stops dear or cheap, on all of the way or a part of it."""
    rng = np.random.default_rng([seed, 77])
    count = int(rng.integers(2, 5))
    at = 330.0 + np.cumsum(rng.uniform(50.0, 160.0, count))
    stand = float(rng.uniform(500.0, 2500.0))
    setup = rng.uniform(8.0, 40.0, count)
    end = float(at[-1] + rng.uniform(60.0, 220.0))
    fee = float(np.exp(rng.uniform(np.log(500.0), np.log(2e4))))
    hours = float(np.exp(rng.uniform(np.log(3.0), np.log(150.0))))
    windows = tuple(
        window(f"w{i}", x - 0.2, x + 0.2, setup_hours=float(h))
        for i, (x, h) in enumerate(zip(at, setup, strict=True))
    )  # fmt: skip
    # Rings of 1.5 m do not end in a window so short: its middle is the one place to stop there.
    site = make_site(
        discs=int(rng.integers(2, 4)), gauge=0, windows=windows, rows=(), steps={}, caps={}, end_m=end,
        forced_stops=(forced_stop(*((0.0, end) if rng.random() < 0.6 else (400.0, 560.0)), hours),),
        costs=Costs(standstill_per_hour=stand, late_tool=fee, late_tool_per_m=0.0),
    )  # fmt: skip
    outlook = make_outlook(
        site, draws=60, seed=seed, mm_per_100m=float(rng.uniform(6.0, 30.0)), rate_sd=0.0, wear_sd=0.0,
        wear_now_mm=float(rng.uniform(1.0, 24.0)), life_sd=float(rng.uniform(0.1, 0.3)),
        step_mm=float(rng.uniform(0.1, 0.5)),
    )  # fmt: skip
    work = DISC.change_hours["free air"] * stand
    return Small(site=site, outlook=outlook, stop_m=tuple(at), stop_cost=setup * stand, work_cost=work)


def passed(mean: Floats, variance: Floats, room: float) -> Floats:
    """Chance that a gamma of these moments is over ``room``."""
    from scipy.special import gammaincc

    mean, variance = np.maximum(mean, 1e-9), np.maximum(variance, 1e-12)
    return np.asarray(gammaincc(mean**2 / variance, room * mean / variance))


@dataclass(frozen=True)
class Stretch:
    """Costs of every stretch of one place between mesh points: late tools, and the share left at the end."""

    mesh_m: Floats
    late: Floats
    """(F, F): from a new tool at the first point to the second."""
    late_now: Floats
    """(F,): from the tool in place at the face."""
    left: Floats
    """(F,) share of the limit left at the end of the drive of the tool then in place, new at each point."""
    left_now: float


def stretches(case: Small, place: int) -> Stretch:
    """By the recursion above on an even mesh; a passing is put in the middle of its step."""
    out, costs = case.outlook, case.site.stops.costs  # type: ignore[union-attr]
    face, end = out.face_m, out.end_m
    mesh = np.unique(np.concatenate([np.arange(face, end, STEP_M), [end], case.stop_m]))
    grown = np.interp(mesh, out.grid_m, out.potential_mm[0, place].astype(float))
    sd, step = float(out.life_sd[0, place]), float(out.step_mm[0, place])
    limit, damage = float(out.limit_mm[place]), float(out.damage_limit_mm[place])
    row = case.site.stops.forced_stops[0]  # type: ignore[union-attr]
    middle = 0.5 * (mesh[1:] + mesh[:-1])
    slowest = float(case.stop_cost.max()) / costs.standstill_per_hour
    hours = np.where((middle >= row.from_m) & (middle <= row.to_m), row.hours, slowest)
    fee = costs.late_tool + hours * costs.standstill_per_hour + DISC.price
    count = len(mesh)
    late, left = np.zeros((count, count)), np.zeros(count)
    share = np.zeros(count)
    chance: list[Floats] = [np.zeros(0)] * count
    for s in range(count - 1, -1, -1):
        mean = grown[s:] - grown[s]
        variance = step * mean + (sd * mean) ** 2
        chance[s] = np.diff(passed(mean, variance, damage))
        share[s] = left_of(mean[-1], variance[-1], limit)
        late[s], left[s] = _renewed(chance[s], fee[s:], late[s:], left[s:], share[s], start=s, count=count)
    now = np.asarray(out.wear_now_mm[:, place], float)
    factors = np.asarray(out.life_factor[:, place], float)
    known = np.zeros(count)
    rest = 0.0
    for wear, factor in zip(now, factors, strict=True):
        mean = factor * grown
        known += passed(mean, step * mean, damage - wear) / len(now)
        rest += left_of(mean[-1], step * mean[-1], limit - wear, limit) / len(now)
    late_now, left_now = _renewed(np.diff(known), fee, late, left, rest, start=0, count=count)
    late_now[0] = 0.0
    return Stretch(mesh, late, late_now, left, left_now)


def _renewed(
    gain: Floats, fee: Floats, late: Floats, left: Floats, share: float, *, start: int, count: int
) -> tuple[Floats, float]:
    """Cost to every later point, and share left at the end, of a tool that passes by ``gain``; renewed in mid step."""
    cost = np.zeros(count)
    worth = share
    for k, chance in enumerate(gain):
        if chance <= 0.0:
            continue
        u = start + k
        # From the middle of the step on: half way between a new tool at its two ends (its first end only after it).
        follow = 0.5 * (late[k] + late[k + 1]) if k else late[k + 1]
        cost[u + 1 :] += chance * (fee[k] + follow[u + 1 :])
        worth += chance * (0.5 * (left[k] + left[k + 1]) if k else left[k + 1])
    return cost, worth


def left_of(mean: float, variance: float, room: float, limit: float | None = None) -> float:
    """E max(room - W, 0) / limit for a gamma W of these moments."""
    from scipy.special import gammainc

    limit = room if limit is None else limit
    if room <= 0.0:
        return 0.0
    if mean <= 1e-9:
        return room / limit
    scale = max(variance, 1e-12) / mean
    shape = mean / scale
    return float((room * gammainc(shape, room / scale) - mean * gammainc(shape + 1.0, room / scale)) / limit)


def place_cost(case: Small, stretch: Stretch, place: int, visits: tuple[int, ...]) -> float:
    """Late tools, steel and work of one place changed at these stops; the worth of the tool in place now is counted."""
    core = DISC.rebuildable_share * (DISC.price - float(DISC.rebuild_price or 0.0))
    life = DISC.price - core
    at = [int(np.searchsorted(stretch.mesh_m, case.stop_m[n] - 1e-9)) for n in visits]
    now = np.maximum(0.0, 1.0 - np.asarray(case.outlook.wear_now_mm[:, place]) / case.outlook.limit_mm[place]).mean()
    cost = life * float(now) + (DISC.price - core + case.work_cost) * len(at)
    last = len(stretch.mesh_m) - 1
    if not at:
        return cost + float(stretch.late_now[last]) - life * stretch.left_now
    cost += float(stretch.late_now[at[0]])
    cost += sum(float(stretch.late[a, b]) for a, b in itertools.pairwise([*at, last]))
    return cost - life * float(stretch.left[at[-1]])


def cost_of(case: Small, table: list[Stretch], stops: tuple[int, ...], visits: list[tuple[int, ...]]) -> float:
    """Cost of stopping at ``stops`` and changing place p at ``visits[p]`` among them."""
    opened = float(sum(case.stop_cost[n] for n in stops))
    return opened + sum(place_cost(case, s, p, mine) for p, (s, mine) in enumerate(zip(table, visits, strict=True)))


def least(case: Small, table: list[Stretch]) -> float:
    """Least cost over every set of stops and, place by place, every choice of changes among them."""
    count = len(case.stop_m)
    subsets = [s for size in range(count + 1) for s in itertools.combinations(range(count), size)]
    alone = [{s: place_cost(case, stretch, p, s) for s in subsets} for p, stretch in enumerate(table)]
    return min(
        float(sum(case.stop_cost[n] for n in stops))
        + sum(min(cost for s, cost in place.items() if set(s) <= set(stops)) for place in alone)
        for stops in subsets
    )
