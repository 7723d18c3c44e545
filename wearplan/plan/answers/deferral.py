"""What if we go on? Window by window, what passing the proposed stop costs and risks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from wearplan.plan.ahead.wear import any_over, in_place_over
from wearplan.plan.carry_out.choose import search
from wearplan.plan.carry_out.costing import Costed, costed, forced_stops
from wearplan.plan.model.exact import Model
from wearplan.plan.records import Deferral, LastStop, Stop
from wearplan.plan.settings import SETTINGS
from wearplan.plan.words import at, chance, some

_DRIVERS = 5

ShouldStop = Callable[[], bool] | None


def deferrals(
    model: Model,
    first: Stop,
    lasts: tuple[LastStop, ...],
    *,
    windows: int,
    should_stop: ShouldStop = None,
) -> tuple[Deferral, ...]:
    """The proposed first stop and the windows after it, each as the next stop; last, no stop at all.

    Parameters
    ----------
    model
        A task with a few candidates a window, the plan's stops among them.
    """
    x = model.cands.driven_m
    base = _plan(model, (), should_stop)
    if base is None:
        return ()
    gauge = np.array([t.place.zone == "gauge" for t in model.ahead.tools])
    limit0, damage0 = (in_place_over(model.ahead, first.driven_m, damage=d) for d in (False, True))
    rows = [_row(model, first.driven_m, first.window, first, 0.0, 0, (limit0, damage0), (limit0, damage0), gauge, ())]
    for w in _windows_after(model, first)[:windows]:
        if should_stop is not None and should_stop():
            break
        plan = _stop_first_in(model, w, should_stop)
        if plan is None:
            continue
        cost, whole = plan
        there = min(float(x[n]) for n in whole.stops if model.cands.window[n] == w)
        limit, damage = (in_place_over(model.ahead, there, damage=d) for d in (False, True))
        rows.append(
            _row(
                model,
                there,
                model.cands.terms[w].window.name,
                first,
                cost - base[0],
                whole.entries - base[1].entries,
                (limit, damage),
                (limit0, damage0),
                gauge,
                tuple(
                    last
                    for last in lasts
                    if first.driven_m - 1e-6 <= last.driven_m < there and last.next_m <= there + 1e-6
                ),
            )
        )
    if not set(model.forced) - {model.cands.standing}:
        rows.append(_never(model, first, base, (limit0, damage0), gauge))
    return tuple(rows)


NEVER = "no stop at all"


def _never(
    model: Model, first: Stop, base: tuple[float, Costed], now: tuple[np.ndarray, np.ndarray], gauge: np.ndarray
) -> Deferral:
    """To the end of the drive without any stop but those that late tools force, whatever caps say."""
    end = model.ahead.end_m
    then = tuple(in_place_over(model.ahead, end, damage=d) for d in (False, True))
    whole = costed(replace(model, max_entries=None), (), np.zeros((model.places, 2), dtype=bool))
    row = _row(
        model, end, NEVER, first, whole.cost - base[1].cost, -base[1].entries, (then[0], then[1]), now, gauge, ()
    )  # fmt: skip
    forced, _ = forced_stops(model, (), whole.visits)
    return replace(row, note=f"Late tools would then be expected to stop the drive {forced:.1f} times.")


def _windows_after(model: Model, first: Stop) -> list[int]:
    """Windows whose rings all lie after the proposed stop, in the order of the drive."""
    x = model.cands.driven_m
    here = next((int(model.cands.window[n]) for n in model.cands.stops if abs(x[n] - first.driven_m) < 1e-6), -1)
    return [
        w
        for w in dict.fromkeys(int(w) for w in model.cands.window[1:-1])
        if w != here and not model.cands.terms[w].inside_only and x[model.cands.window == w].min() > first.driven_m
    ]


def _stop_first_in(model: Model, window: int, should_stop: ShouldStop) -> tuple[float, Costed] | None:
    """The plan whose first stop lies in a window, caps waived on the way there."""
    x = model.cands.driven_m
    inside = np.flatnonzero(model.cands.window == window)
    barred = tuple(n for n in model.cands.stops if x[n] < x[inside[0]] - 1e-6)
    kept = {n for n in model.forced if n not in barred}
    there_first = replace(model, waived=tuple(inside.tolist()), forced=tuple(sorted({*kept, int(inside[0])})))
    return _plan(there_first, barred, should_stop)


def _plan(model: Model, forbidden: tuple[int, ...], should_stop: ShouldStop) -> tuple[float, Costed] | None:
    """Cost in the exact model, and the plan with whole entries; None where there is none."""
    effort = SETTINGS.beside
    found = search(
        model, gap=effort.gap, most_nodes=effort.nodes, should_stop=should_stop, forbidden=forbidden, whole=False
    )
    if not found.possible:
        return None
    return found.model_cost, costed(model, found.stops, found.visits)


def _row(
    model: Model,
    there: float,
    window: str,
    first: Stop,
    extra: float,
    entries: int,
    then: tuple[np.ndarray, np.ndarray],
    now: tuple[np.ndarray, np.ndarray],
    gauge: np.ndarray,
    passed: tuple[LastStop, ...],
) -> Deferral:
    ahead = model.ahead
    over, over_now = then[0].mean(axis=0), now[0].mean(axis=0)
    more = (then[1].mean(axis=0) - now[1].mean(axis=0)) * 10.0 + (over - over_now)
    order = [p for p in np.argsort(-more) if more[p] > 1e-4][:_DRIVERS]
    broken = [
        p for p in range(model.places) if np.isfinite(model.cap[p]) and over[p] > model.cap[p] + 1e-9 >= over_now[p]
    ]
    breaks: tuple[str, ...] = ()
    if broken:
        worst = max(broken, key=lambda p: over[p] - model.cap[p])
        names = some(n for p in broken for n in ahead.tools[p].place.positions)
        breaks = (
            f"breaks the cap on passing a limit at {names} (worst: {chance(float(over[worst]))} against "
            f"{chance(float(model.cap[worst]))})",
        )
    if not breaks:
        extra = max(0.0, extra)
    note = ""
    if passed:
        note = (
            f"Passes {passed[0].window} at {at(passed[0].chainage_m)}, the last place to stop before "
            f"{passed[0].length_m:.0f} m without a window ({passed[0].because})."
        )
    return Deferral(
        driven_m=there,
        chainage_m=ahead.chainage_m(there),
        window=window,
        ahead_m=there - first.driven_m,
        extra_cost=extra,
        over_limit_probability=any_over(then[0]),
        over_damage_probability=any_over(then[1]),
        gauge_over_damage_probability=any_over(then[1], gauge),
        extra_entries=entries,
        drivers=tuple(n for p in order for n in ahead.tools[p].place.positions),
        breaks=breaks,
        note=note,
    )
