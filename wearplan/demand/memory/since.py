"""Why today's forecast is not the kept one: one input after another is changed, on common draws."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from wearplan.demand.forecasting import play
from wearplan.demand.frame import DriveUse
from wearplan.demand.lines import money, tools
from wearplan.demand.memory.kept import DRAWS, TYPE_KEYS, Kept, with_types
from wearplan.demand.one_type import TypePart
from wearplan.demand.records import Demand
from wearplan.demand.shared_store import one_store
from wearplan.site.records import OnOrder, Site, Stock, Stores


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """One type at one step on the way from the kept forecast to today's."""

    use: float
    short: float
    cost: float
    hurry: int
    order: int
    foreseen: int
    """Tools foreseen to be ordered later."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One input changed."""

    cause: Callable[[str], str]
    """What changed, in words, for a type; empty where it did not change for it."""
    drive: DriveUse
    today: date


def since(kept: Kept, drive: DriveUse, demand: Demand, *, then_stops: DriveUse | None = None) -> tuple[str, ...]:
    """A sentence for every type whose need, chance, cost or orders moved, with the causes.

    Parameters
    ----------
    kept : Kept
    drive : DriveUse
        The drive as it stands today.
    demand : Demand
        Today's forecast.
    then_stops : DriveUse, optional
        Today's wear played on the stops of the kept plan, which tells what moved by wear from what moved by stops.

    Notes
    -----
    From the kept forecast on, inputs are changed one after another to today's: the date, the shelf, deliveries, prices
    and terms, the pace, wear read and rates, the stops. Each cause is what its own step changes, all steps on the first
    draws of both, so that the steps add up to the whole.
    """
    steps = list(_steps(kept, drive, demand, then_stops))
    states = [_states(step.drive, step.today, kept.seed, kept.pace) for step in steps]
    head = f"Since {kept.made_on}"
    if kept.made_on == demand.as_of:
        head = f"Since the forecast kept on {kept.made_on}"
    out = []
    for code in dict.fromkeys([*states[0], *states[-1]]):
        line = [state.get(code, _NOTHING) for state in states]
        moved = _difference(line[0], line[-1], demand.currency)
        if not moved:
            continue
        causes = [
            f"{words} ({effect})"
            for step, before, after in zip(steps[1:], line, line[1:], strict=False)
            if (effect := _difference(before, after, demand.currency)) and (words := step.cause(code))
        ]
        because = f" Because: {'; '.join(causes)}." if causes else ""
        out.append(f"{head}, {code}: {moved}.{because}")
    return tuple(out)


_NOTHING = State(use=0.0, short=0.0, cost=0.0, hurry=0, order=0, foreseen=0)


def _states(drive: DriveUse, today: date, seed: int, pace: float) -> dict[str, State]:
    played = play([_fewer(drive)], one_store([drive.site]), start=today, seed=seed, pace=pace)
    return {part.kind.code: _state(part) for part in played.parts}


def _state(part: TypePart) -> State:
    asked = {True: 0, False: 0}
    for ask in part.today.asks:
        asked[ask.mode.name == "order"] += ask.quantity
    return State(
        use=float(part.counts.store.sum(axis=1).mean()), short=float(part.today.short.mean()), cost=part.cost,
        hurry=asked[False], order=asked[True], foreseen=sum(ask.quantity for ask in part.today.foreseen),
    )  # fmt: skip


def _difference(before: State, after: State, currency: str) -> str:
    parts = []
    for word, old, new in (
        ("hurry", before.hurry, after.hurry), ("order", before.order, after.order),
        ("foreseen later", before.foreseen, after.foreseen),
    ):  # fmt: skip
        if old != new:
            parts.append(f"{word} {old} to {new}")
    if abs(after.use - before.use) >= 0.5:
        parts.append(f"use to the end {before.use:.1f} to {after.use:.1f}")
    if abs(after.short - before.short) >= 0.03:
        parts.append(f"chance of being short {100 * before.short:.0f} to {100 * after.short:.0f} %")
    if parts or abs(after.cost - before.cost) >= max(500.0, 0.03 * abs(before.cost)):
        change = after.cost - before.cost
        if abs(change) >= 1.0:
            parts.append(f"{money(abs(change), currency)} {'more' if change > 0 else 'less'}")
    return ", ".join(parts)


def _fewer(drive: DriveUse) -> DriveUse:
    """The drive on no more draws than are kept."""
    use: Any = drive.use
    count = min(use.draws, DRAWS)
    if use.draws == count or not hasattr(use, "__dataclass_fields__"):
        return drive
    return replace(
        drive,
        use=replace(
            use, draws=count, uses=tuple(replace(u, counts=u.counts[:count]) for u in use.uses),
            removed_sound={code: table[:count] for code, table in use.removed_sound.items()},
            removed_late={code: table[:count] for code, table in use.removed_late.items()},
            damaged={code: table[:count] for code, table in use.damaged.items()},
            pace_factor=use.pace_factor[:count], changes=use.changes[:count],
        ),
    )  # fmt: skip


