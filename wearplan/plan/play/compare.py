"""The plan held against rules of thumb and against perfect foresight, on the same draws."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from wearplan.plan.carry_out.shift import coarse
from wearplan.plan.model.exact import Bools, Floats, Model
from wearplan.plan.records import Policy
from wearplan.plan.settings import SETTINGS

from .foresight import foresight_costs
from .play import Played, play
from .policies import Every, Planned, SecondWindow, UntilFound, first_of_windows, mean_share
from .rule import Thresholds
from .worlds import Worlds, worlds

SPACINGS = 9


def policy(code: str, name: str, rule: str, out: Played) -> Policy:
    """Sum up a run over the draws."""
    cost = out.cost
    return Policy(
        code=code,
        name=name,
        rule=rule,
        expected_cost=float(cost.mean()),
        sd_cost=float(cost.std()),
        mean_error=float(cost.std() / np.sqrt(len(cost))),
        p10_cost=float(np.quantile(cost, 0.1)),
        p90_cost=float(np.quantile(cost, 0.9)),
        over_limit_probability=float(out.over_limit.mean()),
        over_damage_probability=float(out.over_damage.mean()),
        late_tools=float(out.late_tools.mean()),
        stops=float(out.stops.mean()),
        entries_under_pressure=float(out.entries_under_pressure.mean()),
        person_hours_under_pressure=float(out.person_hours.mean()),
        tools=float(out.tools.mean()),
        draws=len(cost),
    )


def best_spacing(drawn: Worlds) -> tuple[float, Played]:
    """The spacing of least mean cost on the draws, and its run."""
    model = drawn.model
    where, mean = first_of_windows(model), mean_share(drawn)
    length = model.ahead.end_m - model.ahead.face_m
    shortest = max(model.ahead.site.drive.ring_length_m, length / 24)
    tried = []
    for spacing in np.geomspace(shortest, length, SPACINGS):
        out = play(drawn, Every(where=where, mean=mean, spacing_m=float(spacing)))
        tried.append((float(out.cost.mean()), float(spacing), out))
    tried.sort(key=lambda t: t[0])
    _, best, out = tried[0]
    for spacing in (0.85 * best, 1.18 * best):
        other = play(drawn, Every(where=where, mean=mean, spacing_m=spacing))
        if other.cost.mean() < out.cost.mean():
            best, out = spacing, other
    return best, out


def compare(
    model: Model,
    stops: tuple[int, ...],
    visits: Bools,
    rule: Thresholds,
    *,
    draws: int = 120,
    foresight_draws: int = SETTINGS.beside.foresight_draws,
    seed: int = 1,
    should_stop: Callable[[], bool] | None = None,
) -> tuple[Policy, ...]:
    """Play the plan and the others on the same draws.

    Perfect foresight is solved for the first few draws only; its mean is the plan's mean over all draws plus the mean
    difference on those few (a paired difference scatters much less than a cost).
    """
    drawn = worlds(model, draws=draws, seed=seed)
    where, mean = first_of_windows(model), mean_share(drawn)
    adaptive = play(drawn, Planned(where=stops, model=model, rule=rule))
    fixed = play(drawn, Planned(where=stops, model=model, visits=visits))
    spacing, every = best_spacing(drawn)
    found = [
        policy("plan", "this plan", "stop where the plan says; at each stop change by what is then measured", adaptive),
        policy("plan_fixed", "this plan, never looked at again", "the same stops, changes as planned now", fixed),
        policy(
            "run_until_found",
            "run until a limit",
            "go on until a tool is reckoned at its limit, stop in the next window, change all past 80 %",
            play(drawn, UntilFound(where=where, mean=mean)),
        ),
        policy(
            "every",
            f"every {spacing:.0f} m",
            f"stop in the first window after {spacing:.0f} m (the best spacing on these draws), change what would not "
            f"last as far again",
            every,
        ),
        policy(
            "second_window",
            "every second window",
            "at every second window change all past 60 % of their limit",
            play(drawn, SecondWindow(where=where)),
        ),
    ]
    if foresight_draws > 0:
        picks = [n for n in coarse(model, a_window=1, keep=stops) if not model.cands.term(n).inside_only or n in stops]
        bound = foresight_costs(drawn, picks, draws=foresight_draws, should_stop=should_stop)
        if len(bound):
            found.append(_foresight(adaptive, bound))
    return tuple(found)


def _foresight(adaptive: Played, bound: Floats) -> Policy:
    few = len(bound)
    less = bound - adaptive.cost[:few]
    spread = float(less.std(ddof=1)) if few > 1 else float("nan")
    expected = float(adaptive.cost.mean() + less.mean())
    # The spread is set about the same mean: the few draws bounded may be cheaper or dearer ones than all.
    around = bound + (expected - float(bound.mean()))
    nan = float("nan")
    return Policy(
        code="foresight",
        name="perfect foresight",
        rule="every draw's wear known beforehand; entries in parts; no caps, rows or neighbour step: a bound nobody "
        "can reach",
        expected_cost=expected,
        sd_cost=float(bound.std()),
        mean_error=spread / np.sqrt(few) if few > 1 else nan,
        p10_cost=float(np.quantile(around, 0.1)),
        p90_cost=float(np.quantile(around, 0.9)),
        over_limit_probability=0.0,
        over_damage_probability=0.0,
        late_tools=0.0,
        stops=nan,
        entries_under_pressure=nan,
        person_hours_under_pressure=nan,
        tools=nan,
        draws=few,
    )
