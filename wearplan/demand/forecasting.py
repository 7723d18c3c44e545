"""From the plan's own draws to what the store must hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from wearplan.demand.dates import Halt, days_ahead, last_logged_day, month_of
from wearplan.demand.one_type import Counts, TypePart, play_type
from wearplan.demand.part_worn import Again, all_again
from wearplan.demand.records import AtStop, Budget, Demand
from wearplan.demand.shared_store import SharedStore, one_store
from wearplan.site.records import Site
from wearplan.wear.quantiles import Quantiles

if TYPE_CHECKING:
    from wearplan.plan import Plan, UseDraws

MARGIN_DAYS = 60


@dataclass(frozen=True, slots=True)
class DriveUse:
    """One drive's part: its site, its plan, and the tools used when that plan is played on the draws."""

    site: Site
    plan: Plan
    use: UseDraws
    face_m: float


def forecast(drives: Sequence[DriveUse], *, as_of: date | None = None, seed: int = 1, pace: float = 1.0) -> Demand:
    """Tools needed by month and stop, chance of running short, what to order by when.

    Parameters
    ----------
    drives : sequence of DriveUse
        One, or several that draw on one store.
    as_of : date, optional
        The day to reckon from; by default the last one logged.
    seed : int
    pace : float
        Factor on every drive's pace, to ask "what if we go faster".

    Returns
    -------
    Demand
    """
    logged = [found for drive in drives if (found := last_logged_day(drive.site))]
    start = as_of or max(logged, default=date.today())
    store = one_store([drive.site for drive in drives])
    rng = np.random.default_rng(seed)
    clocks = [_Clock(drive, start, pace) for drive in drives]
    again = all_again(
        [(drive.site, drive.plan, drive.use) for drive in drives],
        {code: len(row.part_worn) for code, row in store.stock.items()},
    )
    longest = max((kind.lead_time_days for kind in store.tool_types.values()), default=0.0)
    days = int(max(*(clock.last_day for clock in clocks), longest)) + MARGIN_DAYS
    played = [
        play_type(
            kind,
            store.stock.get(code),
            store.stores,
            Counts.together([_counts(*part, code, days) for part in zip(drives, again, clocks, strict=True)]),
            start,
            rng,
        )
        for code, kind in store.tool_types.items()
    ]
    parts = [part for part in played if part is not None]
    orders = [order for part in parts for order in part.orders()]
    return Demand(
        as_of=start,
        drives=tuple(drive.site.name for drive in drives),
        currency=drives[0].site.currency,
        service=store.stores.no_stockout_probability,
        draws=min(drive.use.draws for drive in drives),
        periods=tuple(sorted((p for part in parts for p in part.periods()), key=lambda period: period.month)),
        at_stops=tuple(e for part in zip(drives, again, strict=True) for e in _at_stops(*part)),
        totals=tuple((part.kind.code, Quantiles.of(part.counts.store.sum(axis=1))) for part in parts),
        orders=tuple(sorted(orders, key=lambda order: (order.order_by, order.needed_by, order.tool_type))),
        shortage=tuple(entry for part in parts for entry in part.shortage()),
        stock_lines=tuple(part.line() for part in parts),
        lead_times=tuple(week for part in parts if (week := part.lead_time())),
        basis=tuple(part.basis() for part in parts),
        budget=_budget(parts, start, days),
        remarks=(*_remarks(drives, again, store, start), *_not_needed(parts)),
    )