def _steps(kept: Kept, drive: DriveUse, demand: Demand, then_stops: DriveUse | None) -> Iterable[Step]:
    """From the kept forecast to today's."""
    site = drive.site
    now = site.stores or Stores()
    then = kept.drive_use(site)
    yield Step(cause=lambda _: "", drive=then, today=kept.made_on)
    days = (demand.as_of - kept.made_on).days
    yield Step(
        cause=lambda _: f"{days} {'day' if days == 1 else 'days'} have passed" if days else "", drive=then,
        today=demand.as_of,
    )  # fmt: skip
    shelf = _mixed(kept.stores, now, lambda old, new: replace(
        old, on_hand=new.on_hand, in_rebuild=new.in_rebuild, part_worn=new.part_worn))  # fmt: skip
    then = replace(then, site=replace(then.site, stores=shelf))
    yield Step(cause=lambda code: _shelf_words(kept.stores, now, code), drive=then, today=demand.as_of)
    coming = _mixed(shelf, now, lambda old, new: replace(old, on_order=new.on_order))
    then = replace(then, site=replace(then.site, stores=coming))
    yield Step(cause=lambda code: _delivery_words(kept.stores, now, code), drive=then, today=demand.as_of)
    terms = replace(with_types(then.site, {k.code: _keys(site, k.code) for k in site.wheel.tool_types}), stores=now)
    then = replace(then, site=terms)
    yield Step(cause=lambda code: _term_words(kept, site, code), drive=then, today=demand.as_of)
    then = replace(then, site=replace(then.site, pace=site.pace))
    yield Step(cause=lambda _: _pace_words(kept, site), drive=then, today=demand.as_of)
    if then_stops is not None:
        yield Step(cause=lambda _: "wear read since and the rates learnt from it", drive=then_stops, today=demand.as_of)
        yield Step(cause=lambda _: _stop_words(kept, drive), drive=drive, today=demand.as_of)
    else:
        moved = _stop_words(kept, drive)
        words = "wear read since and the rates learnt from it" + (f", and {moved}" if moved else "")
        yield Step(cause=lambda _: words, drive=drive, today=demand.as_of)


def _keys(site: Site, code: str) -> dict[str, Any]:
    kind = next(kind for kind in site.wheel.tool_types if kind.code == code)
    return {key: getattr(kind, key) for key in TYPE_KEYS}


def _mixed(old: Stores, new: Stores, join: Callable[[Stock, Stock], Stock]) -> Stores:
    """The old store with some keys of each row taken from the new one."""
    rows = {row.tool_type: row for row in old.stock}
    out = []
    for code in dict.fromkeys([*rows, *(row.tool_type for row in new.stock)]):
        mine = rows.get(code, Stock(tool_type=code, on_hand=0))
        other = next((row for row in new.stock if row.tool_type == code), Stock(tool_type=code, on_hand=0))
        out.append(join(mine, other))
    return replace(old, stock=tuple(out))


def _row(stores: Stores, code: str) -> Stock:
    return next((row for row in stores.stock if row.tool_type == code), Stock(tool_type=code, on_hand=0))


def _shelf_words(old: Stores, new: Stores, code: str) -> str:
    before, after = _row(old, code), _row(new, code)
    parts = [
        f"{words} {a} to {b}"
        for words, a, b in (
            ("on hand", before.on_hand, after.on_hand), ("at the works", before.in_rebuild, after.in_rebuild),
            ("part-worn", len(before.part_worn), len(after.part_worn)),
        )
        if a != b
    ]  # fmt: skip
    return ", ".join(parts)


def _delivery_words(old: Stores, new: Stores, code: str) -> str:
    before, after = list(_row(old, code).on_order), list(_row(new, code).on_order)
    gone = [order for order in before if order not in after]
    come = [order for order in after if order not in before]
    parts = []
    for order in list(gone):
        match = next((other for other in come if other.quantity == order.quantity), None)
        if match is None:
            continue
        days = (match.due - order.due).days
        how = f"{abs(days)} days {'later' if days > 0 else 'earlier'}" if days else "with another doubt"
        parts.append(f"the delivery of {order.quantity} due {order.due} comes {how}")
        gone.remove(order)
        come.remove(match)
    parts += [f"{_told(order)} no longer on order" for order in gone]
    parts += [f"{_told(order)} newly on order" for order in come]
    return ", ".join(parts)


def _told(order: OnOrder) -> str:
    return f"{tools(order.quantity)} due {order.due}"


def _term_words(kept: Kept, site: Site, code: str) -> str:
    now = _keys(site, code)
    parts = [
        f"{key.replace('_', ' ')} {_shown(old)} to {_shown(now[key])}"
        for key, old in kept.types.get(code, {}).items()
        if old != now.get(key)
    ]
    stores = site.stores or Stores()
    parts += [
        f"{key.replace('_', ' ')} {_shown(getattr(kept.stores, key))} to {_shown(getattr(stores, key))}"
        for key in stores.__dataclass_fields__
        if key != "stock" and getattr(kept.stores, key) != getattr(stores, key)
    ]
    return ", ".join(parts)


def _shown(value: Any) -> str:
    return "none" if value is None else f"{value:g}" if isinstance(value, (int, float)) else str(value)


def _pace_words(kept: Kept, site: Site) -> str:
    old, new = kept.site_pace, site.pace
    if old == new:
        return ""
    if old.advance_m_per_day != new.advance_m_per_day:
        return f"the pace {old.advance_m_per_day:g} to {new.advance_m_per_day:g} m a day"
    return "the doubt in the pace, working days or holidays"


def _stop_words(kept: Kept, drive: DriveUse) -> str:
    old = [stop for stop in kept.stops if stop.driven_m > drive.face_m + 1.0]
    new = [stop for stop in drive.plan.stops if stop.driven_m > drive.face_m + 1.0]
    was, now = ({round(float(stop.driven_m)) for stop in stops} for stops in (old, new))
    if all(np.min(np.abs(np.array(list(now or {-9})) - m)) <= 2 for m in was) and len(was) == len(now):
        return ""
    return f"other stops ({len(was)} to {len(now)} ahead, {len(now - was)} of them elsewhere)"
