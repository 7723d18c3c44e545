"""Tools used on the draws when the plan is followed adaptively: what the store must hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from wearplan.plan.ahead.tools import OutlookLike
from wearplan.plan.model.asked import task
from wearplan.plan.model.exact import Bools, Model
from wearplan.plan.records import Plan

from .play import Played, play
from .policies import Planned
from .rule import thresholds
from .worlds import worlds

if TYPE_CHECKING:
    from wearplan.site.records import Site


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """Tools of one type fitted at one stop; ``counts[d]`` is their number in draw d."""

    driven_m: float
    chainage_m: float
    stop: int
    """Index of the plan's stop."""
    date: date | None
    tool_type: str
    counts: np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class UseDraws:
    """The drive ahead played on the draws, adaptively: what is used where and when.

    ``uses`` add up to all tools fitted; what a late tool's forced stop takes is counted at the stop that follows.
    """

    draws: int
    stops_m: tuple[float, ...]
    dates: tuple[date | None, ...]
    uses: tuple[Use, ...]
    removed_sound: Mapping[str, np.ndarray]
    """Tool type -> (D, S) tools taken off that were not past their damage limit nor damaged."""
    removed_late: Mapping[str, np.ndarray]
    """Tool type -> (D, S) tools taken off past their damage limit or damaged."""
    damaged: Mapping[str, np.ndarray]
    """Tool type -> (D, S) those of ``removed_late`` that were damaged, not worn."""
    pace_factor: np.ndarray
    """(D,) pace of each draw against the site's expected pace, for the doubt in dates."""
    changes: np.ndarray
    """(D, S, P) bool: whether the place was served at the stop."""
    places: tuple[str, ...]
    tool_types: tuple[str, ...]
    """(P,) tool type of each place."""


def use_draws(
    site: Site, outlook: OutlookLike, plan: Plan, *, draws: int | None = None, seed: int | None = None
) -> UseDraws:
    """Play the plan adaptively: stops as planned, changes by what is measured there, damage included.

    Parameters
    ----------
    draws
        As many as the outlook has, unless told otherwise.

    Returns
    -------
    Tools fitted by stop and type. Which of them come from another place or the shelf, and which new ones are rebuilt,
    is for the store to say.
    """
    count = draws or int(outlook.wear_now_mm.shape[0])
    model = model_at_stops(site, outlook, plan)
    stops = tuple(model.cands.stops)
    drawn = worlds(model, draws=count, seed=plan.wishes.seed if seed is None else seed)
    played = play(drawn, Planned(where=stops, model=model, rule=thresholds(model, stops)))
    tools = model.ahead.tools
    types = tuple(t.tool_type.code for t in tools)
    columns = {code: np.array([t == code for t in types]) for code in dict.fromkeys(types)}
    uses = []
    fitted, late = _with_forced(played)
    for k, n in enumerate(stops):
        for code, mask in columns.items():
            counts = fitted[k][:, mask].sum(axis=1)
            if counts.any():
                here = float(model.cands.driven_m[n])
                uses.append(
                    Use(
                        driven_m=here,
                        chainage_m=model.ahead.chainage_m(here),
                        stop=k,
                        date=plan.stops[k].date if k < len(plan.stops) else None,
                        tool_type=code,
                        counts=counts.astype(int),
                    )
                )
    return UseDraws(
        draws=count,
        stops_m=tuple(float(x) for x in model.cands.driven_m[1:-1]),
        dates=tuple(s.date for s in plan.stops),
        uses=tuple(uses),
        removed_sound=_by_type(columns, fitted - late),
        removed_late=_by_type(columns, late),
        damaged=_by_type(columns, played.broken_taken[1:-1]),
        pace_factor=_pace(site, count),
        changes=np.ascontiguousarray(np.moveaxis(played.changes[1:-1], 0, 1)),
        places=tuple(t.place.code for t in tools),
        tool_types=types,
    )


def _with_forced(played: Played) -> tuple[np.ndarray, np.ndarray]:
    """Tools fitted, and tools taken off late or damaged, (S, D, P): those of the stops that late tools force are
    counted at the plan's stop that follows, after the last one at the last.
    """
    fitted, late = played.changes + played.forced, played.late_taken + played.forced_late
    for counts in (fitted, late):
        counts[-2] += counts[-1]
    return fitted[1:-1], late[1:-1]


def _by_type(columns: dict[str, Bools], taken: np.ndarray) -> Any:
    """Type -> (D, S) counts from (S, D, P)."""
    return MappingProxyType({code: taken[:, :, mask].sum(axis=2).T.astype(int) for code, mask in columns.items()})


def _pace(site: Site, count: int) -> np.ndarray:
    from wearplan.history import Calendar

    return np.asarray(Calendar(site).pace_draws(count, seed=7))


def at_stops(site: Site, outlook: OutlookLike, plan: Plan) -> tuple[Model, Played]:
    """The task cut down to the plan's stops, and the plan played on the outlook's draws."""
    model = model_at_stops(site, outlook, plan)
    stops = tuple(model.cands.stops)
    drawn = worlds(model, draws=int(outlook.wear_now_mm.shape[0]), seed=plan.wishes.seed)
    return model, play(drawn, Planned(where=stops, model=model, rule=thresholds(model, stops)))


def model_at_stops(site: Site, outlook: OutlookLike, plan: Plan) -> Model:
    """The planning task with the plan's stops for its only candidates."""
    whole, _ = task(site, outlook, plan.wishes)
    picks = []
    for stop in plan.stops:
        here = (n for n in whole.cands.stops if abs(whole.cands.driven_m[n] - stop.driven_m) < 1e-6)
        terms = {n: whole.cands.term(n) for n in here}
        same = [n for n, each in terms.items() if (each.window.name, each.mode) == (stop.window, stop.mode)]
        picks += same[:1]
    return whole.only(picks)
