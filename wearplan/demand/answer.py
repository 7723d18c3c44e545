"""The short way from sites, outlooks and plans to the demand; commands, app and page all take it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

from wearplan.demand.forecasting import DriveUse, forecast, play
from wearplan.demand.memory.kept import Kept, keep, kept_in, last_before
from wearplan.demand.memory.since import since
from wearplan.demand.one_type import TypePart
from wearplan.demand.records import Demand
from wearplan.demand.shared_store import one_store

if TYPE_CHECKING:
    from wearplan.plan import Plan
    from wearplan.site.records import Site
    from wearplan.wear import Outlook


def demand_of(
    drives: Sequence[tuple[Site, Outlook, Plan]], *, as_of: date | None = None, seed: int = 1, pace: float = 1.0
) -> Demand:
    """Play each drive's plan on its own draws and join what they use at one store.

    Raises
    ------
    ValueError
        Where no plan keeps the rules: nothing can be foretold of a drive without one.
    """
    return with_pace(uses_of(drives), as_of=as_of, seed=seed, pace=pace)


def uses_of(drives: Sequence[tuple[Site, Outlook, Plan]]) -> list[DriveUse]:
    """Each drive's plan played on its own draws; `ValueError` where no plan keeps the rules."""
    for site, _, plan in drives:
        if not plan.keeps_rules:
            raise ValueError(f"{site.name}: {plan.headline}, so no demand can be foretold")
    return [_used(drive) for drive in drives]


def _used(drive: tuple[Site, Outlook, Plan]) -> DriveUse:
    from wearplan.plan import use_draws

    site, outlook, plan = drive
    return DriveUse(site=site, plan=plan, use=use_draws(site, outlook, plan), face_m=outlook.face_m)


def with_memory(
    drive: tuple[Site, Outlook, Plan], folder: Path | None, *, as_of: date | None = None
) -> tuple[Demand, Kept]:
    """The demand of one drive with what moved since the last forecast kept in its folder; and itself, to be kept.

    Raises
    ------
    ValueError
        Where no plan keeps the rules.
    """
    (use,) = uses_of([drive])
    demand = with_pace([use], as_of=as_of)
    before = last_before(kept_in(folder), demand.as_of) if folder else None
    if before is not None:
        demand = compared(before, use, drive[1], demand)
    return demand, keep(use, demand)


def compared(kept: Kept, today: DriveUse, outlook: Outlook, demand: Demand) -> Demand:
    """The demand with what moved since a kept forecast, and why.

    Today's wear is played on the stops of the kept plan too, as far as they are still ahead and still places where one
    may stop, so that what moved by wear is told from what moved by stops.
    """
    ahead = tuple(_playable(stop) for stop in kept.stops if stop.driven_m > today.face_m + 1e-3)
    now = {(round(stop.driven_m, 3), stop.window) for stop in today.plan.stops}
    then = None
    if ahead and {(round(stop.driven_m, 3), stop.window) for stop in ahead} != now:
        found = _used((today.site, outlook, replace(today.plan, stops=cast(Any, ahead))))
        if len(found.use.stops_m) == len(ahead):
            then = found
    return replace(demand, moved=since(kept, today, demand, then_stops=then))


def _playable(stop: SimpleNamespace) -> SimpleNamespace:
    """A kept stop with all that playing a plan asks of one."""
    return SimpleNamespace(**{**vars(stop), "date": None, "changes": ()})


def with_pace(uses: Sequence[DriveUse], *, as_of: date | None = None, seed: int = 1, pace: float = 1.0) -> Demand:
    """The forecast, with a sentence a type where a pace a quarter up or down changes what is asked for today."""
    demand = forecast(uses, as_of=as_of, seed=seed, pace=pace)
    store = one_store([use.site for use in uses])
    ways = [
        {
            part.kind.code: part
            for part in play(uses, store, start=demand.as_of, seed=seed, pace=pace * factor, change=False).parts
        }
        for factor in (1.0, 1.25, 0.75)
    ]
    sentences = []
    for code in ways[0]:
        now, faster, slower = (_asked(way.get(code)) for way in ways)
        if not now == faster == slower:
            sentences.append(f"{code}: {now} now; a quarter faster, {faster}; a quarter slower, {slower}.")
    return replace(demand, pace=tuple(sentences))


def _asked(part: TypePart | None) -> str:
    asks = part.today.asks if part else ()
    return ", ".join(f"{ask.mode.name} {ask.quantity}" for ask in asks) or "nothing"
