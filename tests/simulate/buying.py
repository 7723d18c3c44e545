"""Ways of buying for a recorded drive, counted on what it truly used.

Every way is asked once a week and at once after each stop, and is told what was foretold then; what it asks for comes
when it comes. Counted are all tools bought and rebuilt, orders, holding, tools missing at their stop as the site prices
them, and fees, less what is left over at the end is worth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import timedelta

import numpy as np

from tests.simulate.store_record import Foretold, Record, Used
from tests.simulate.storehouse import Held, storehouse
from tests.simulate.world import World
from wearplan.demand.dates import Halt, days_ahead
from wearplan.demand.decide.supply import OnWay, Supply
from wearplan.demand.decide.terms import Terms
from wearplan.demand.decide.today import decide_today
from wearplan.demand.decide.units import Stops
from wearplan.demand.decide.wish import wish_of
from wearplan.site.records import Site, ToolType

HOLDING_PER_YEAR = 0.15
HURRY_FACTOR = 1.6
LEFT_SHARE = 0.3
ORDER_COST = 150.0
LOOK_DAYS = 7
SERVICE = 0.95


@dataclass
class Shelf:
    """One type as the buyer sees it on a day."""

    held: Held
    kind: ToolType
    terms: Terms
    on_hand: int
    way: list[tuple[int, int, float]] = field(default_factory=list)
    """(quantity, day due, doubt) of what is on the way; the day counts from the start."""
    truth: list[tuple[int, int]] = field(default_factory=list)
    """(quantity, day) as it will truly come."""
    works: list[tuple[int, int]] = field(default_factory=list)
    """(tools, day back) at the works."""
    missing: int = 0
    missing_since: list[int] = field(default_factory=list)
    spent: float = 0.0
    short_cost: float = 0.0
    shortages: int = 0
    bought: int = 0
    hurried: int = 0


Buyer = Callable[[Supply, int], tuple[int, int]]
"""From a supply and the days looked ahead to the numbers to order and to hurry."""


@dataclass(frozen=True, kw_only=True)
class Bill:
    """What one way of buying cost on one drive."""

    spent: float
    short_cost: float
    shortages: int
    left: int
    left_value: float

    @property
    def total(self) -> float:
        return self.spent + self.short_cost - self.left_value


def terms_of(site: Site, kind: ToolType, held: Held) -> Terms:
    costs = site.stops.costs  # type: ignore[union-attr]
    return Terms(
        price=kind.price, lead_days=int(held.lead_time_days), hurry_price=kind.price * HURRY_FACTOR,
        hurry_days=int(held.hurry_days), order_cost=ORDER_COST, minimum=held.minimum, multiple=held.multiple,
        left_value=LEFT_SHARE * kind.price, holding_per_day=kind.price * HOLDING_PER_YEAR / 365.0,
        leave_once=costs.late_tool, leave_per_day=costs.late_tool_per_m * site.pace.advance_m_per_day,
        wait_per_day=24.0 * costs.standstill_per_hour, look_days=LOOK_DAYS, expedite_days=int(held.hurry_days),
        expedite_cost=0.5 * (HURRY_FACTOR - 1.0) * kind.price,
    )  # fmt: skip


class Play:
    """One drive, bought for in one way."""

    def __init__(self, record: Record, buyer: Buyer, *, known: bool = False):
        world = World_of(record)
        self.record, self.buyer, self.known = record, buyer, known
        self.site: Site = world.site
        self.start = record.looks[0].today
        types = {kind.code: kind for kind in self.site.wheel.tool_types}
        house = storehouse(record.seed, types, record.places, self.start)
        self.rng = np.random.default_rng([record.seed, 5])
        self.shelves: dict[str, Shelf] = {}
        for code, held in house.items():
            shelf = Shelf(
                held=held, kind=types[code], terms=terms_of(self.site, types[code], held), on_hand=held.on_hand
            )
            for coming in held.coming:
                shelf.way.append((coming.quantity, (coming.due - self.start).days, coming.due_doubt_days))
                shelf.truth.append((coming.quantity, (coming.comes - self.start).days))
                shelf.spent += coming.quantity * types[code].price
            days = int(types[code].rebuild_days or 1)
            shelf.works = [(1, int(self.rng.integers(1, days + 1))) for _ in range(held.in_rebuild)]
            self.shelves[code] = shelf
        share = {code: kind.rebuildable_share if kind.rebuild_price else 0.0 for code, kind in types.items()}
        self.cores = [
            {code: int(self.rng.binomial(sound, share[code])) for code, sound in sorted(used.sound.items())}
            for used in record.used
        ]

    def bill(self) -> Bill:
        """Play it to the end."""
        end = (self.record.ends - self.start).days
        looks = {(look.today - self.start).days: look for look in self.record.looks}
        first = {(used.day - self.start).days: number for number, used in enumerate(self.record.used)}
        look = self.record.looks[0]
        for day in range(end + 1):
            for shelf in self.shelves.values():
                self._come_in(shelf, day)
            if day in first:
                self._stop(first[day], day)
            if day in looks:
                look = looks[day]
            if (day % LOOK_DAYS == 0 or day in looks) and day < end:
                self._look(look, day)
        spent = sum(shelf.spent for shelf in self.shelves.values())
        left = {code: shelf.on_hand + sum(q for q, d in shelf.truth if d > end) for code, shelf in self.shelves.items()}
        for shelf in self.shelves.values():
            self._settle(shelf, end, shelf.missing)
        return Bill(
            spent=spent,
            short_cost=sum(shelf.short_cost for shelf in self.shelves.values()),
            shortages=sum(shelf.shortages for shelf in self.shelves.values()),
            left=sum(left.values()),
            left_value=sum(n * self.shelves[code].terms.left_value for code, n in left.items()),
        )

    def _come_in(self, shelf: Shelf, day: int) -> None:
        came = [k for k, (_, at) in enumerate(shelf.truth) if at <= day]
        for k in reversed(came):
            shelf.on_hand += shelf.truth.pop(k)[0]
            shelf.way.pop(k)
        for tools, at in [entry for entry in shelf.works if entry[1] <= day]:
            shelf.on_hand += tools
            shelf.spent += tools * float(shelf.kind.rebuild_price or 0.0)
            shelf.works.remove((tools, at))
        shelf.spent += shelf.on_hand * shelf.terms.holding_per_day

    def _settle(self, shelf: Shelf, day: int, tools: int) -> None:
        """Tools missing until now, priced: left from their stop to this one."""
        for _ in range(tools):
            since = shelf.missing_since.pop(0)
            shelf.short_cost += shelf.terms.leave_once + shelf.terms.leave_per_day * (day - since)
            shelf.missing -= 1

    def _stop(self, number: int, day: int) -> None:
        used: Used = self.record.used[number]
        for code, shelf in self.shelves.items():
            late = min(shelf.missing, shelf.on_hand)
            self._settle(shelf, day, late)
            shelf.on_hand -= late
            wanted = used.counts.get(code, 0)
            taken = min(wanted, shelf.on_hand)
            shelf.on_hand -= taken
            shelf.missing += wanted - taken
            shelf.missing_since += [day] * (wanted - taken)
            shelf.shortages += wanted - taken
            back = self.cores[number].get(code, 0)
            if back:
                shelf.works.append((back, day + int(shelf.kind.rebuild_days or 1)))

    def _look(self, look: Foretold, day: int) -> None:
        today = self.start + timedelta(days=day)
        face = max((m for at, m in self.record.face_by_day if at <= today), default=look.face_m)
        face = max(face, look.face_m)
        drawn = self._true(day) if self.known else self._drawn(look, face, day)
        for code, shelf in self.shelves.items():
            supply = self._supply(shelf, drawn, code, day)
            for quantity, days, price in self._asked(shelf, supply):
                if quantity:
                    shelf.way.append((quantity, day + days, 0.0))
                    shelf.truth.append((quantity, day + days))
                    shelf.spent += quantity * price + ORDER_COST
                    shelf.bought += quantity
                    shelf.hurried += quantity * (price > shelf.kind.price)

    def _asked(self, shelf: Shelf, supply: Supply) -> list[tuple[int, int, float]]:
        order, hurry = self.buyer(supply, shelf.terms.look_days)
        terms = shelf.terms
        return [
            (terms.rounded(order), terms.lead_days, terms.price), (hurry, terms.hurry_days, terms.hurry_price),
        ]  # fmt: skip

    def _drawn(
        self, look: Foretold, face: float, day: int
    ) -> tuple[Stops, dict[str, np.ndarray], dict[str, np.ndarray]]:
        draws = len(look.pace_factor)
        today = self.start + timedelta(days=day)
        halts = [Halt(stop[0], stop[1]) for stop in look.stops if stop[0] > face + 1e-3]

        def clock(driven_m: float) -> np.ndarray:
            return days_ahead(
                self.site, face_m=face, driven_m=np.full(draws, driven_m), pace_factor=look.pace_factor, halts=halts,
                start=today,
            )  # fmt: skip

        end = clock(self.site.drive.length_m)
        at = [clock(max(stop[0], face)) for stop in look.stops]
        horizon = int(end.max()) + 30
        stops = Stops.of(np.array(at, dtype=int).T.reshape(draws, -1), end, horizon)
        use = {code: np.zeros((draws, horizon), dtype=np.int64) for code in self.shelves}
        sent = {code: np.zeros((draws, horizon), dtype=np.int64) for code in self.shelves}
        rows = np.arange(draws)
        for _, stop, code, counts in look.uses:
            use[code][rows, np.clip(at[stop], 0, horizon - 1)] += counts
        for code, sound in look.sound.items():
            for stop in range(sound.shape[1]):
                sent[code][rows, np.clip(at[stop], 0, horizon - 1)] += sound[:, stop]
        return stops, use, sent

    def _true(self, day: int) -> tuple[Stops, dict[str, np.ndarray], dict[str, np.ndarray]]:
        """One draw: the truth from now on."""
        ahead = [(k, (u.day - self.start).days - day) for k, u in enumerate(self.record.used)]
        ahead = [(k, at) for k, at in ahead if at > 0]
        end = (self.record.ends - self.start).days - day
        horizon = end + 30
        stops = Stops(day=np.array([at for _, at in ahead], dtype=int)[None], end=np.array([end]), horizon=horizon)
        use = {code: np.zeros((1, horizon), dtype=np.int64) for code in self.shelves}
        sent = {code: np.zeros((1, horizon), dtype=np.int64) for code in self.shelves}
        for k, at in ahead:
            for code, n in self.record.used[k].counts.items():
                use[code][0, at] += n
            for code, n in self.cores[k].items():
                sent[code][0, at] += n
        return stops, use, sent

    def _supply(self, shelf: Shelf, drawn: tuple[Stops, dict, dict], code: str, day: int) -> Supply:  # type: ignore[type-arg]
        stops, use, sent = drawn
        draws, horizon = use[code].shape
        rng = np.random.default_rng([self.record.seed, day, len(code)])
        returns = np.zeros((draws, horizon), dtype=np.int64)
        for tools, back in shelf.works:
            if back - day < horizon:
                returns[:, back - day] += tools
        way = []
        for (quantity, due, doubt), (_, comes) in zip(shelf.way, shelf.truth, strict=True):
            days = np.full(draws, comes - day) if self.known else np.rint(due - day + doubt * rng.normal(size=draws))
            way.append(OnWay(quantity=quantity, day=np.clip(days, 1, None).astype(int), due_day=due - day))
        back = sent[code]
        if not self.known:
            share = shelf.kind.rebuildable_share if shelf.kind.rebuild_price else 0.0
            back = rng.binomial(back, share)
        return Supply(
            on_hand=shelf.on_hand - shelf.missing, use=use[code], returns=returns, sent=back,
            works_days=int(shelf.kind.rebuild_days or 1), rebuild_price=float(shelf.kind.rebuild_price or 0.0),
            on_way=tuple(way), stops=stops, terms=shelf.terms,
        )  # fmt: skip


def World_of(record: Record) -> World:
    from tests.simulate.seeds import STORE, TUNING_STORE

    return next(case for case in (*STORE, *TUNING_STORE) if case.seed == record.seed).world()


def by_decision(supply: Supply, look_days: int) -> tuple[int, int]:
    """The decision of least expected cost."""
    if not supply.use.any() and (supply.level >= 0).all():
        return 0, 0
    asks = {ask.mode.name: ask for ask in supply.decide().asks}
    bought = {name: ask.quantity for name, ask in asks.items()}
    return bought.get("order", 0), bought.get("hurry", 0)


def by_wish(supply: Supply, look_days: int) -> tuple[int, int]:
    """The site's wish alone: orders that keep it, and in a hurry what no ordinary order can bring in time."""
    need = supply.need()
    wish = wish_of(need, supply.terms, SERVICE, decide_today(need, supply.terms).wait)
    return wish.order, wish.hurry


__all__ = ["Bill", "Play", "by_decision", "by_wish", "replace"]
