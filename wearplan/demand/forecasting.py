"""From the plan's own draws to what the store must hold, and what to do about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from wearplan.demand.bridge import bridge_of
from wearplan.demand.dates import day, gone_on, last_logged_day, month_of
from wearplan.demand.decide.on_way import rough_looks
from wearplan.demand.decide.options import terms_of
from wearplan.demand.frame import DriveUse, Frame, counts_of
from wearplan.demand.lines import asks_of, disagreement, orders_of, warnings_of
from wearplan.demand.one_type import Counts, TypePart, decide_type, supply_of
from wearplan.demand.part_worn import Again, all_again
from wearplan.demand.records import Action, AtStop, Budget, Demand, LeadTime
from wearplan.demand.shared_store import SharedStore, one_store
from wearplan.site.records import Stock
from wearplan.wear.quantiles import Quantiles

OLD_LOG_DAYS = 14


def forecast(drives: Sequence[DriveUse], *, as_of: date | None = None, seed: int = 1, pace: float = 1.0) -> Demand:
    """Tools needed by month and stop, chance of running short, and what to do by when.

    Parameters
    ----------
    drives : sequence of DriveUse
        One, or several that draw on one store.
    as_of : date, optional
        The day to reckon from; by default today, or the last day logged where that is later or the drives are invented.
    seed : int
    pace : float
        Factor on every drive's pace, to ask "what if we go faster".

    Returns
    -------
    Demand
    """
    start = as_of or today(drives)
    store = one_store([drive.site for drive in drives])
    played = play(drives, store, start=start, seed=seed, pace=pace)
    parts, again = played.parts, played.again
    return Demand(
        as_of=start,
        drives=tuple(drive.site.name for drive in drives),
        currency=drives[0].site.currency,
        service=store.stores.no_stockout_probability,
        draws=min(drive.use.draws for drive in drives),
        at_stops=tuple(e for part in zip(drives, again, strict=True) for e in _at_stops(*part)),
        bridge=tuple(bridge_of(drives, again, part) for part in parts),
        log_days=max(gone_on(drive.site, start) for drive in drives),
        next_look=day(start, max(1, round(store.stores.review_days))),
        warnings=tuple(dict.fromkeys(_warnings(drives, parts, start))),
        remarks=tuple(dict.fromkeys(_remarks(drives, again, store))),
        **_by_type(parts, start, drives[0].site.currency),
    )


def _by_type(parts: Sequence[TypePart], start: date, currency: str) -> dict[str, Any]:
    """What is told type by type, under the names it has in `Demand`."""
    return {
        "periods": tuple(sorted((p for part in parts for p in part.periods()), key=lambda period: period.month)),
        "totals": tuple((part.kind.code, Quantiles.of(part.counts.store.sum(axis=1))) for part in parts),
        "orders": _sorted(action for part in parts for action in orders_of(part, currency)),
        "asks": _sorted(action for part in parts for action in asks_of(part, currency)),
        "shortage": tuple(entry for part in parts for entry in part.shortage()),
        "stock_lines": tuple(part.line() for part in parts),
        "lead_times": tuple(week_more(part) for part in parts if part.today.asks),
        "basis": tuple(part.basis() for part in parts),
        "budget": _budget(parts, start),
        "disagreements": tuple(found for part in parts if (found := disagreement(part))),
    }


def today(drives: Sequence[DriveUse]) -> date:
    """This computer's date, or the last day logged where the clock is behind it; for invented drives always that."""
    logged = [found for drive in drives if (found := last_logged_day(drive.site))]
    invented = all(drive.site.invented for drive in drives)
    return max(logged if invented and logged else [date.today(), *logged])


@dataclass(frozen=True, slots=True)
class Played:
    """All types, decided."""

    parts: tuple[TypePart, ...]
    again: tuple[tuple[Again, ...], ...]