class _Clock:
    """Days from the start to any place of one drive, in each draw."""

    def __init__(self, drive: DriveUse, start: date, pace: float) -> None:
        self._drive, self._start = drive, start
        self._factor = pace * drive.use.pace_factor
        self._halts = [Halt(stop.driven_m, stop.hours) for stop in drive.plan.stops]
        self._known: dict[float, np.ndarray] = {}
        self.last_day = int(self(drive.site.drive.length_m).max())

    def __call__(self, driven_m: float) -> np.ndarray:
        """(D,) days until the face is there."""
        if driven_m not in self._known:
            self._known[driven_m] = self._days(driven_m)
        return self._known[driven_m]

    def _days(self, driven_m: float) -> np.ndarray:
        return days_ahead(
            self._drive.site,
            face_m=self._drive.face_m,
            driven_m=np.full(len(self._factor), driven_m),
            pace_factor=self._factor,
            halts=self._halts,
            start=self._start,
        )


def _counts(drive: DriveUse, again: Sequence[Again], clock: _Clock, code: str, days: int) -> Counts:
    use = drive.use
    rows = np.arange(use.draws)
    tables = {name: np.zeros((use.draws, days), dtype=np.int64) for name in Counts.__slots__}

    def put(name: str, driven_m: float, counts: np.ndarray) -> None:
        # one cell a draw, so that no two counts meet in one statement
        tables[name][rows, np.clip(clock(driven_m), 0, days - 1)] += counts.astype(np.int64)

    for entry in use.uses:
        if entry.tool_type == code:
            put("store", entry.driven_m, entry.counts)
    for name, removed in (("damage", use.damaged), ("rebuildable", use.removed_sound)):
        for stop_m, counts in zip(use.stops_m, removed.get(code, np.zeros((use.draws, 0))).T, strict=False):
            put(name, stop_m, counts)
    for fit in again:
        if fit.tool_type == code:
            at, fitted = use.stops_m[fit.stop], fit.fitted.astype(np.int64)
            put("store", at, -fitted)
            put("moved", at, fitted)
            if fit.from_place:
                put("rebuildable", at, -fitted)
    tables["rebuildable"] = np.maximum(tables["rebuildable"], 0)
    return Counts(**tables)


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


def _budget(parts: Sequence[TypePart], start: date, days: int) -> tuple[Budget, ...]:
    months = month_of(start, days)
    money = [part.money() for part in parts]
    out = []
    for month in np.unique(months):
        span = months == month
        sums = {
            name: float(sum(entry[name][span].sum() for entry in money))
            for name in ("tools_used", "orders", "rebuilds", "hurry")
        }
        if any(sums.values()):
            out.append(Budget(month=str(month), **sums))
    return tuple(out)


def _remarks(
    drives: Sequence[DriveUse], again: Sequence[Sequence[Again]], store: SharedStore, start: date
) -> tuple[str, ...]:
    """What was assumed for want of a better word in the folders."""
    out = list(store.remarks)
    for drive in drives:
        site = drive.site
        if site.stores is None:
            out.append(f"{site.name}: no stores.toml, so its stock counts as nothing on hand.")
        logged = last_logged_day(site)
        if logged and (start - logged).days > 14:
            out.append(f"{site.name}: the last log is of {logged}, {(start - logged).days} days before {start}.")
    taken = {entry.tool_type for part in again for entry in part if not entry.from_place}
    for code, row in store.stock.items():
        for order in row.on_order:
            if order.due < start:
                were, are, they = ("was", "is", "it counts") if order.quantity == 1 else ("were", "are", "they count")
                out.append(
                    f"{code}: {order.quantity} {were} due on {order.due} and {are} still on order; {they} as coming "
                    "any day now. Ask the supplier and correct stores.toml."
                )
        if row.part_worn and code not in taken:
            out.append(
                f"{code}: {len(row.part_worn)} part-worn on the shelf, which this plan fits nowhere; they cover no use "
                "here."
            )
    return tuple(dict.fromkeys(out))


def _not_needed(parts: Sequence[TypePart]) -> list[str]:
    return [
        f"{part.kind.code}: the {sum(order.quantity for order in part.stock.on_order)} on order are not needed here "
        "at the wanted chance."
        for part in parts
        if part.order_not_needed
    ]


__all__ = ["DriveUse", "forecast"]
