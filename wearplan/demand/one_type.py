"""One tool type: its use played against its stock, and what follows for orders."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from wearplan.demand.dates import day, month_of
from wearplan.demand.ordering import orders_of, week_more
from wearplan.demand.orders import Needs, Wanted, lead_days, needs, order_plan
from wearplan.demand.records import Basis, LeadTime, Order, Period, Shortage, StockLine
from wearplan.demand.stock import Shelf, arrival_days, play_shelf, works_returns
from wearplan.demand.weighing import Weighed, basis_of, weigh
from wearplan.site.records import Stock, Stores, ToolType
from wearplan.wear.quantiles import Quantiles


@dataclass(frozen=True, slots=True)
class Counts:
    """(D, H) counts of one type on the drives that share the store, by draw and day."""

    store: np.ndarray
    """Fitted from the store, new or rebuilt."""
    moved: np.ndarray
    """Part-worn tools fitted again."""
    damage: np.ndarray
    """Taken off damaged."""
    rebuildable: np.ndarray
    """Taken off worn but sound."""

    @classmethod
    def together(cls, parts: Sequence[Counts]) -> Counts:
        """Of several drives; as many draws as the one with the fewest."""
        draws = min(len(part.store) for part in parts)
        return cls(*(np.sum([getattr(part, name)[:draws] for part in parts], axis=0) for name in cls.__slots__))


@dataclass(frozen=True, slots=True)
class TypePart:
    """All that is foretold of one type."""

    kind: ToolType
    stock: Stock
    counts: Counts
    shelf: Shelf
    arrivals: np.ndarray
    """(D, H) from orders on the way."""
    wanted: tuple[Wanted, ...]
    weighed: Weighed
    needed: Needs
    stores: Stores
    start: date

    @property
    def days(self) -> int:
        return int(self.shelf.level.shape[1])

    @property
    def rebuild_price(self) -> float:
        return self.kind.price if self.kind.rebuild_price is None else self.kind.rebuild_price

    @property
    def level_if_ordered(self) -> np.ndarray:
        """(D, H) the shelf when every order is placed on its last date."""
        coming = np.zeros(self.days, dtype=np.int64)
        for entry in self.wanted:
            arrives = entry.order_day + lead_days(self.kind.lead_time_days)
            if arrives < self.days:
                coming[arrives] += entry.quantity
        return np.asarray(self.shelf.level + np.cumsum(coming))

    @property
    def order_not_needed(self) -> bool:
        """Whether the shelf would keep the wanted chance without the orders on the way."""
        bare = self.shelf.level - np.cumsum(self.arrivals, axis=1)
        return bool(self.arrivals.any() and (bare.min(axis=1) < 0).mean() <= 1.0 - self.weighed.of_site)

    def orders(self) -> list[Order]:
        return orders_of(self.kind, self.wanted, self.shelf, self.stores, self.needed.both, self.start)

    def lead_time(self) -> LeadTime | None:
        return week_more(self.kind, self.wanted, self.shelf, self.stores, self.weighed, self.start)

    def basis(self) -> Basis:
        return basis_of(self.kind, self.stock, self.stores, self.weighed, self.needed, self.level_if_ordered[:, -1])

    def periods(self) -> list[Period]:
        months = month_of(self.start, self.days)
        out = []
        for month in np.unique(months):
            span = months == month
            shelf, counts = self.shelf, self.counts
            total, new, rebuilt, moved, damage = (
                table[:, span].sum(axis=1)
                for table in (counts.store, shelf.used_new, shelf.used_rebuilt, counts.moved, counts.damage)
            )
            if not (total.any() or moved.any()):
                continue
            spend = new * self.kind.price + rebuilt * self.rebuild_price
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

    def shortage(self) -> list[Shortage]:
        """At the end of every month."""
        months = month_of(self.start, self.days)
        ends = [*np.flatnonzero(months[1:] != months[:-1]), self.days - 1]
        bare = (self.shelf.missing > 0).mean(axis=0)
        lead = lead_days(self.kind.lead_time_days)
        ordered = (np.minimum.accumulate(self.level_if_ordered[:, lead:], axis=1) < 0).mean(axis=0)
        return [
            Shortage(
                tool_type=self.kind.code,
                date=day(self.start, int(end)),
                probability=float(bare[end]),
                probability_if_ordered=float(ordered[end - lead]) if end >= lead else None,
            )
            for end in ends
        ]

    def line(self) -> StockLine:
        at = np.unique(np.concatenate([np.arange(0, self.days, 7), [self.days - 1]]))
        low, mid, high = np.quantile(self.shelf.level[:, at], (0.05, 0.5, 0.95), axis=0)
        return StockLine(
            tool_type=self.kind.code,
            dates=tuple(day(self.start, int(offset)) for offset in at),
            p05=tuple(map(float, low)),
            p50=tuple(map(float, mid)),
            p95=tuple(map(float, high)),
        )

    def money(self) -> dict[str, np.ndarray]:
        """(H,) expected money by day and by cause, named as in `Budget`."""
        days, orders = self.days, np.zeros(self.days)
        for entry in self.wanted:
            orders[min(entry.order_day, days - 1)] += entry.quantity * self.kind.price
        missing = self.shelf.missing.mean(axis=0)
        fresh = np.diff(missing, prepend=0.0)
        fresh[lead_days(self.kind.lead_time_days) :] = 0.0
        used = self.shelf.used_new * self.kind.price + self.shelf.used_rebuilt * self.rebuild_price
        return {
            "tools_used": used.mean(axis=0),
            "orders": orders,
            "rebuilds": self.shelf.rebuilt.mean(axis=0) * self.rebuild_price,
            "hurry": fresh * self.kind.price * max(self.stores.hurry_factor - 1.0, 0.0),
        }


def play_type(
    kind: ToolType, stock: Stock | None, stores: Stores, counts: Counts, start: date, rng: np.random.Generator
) -> TypePart | None:
    """Play the use of one type against its stock; None where it is neither stocked nor used."""
    if stock is None and not counts.store.any():
        return None
    row = stock or Stock(tool_type=kind.code, on_hand=0)
    draws, days = counts.store.shape
    arrivals = np.zeros((draws, days), dtype=np.int64)
    for order in row.on_order:
        arrivals += arrival_days(
            quantity=order.quantity,
            due_day=(order.due - start).days,
            due_doubt_days=order.due_doubt_days,
            draws=draws,
            days=days,
            rng=rng,
        )
    shelf = play_shelf(
        use=counts.store,
        rebuildable=counts.rebuildable,
        on_hand=row.on_hand,
        arrivals=arrivals,
        returns=works_returns(
            in_rebuild=row.in_rebuild, rebuild_days=kind.rebuild_days, draws=draws, days=days, rng=rng
        ),
        rebuildable_share=kind.rebuildable_share if kind.rebuild_price is not None else 0.0,
        rebuild_days=kind.rebuild_days,
        rng=rng,
    )
    weighed = weigh(kind, stores, counts.store)
    needed = needs(
        shelf.missing, of_site=weighed.of_site, of_money=weighed.of_money, lead_time_days=kind.lead_time_days
    )
    wanted = order_plan(needed.both, lead_time_days=kind.lead_time_days, review_days=stores.review_days)
    return TypePart(
        kind=kind,
        stock=row,
        counts=counts,
        shelf=shelf,
        arrivals=arrivals,
        wanted=tuple(wanted),
        weighed=weighed,
        needed=needed,
        stores=stores,
        start=start,
    )