def play(
    drives: Sequence[DriveUse], store: SharedStore, *, start: date, seed: int, pace: float, change: bool = True
) -> Played:
    """Play the use of every type that is stocked or used against its stock, and decide.

    Parameters
    ----------
    change : bool
        Ask about orders on the way and the works too; without it only what is bought is decided, with few looks.
    """
    again = all_again(
        [(drive.site, drive.plan, drive.use) for drive in drives],
        {code: len(row.part_worn) for code, row in store.stock.items()},
    )
    longest = max((kind.lead_time_days for kind in store.tool_types.values()), default=0.0)
    frame = Frame.of(drives, start, pace, longest)
    parts = []
    for code, kind in store.tool_types.items():
        each = [counts_of(*part, code, frame.days) for part in zip(drives, again, frame.clocks, strict=True)]
        counts = Counts.together(each)
        stock = store.stock.get(code)
        if stock is None and not counts.store.any():
            continue
        row = stock or Stock(tool_type=code, on_hand=0)
        site = next(drive.site for drive in drives if any(t.code == code for t in drive.site.wheel.tool_types))
        supply = supply_of(kind, row, terms_of(kind, row, store.stores, site), counts, frame.stops, start, seed)
        names = " and ".join(drive.site.name for drive, own in zip(drives, each, strict=True) if own.store.any())
        parts.append(decide_type(kind, row, store.stores, counts, supply, start=start, drives=names, change=change))
    return Played(parts=tuple(parts), again=tuple(again))


def week_more(part: TypePart) -> LeadTime:
    """What a week more of ordinary lead time would do to one type."""
    from dataclasses import replace

    slower = replace(part.supply, terms=replace(part.terms, lead_days=part.terms.lead_days + 7))
    now, then = (supply.half().decide(rough_looks(supply)) for supply in (part.supply, slower))
    asks = ", ".join(f"{ask.mode.name} {ask.quantity}" for ask in then.asks) or "nothing today"
    return LeadTime(tool_type=part.kind.code, asks=asks, extra_cost=float(then.cost.mean() - now.cost.mean()))


def _sorted(actions: Iterable[Action]) -> tuple[Action, ...]:
    return tuple(sorted(actions, key=lambda a: (a.later, a.order_by, a.needed_by or date.max, a.tool_type, a.what)))


def _at_stops(drive: DriveUse, again: Sequence[Again]) -> list[AtStop]:
    out = []
    for index, stop in enumerate(drive.plan.stops):
        here = [entry for entry in drive.use.uses if entry.stop == index]
        for code in dict.fromkeys(entry.tool_type for entry in here):
            counts = np.sum([entry.counts for entry in here if entry.tool_type == code], axis=0)
            counts = counts - sum(a.fitted.astype(int) for a in again if (a.stop, a.tool_type) == (index, code))
            out.append(
                AtStop(
                    drive=drive.site.name,
                    chainage_m=stop.chainage_m,
                    window=stop.window,
                    tool_type=code,
                    used=Quantiles.of(counts),
                )
            )
    return out


def _budget(parts: Sequence[TypePart], start: date) -> tuple[Budget, ...]:
    if not parts:
        return ()
    months = month_of(start, parts[0].days)
    money = [part.money() for part in parts]
    out = []
    for month in np.unique(months):
        span = months == month
        sums = {
            name: float(sum(entry[name][span].sum() for entry in money))
            for name in ("tools_used", "orders", "rebuilds", "payments")
        }
        if any(sums.values()):
            out.append(Budget(month=str(month), **sums))
    return tuple(out)


def _warnings(drives: Sequence[DriveUse], parts: Sequence[TypePart], start: date) -> Iterable[str]:
    """What somebody should act on."""
    for drive in drives:
        logged, days = last_logged_day(drive.site), gone_on(drive.site, start)
        if logged and days > OLD_LOG_DAYS:
            yield (
                f"{drive.site.name}: the last log is of {logged}, {days} days before {start}; the drive is taken to "
                "have gone on at its pace since, and what should be passed counts as due today."
            )
    for part in parts:
        yield from warnings_of(part, start)


def _remarks(drives: Sequence[DriveUse], again: Sequence[Sequence[Again]], store: SharedStore) -> Iterable[str]:
    """What was assumed for want of a better word in the folders."""
    yield from store.remarks
    for drive in drives:
        if drive.site.stores is None:
            yield f"{drive.site.name}: no stores.toml, so its stock counts as nothing on hand."
    taken = {entry.tool_type for part in again for entry in part if not entry.from_place}
    for code, row in store.stock.items():
        if row.part_worn and code not in taken:
            yield (
                f"{code}: {len(row.part_worn)} part-worn on the shelf, which this plan fits nowhere; they cover no use "
                "here."
            )


__all__ = ["DriveUse", "forecast", "play", "today", "week_more"]
