"""One tool type: its use played against its stock, and what follows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from wearplan.demand.dates import day, month_of
from wearplan.demand.decide.on_way import Changed, change_orders, rough_looks
from wearplan.demand.decide.options import payment_days
from wearplan.demand.decide.supply import OnWay, Supply
from wearplan.demand.decide.terms import Terms
from wearplan.demand.decide.today import Today
from wearplan.demand.decide.units import Need, Stops
from wearplan.demand.decide.wish import Wish, wish_of
from wearplan.demand.decide.works import LastSent, last_sent
from wearplan.demand.records import Basis, Period, Shortage, StockLine
from wearplan.demand.stock import arrival_day, rebuilt_fitted, sound_cores, works_returns
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


@dataclass(frozen=True, slots=True, kw_only=True)
class TypePart:
    """All that is foretold and decided of one type."""

    kind: ToolType
    stock: Stock
    stores: Stores
    counts: Counts
    before: Supply
    """As it stands."""
    supply: Supply
    """With what is asked of orders on the way and of the works."""
    changed: tuple[Changed, ...]
    sent: LastSent | None
    firm: bool
    """What is asked of orders on the way does not hang on the draws; otherwise nothing else of the type is sure."""
    need: Need
    today: Today
    wish: Wish
    start: date
    drives: str

    @property
    def terms(self) -> Terms:
        return self.supply.terms

    @property
    def days(self) -> int:
        return self.supply.days

    @property
    def cost(self) -> float:
        """Expected cost of the type to the end of the drive."""
        return float(self.supply.standing().mean() + self.today.cost.mean())

    @property
    def left(self) -> np.ndarray:
        """(D,) tools on the shelf at the end."""
        return np.asarray(self.supply.at_end() + self.today.left)

    def basis(self) -> Basis:
        terms, stock = self.terms, self.stock
        left = self.left
        return Basis(
            tool_type=self.kind.code,
            on_hand=stock.on_hand,
            in_rebuild=stock.in_rebuild,
            part_worn=len(stock.part_worn),
            on_order=sum(order.quantity for order in stock.on_order),
            on_order_due=min((order.due for order in stock.on_order), default=None),
            lead_time_days=self.kind.lead_time_days,
            hurry_days=float(terms.hurry_days),
            price=terms.price,
            hurry_price=terms.hurry_price,
            order_cost=terms.order_cost,
            minimum=terms.minimum,
            multiple=terms.multiple,
            left_value=terms.left_value,
            missing_cost=terms.leave_once,
            missing_cost_per_day=terms.leave_per_day,
            service=self.stores.no_stockout_probability,
            cost=self.cost,
            short=float(self.today.short.mean()),
            missing=float(self.today.missing.mean()),
            beyond_help=self.today.beyond_help,
            left_at_end=Quantiles.of(left),
            left_cost=float(left.mean() * terms.price),
            taken=terms.said,
        )

    def periods(self) -> list[Period]:
        months = month_of(self.start, self.days)
        fitted = rebuilt_fitted(self.counts.store, self.supply.rebuilt)
        price, rebuild = self.terms.price, self.supply.rebuild_price
        out = []
        for month in np.unique(months):
            span = months == month
            counts = self.counts
            total, rebuilt, moved, damage = (
                table[:, span].sum(axis=1) for table in (counts.store, fitted, counts.moved, counts.damage)
            )
            if not (total.any() or moved.any()):
                continue
            spend = (total - rebuilt) * price + rebuilt * rebuild
            out.append(
                Period(
                    month=str(month),
                    tool_type=self.kind.code,
                    used=Quantiles.of(total),
                    used_new=Quantiles.of(total - rebuilt),
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
        need = self.before.need()
        bare = need.first.min(axis=1) if need.tools else np.full(len(need.first), need.never)
        decided = self.today.short_day
        return [
            Shortage(
                tool_type=self.kind.code,
                date=day(self.start, int(end)),
                probability=float((bare <= end).mean()),
                probability_if_ordered=float((decided <= end).mean()),
            )
            for end in ends
        ]

    def line(self) -> StockLine:
        at = np.unique(np.concatenate([np.arange(0, self.days, 7), [self.days - 1]]))
        low, mid, high = np.quantile(self.before.level[:, at], (0.05, 0.5, 0.95), axis=0)
        return StockLine(
            tool_type=self.kind.code,
            dates=tuple(day(self.start, int(offset)) for offset in at),
            p05=tuple(map(float, low)),
            p50=tuple(map(float, mid)),
            p95=tuple(map(float, high)),
        )

    def money(self) -> dict[str, np.ndarray]:
        """(H,) expected money by day and by cause, named as in `Budget`."""
        days, terms, supply = self.days, self.terms, self.supply
        orders, payments = np.zeros(days), np.zeros(days)
        pay = payment_days(self.stores)

        def due(at: int, money: float) -> None:
            payments[min(max(at, 0) + pay, days - 1)] += money

        for ask in self.today.asks:
            money = ask.quantity * ask.mode.price + terms.order_cost
            orders[min(ask.by_day, days - 1)] += money
            due(ask.by_day + ask.mode.days, money)
        for number, mode in enumerate(terms.modes):
            asked = self.today.later_day[number]  # (D, H) tools asked for by day
            mean = asked.mean(axis=0) * mode.price
            orders += mean
            for at in np.flatnonzero(mean):
                due(int(at) + mode.days, float(mean[at]))
        for order in supply.on_way:
            paid = order.quantity if order.paid is None else order.paid
            for at, share in zip(*np.unique(order.day, return_counts=True), strict=True):
                due(int(at), float(paid * terms.price + order.fee) * share / len(order.day))
        works = supply.rebuilt.mean(axis=0) * supply.rebuild_price
        for at in np.flatnonzero(works):
            due(int(at), float(works[at]))
        fitted = rebuilt_fitted(self.counts.store, supply.rebuilt)
        used = (self.counts.store - fitted) * terms.price + fitted * supply.rebuild_price
        return {"tools_used": used.mean(axis=0), "orders": orders, "rebuilds": works, "payments": payments}


def supply_of(
    kind: ToolType, stock: Stock, terms: Terms, counts: Counts, stops: Stops, start: date, seed: int
) -> Supply:
    """One type's supply on the shared draws; its streams hang on its own code, so no other type moves them."""
    draws, days = counts.store.shape

    def stream(*more: int) -> np.random.Generator:
        return np.random.default_rng([seed, *kind.code.encode(), *more])

    share = kind.rebuildable_share if kind.rebuild_price is not None and kind.rebuild_days is not None else 0.0
    return Supply(
        on_hand=stock.on_hand,
        use=counts.store,
        returns=works_returns(
            in_rebuild=stock.in_rebuild, rebuild_days=kind.rebuild_days, draws=draws, days=days, rng=stream(1)
        ),
        sent=sound_cores(counts.rebuildable, share, stream(2)),
        works_days=max(1, round(kind.rebuild_days or 1)),
        rebuild_price=kind.price if kind.rebuild_price is None else kind.rebuild_price,
        on_way=tuple(
            OnWay(
                quantity=order.quantity,
                day=arrival_day(
                    due_day=(order.due - start).days,
                    due_doubt_days=order.due_doubt_days,
                    draws=draws,
                    rng=stream(3, number),
                ),
                due_day=(order.due - start).days,
                cancel_share=order.cancel_share,
            )
            for number, order in enumerate(stock.on_order)
        ),
        stops=stops,
        terms=terms,
    )


def decide_type(
    kind: ToolType, stock: Stock, stores: Stores, counts: Counts, supply: Supply, *, start: date, drives: str,
    change: bool = True,
) -> TypePart:  # fmt: skip
    """Decide one type; without ``change`` orders on the way and the works are left alone, few looks
    and half the draws are taken."""
    supply = supply if change else supply.half()
    before = supply
    changed: tuple[Changed, ...] = ()
    sent, firm = None, True
    if change:
        supply, sent = last_sent(supply)
        supply, changed, firm = change_orders(supply)
    need = supply.need()
    today = supply.decide(None if change else rough_looks(supply))
    wish = wish_of(need, supply.terms, stores.no_stockout_probability, today.wait)
    return TypePart(
        kind=kind, stock=stock, stores=stores, counts=counts, before=before, supply=supply, changed=changed, sent=sent,
        firm=firm,
        need=need, today=today, wish=wish, start=start,
        drives=drives,
    )  # fmt: skip
