"""From the plan's own draws to what the store must hold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from wearplan.demand.dates import Halt, day, days_ahead, last_logged_day, month_of
from wearplan.demand.orders import Wanted, hurry_share, order_plan
from wearplan.demand.records import AtStop, Demand, LeadTime, Order, Period, Shortage, StockLine
from wearplan.demand.shared_store import one_store
from wearplan.demand.stock import Shelf, arrival_days, play_shelf, works_returns
from wearplan.site.records import Site, Stock, Stores, ToolType
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
    draws = drives[0].use.draws
    clocks = [_Clock(drive, start, pace) for drive in drives]
    last = max(clock.last_day for clock in clocks)
    longest = max((kind.lead_time_days for kind in store.tool_types.values()), default=0.0)
    days = int(max(last, longest)) + MARGIN_DAYS
    remarks = list(store.remarks)
    for drive in drives:
        remarks += _remarks(drive.site, start)
    parts: list[_TypePart] = []
    for code, kind in store.tool_types.items():
        counts = [_counts(drive.use, code, clock, days) for drive, clock in zip(drives, clocks, strict=True)]
        part = _play_type(kind, store.stock.get(code), store.stores, counts, start, days, draws, rng)
        if part is not None:
            parts.append(part)
    return Demand(
        as_of=start,
        drives=tuple(drive.site.name for drive in drives),
        currency=drives[0].site.currency,
        service=store.stores.no_stockout_probability,
        draws=draws,
        periods=tuple(period for part in parts for period in part.periods(start, days)),
        at_stops=tuple(entry for drive in drives for entry in _at_stops(drive)),
        totals=tuple((part.kind.code, Quantiles.of(part.use.sum(axis=1))) for part in parts),
        orders=tuple(sorted((o for part in parts for o in part.orders), key=lambda o: (o.order_by, o.tool_type))),
        shortage=tuple(entry for part in parts for entry in part.shortage(start, days)),
        stock_lines=tuple(part.line(start, days) for part in parts),
        lead_times=tuple(part.lead_time for part in parts if part.lead_time),
        remarks=tuple(remarks),
    )


class _Clock:
    """Days from the start to any place of one drive, in each draw."""

    def __init__(self, drive: DriveUse, start: date, pace: float) -> None:
        self._drive, self._start = drive, start
        self._factor = pace * drive.use.pace_factor
        self._halts = [Halt(stop.driven_m, stop.hours) for stop in drive.plan.stops]
        self.last_day = int(self(drive.site.drive.length_m).max())

    def __call__(self, driven_m: float) -> np.ndarray:
        return days_ahead(
            self._drive.site,
            face_m=self._drive.face_m,
            driven_m=np.full(len(self._factor), driven_m),
            pace_factor=self._factor,
            halts=self._halts,
            start=self._start,
        )


@dataclass(frozen=True, slots=True)
class _Counts:
    """(D, H) counts of one type in one drive."""

    store: np.ndarray
    moved: np.ndarray
    damage: np.ndarray
    rebuildable: np.ndarray


def _counts(use: UseDraws, code: str, clock: _Clock, days: int) -> _Counts:
    rows = np.arange(use.draws)
    tables = {name: np.zeros((use.draws, days), dtype=np.int64) for name in ("store", "moved", "damage", "rebuildable")}

    def put(name: str, driven_m: float, counts: np.ndarray) -> None:
        np.add.at(tables[name], (rows, np.clip(clock(driven_m), 0, days - 1)), counts.astype(np.int64))

    for entry in use.uses:
        if entry.tool_type == code:
            put("moved" if entry.fitted == "part-worn" else "store", entry.driven_m, entry.counts)
    for name, removed in (("damage", use.damaged), ("rebuildable", use.removed_sound)):
        for stop_m, counts in zip(use.stops_m, removed.get(code, np.zeros((use.draws, 0))).T, strict=False):
            put(name, stop_m, counts)
    return _Counts(**tables)


@dataclass(frozen=True, slots=True)
class _TypePart:
    kind: ToolType
    use: np.ndarray
    moved: np.ndarray
    damage: np.ndarray
    shelf: Shelf
    orders: tuple[Order, ...]
    lead_time: LeadTime | None

    def periods(self, start: date, days: int) -> list[Period]:
        months = month_of(start, days)
        rebuilt_price = self.kind.rebuild_price if self.kind.rebuild_price is not None else self.kind.price
        out = []
        for month in np.unique(months):
            span = months == month
            total, new, rebuilt, moved, damage = (
                table[:, span].sum(axis=1)
                for table in (self.use, self.shelf.used_new, self.shelf.used_rebuilt, self.moved, self.damage)
            )
            if not (total.any() or moved.any()):
                continue
            spend = new * self.kind.price + rebuilt * rebuilt_price
            out.append(
                Period(
                    month=str(month),
                    tool_type=self.kind.code,
                    used=Quantiles.of(total),
                    used_new=Quantiles.of(new),
                    used_rebuilt=Quantiles.of(rebuilt),
                    moved_part_worn=Quantiles.of(moved),
                    after_damage=Quantiles.of(damage),
                    spend=Quantiles.of(spend),
                    expected_used=float(total.mean()),
                    expected_spend=float(spend.mean()),
                )
            )
        return out

    def shortage(self, start: date, days: int) -> list[Shortage]:
        short = (self.shelf.missing > 0).mean(axis=0)
        months = month_of(start, days)
        ends = np.flatnonzero(months[1:] != months[:-1])
        return [
            Shortage(tool_type=self.kind.code, date=day(start, int(end)), probability=float(short[end])) for end in ends
        ]

    def line(self, start: date, days: int) -> StockLine:
        at = np.unique(np.concatenate([np.arange(0, days, 7), [days - 1]]))
        low, mid, high = np.quantile(self.shelf.level[:, at], (0.05, 0.5, 0.95), axis=0)
        return StockLine(
            tool_type=self.kind.code,
            dates=tuple(day(start, int(offset)) for offset in at),
            p05=tuple(map(float, low)),
            p50=tuple(map(float, mid)),
            p95=tuple(map(float, high)),
        )


def _play_type(
    kind: ToolType,
    stock: Stock | None,
    stores: Stores,
    counts: Sequence[_Counts],
    start: date,
    days: int,
    draws: int,
    rng: np.random.Generator,
) -> _TypePart | None:
    use, moved, damage, rebuildable = (
        sum((getattr(part, name) for part in counts), np.zeros((draws, days), dtype=np.int64))
        for name in ("store", "moved", "damage", "rebuildable")
    )
    if stock is None and not use.any():
        return None
    arrivals = np.zeros((draws, days), dtype=np.int64)
    for order in stock.on_order if stock else ():
        arrivals += arrival_days(
            quantity=order.quantity,
            due_day=(order.due - start).days,
            due_doubt_days=order.due_doubt_days,
            draws=draws,
            days=days,
            rng=rng,
        )
    returns = works_returns(
        in_rebuild=stock.in_rebuild if stock else 0, rebuild_days=kind.rebuild_days, draws=draws, days=days, rng=rng
    )
    shelf = play_shelf(
        use=use,
        rebuildable=rebuildable,
        on_hand=stock.on_hand if stock else 0,
        arrivals=arrivals,
        returns=returns,
        rebuildable_share=kind.rebuildable_share if kind.rebuild_price is not None else 0.0,
        rebuild_days=kind.rebuild_days,
        rng=rng,
    )
    service = service_level(kind, stores)
    wanted = order_plan(
        shelf.missing, service=service, lead_time_days=kind.lead_time_days, review_days=stores.review_days
    )
    return _TypePart(
        kind=kind,
        use=use,
        moved=moved,
        damage=damage,
        shelf=shelf,
        orders=tuple(_order(kind, entry, shelf, service, start) for entry in wanted),
        lead_time=_week_more(kind, shelf, wanted, stores, service, start),
    )


def service_level(kind: ToolType, stores: Stores) -> float:
    """The wanted chance of not running short: the site's own, or more where holding is cheaper than hurry.

    A tool ordered a lead time ahead is held about one review period longer than it need be; against a hurried
    purchase that sets a newsvendor chance of its own. The stricter of the two holds.
    """
    worth = 1.0 - hurry_share(
        price=kind.price,
        holding_per_year=stores.holding_per_year,
        hurry_factor=stores.hurry_factor,
        days_held=kind.lead_time_days + stores.review_days,
    )
    return min(max(stores.no_stockout_probability, worth), 0.995)


def _order(kind: ToolType, entry: Wanted, shelf: Shelf, service: float, start: date) -> Order:
    needed = entry.needed_day
    short = float((shelf.missing[:, min(needed, shelf.missing.shape[1] - 1)] > 0).mean())
    late = entry.order_day < 0
    why = (
        f"without it the chance of having run short by {day(start, needed)} is {100 * short:.0f} %; "
        f"lead time {kind.lead_time_days:g} days; wanted chance of not running short {100 * service:.0f} %"
    )
    if late:
        why += "; the day to order has passed, so ask for a shorter lead time"
    return Order(
        tool_type=kind.code,
        quantity=entry.quantity,
        order_by=day(start, entry.order_day),
        needed_by=day(start, needed),
        late=late,
        cost=entry.quantity * kind.price,
        why=why,
    )


def _week_more(
    kind: ToolType, shelf: Shelf, wanted: Sequence[Wanted], stores: Stores, service: float, start: date
) -> LeadTime | None:
    if not wanted:
        return None
    first = wanted[0]
    # A week more of lead time: what is needed within it can no longer wait for the next look.
    cover = first.needed_day + 7
    need = int(np.quantile(shelf.missing[:, min(cover, shelf.missing.shape[1] - 1)], service, method="inverted_cdf"))
    extra = max(0, need - first.quantity)
    cost = extra * kind.price * stores.holding_per_year * 7 / 365
    by = day(start, first.order_day - 7)
    return LeadTime(
        tool_type=kind.code,
        order_by=by,
        extra_quantity=extra,
        extra_cost=float(cost),
        sentence=f"a week more of lead time moves the first order to {by} and makes it {extra} larger",
    )


def _at_stops(drive: DriveUse) -> list[AtStop]:
    out = []
    for index, stop in enumerate(drive.plan.stops):
        here = [entry for entry in drive.use.uses if entry.stop == index and entry.fitted != "part-worn"]
        for code in dict.fromkeys(entry.tool_type for entry in here):
            counts = np.sum([entry.counts for entry in here if entry.tool_type == code], axis=0)
            out.append(
                AtStop(chainage_m=stop.chainage_m, window=stop.window, tool_type=code, used=Quantiles.of(counts))
            )
    return out


def _remarks(site: Site, start: date) -> list[str]:
    out = []
    if site.stores is None:
        out.append(f"{site.name}: no stores.toml, so its stock counts as nothing on hand.")
    logged = last_logged_day(site)
    if logged and (start - logged).days > 14:
        out.append(f"{site.name}: the last log is of {logged}, {(start - logged).days} days before {start}.")
    return out


__all__ = ["DriveUse", "forecast", "service_level"]
