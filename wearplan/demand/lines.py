"""The decision as actions: one line each, with its date, its money and how sure it is."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from wearplan.demand.dates import day
from wearplan.demand.decide.on_way import Changed
from wearplan.demand.decide.today import Ask
from wearplan.demand.one_type import TypePart
from wearplan.demand.records import Action, Disagreement

VERBS = {"order": "order", "hurry": "hurry", "borrow": "borrow"}


def tools(count: int) -> str:
    """``1 tool``, ``2 tools``."""
    return f"{count} tool" if count == 1 else f"{count} tools"


def orders_of(part: TypePart, currency: str) -> list[Action]:
    """Tools to get, those of today first, then those foreseen."""
    found = [_getting(part, ask, currency, later=False) for ask in part.today.asks]
    return found + [_getting(part, ask, currency, later=True) for ask in part.today.foreseen]


def asks_of(part: TypePart, currency: str) -> list[Action]:
    """What to ask about orders on the way and of the works."""
    out = [_asking(part, changed, currency) for changed in part.changed]
    if part.sent:
        code, at = part.kind.code, day(part.start, part.sent.day)
        count = round(part.sent.spared)
        out.append(
            Action(
                tool_type=code, what="stop sending", quantity=count, low=count, high=count, order_by=at,
                now=part.sent.day < part.terms.look_days, later=part.sent.day >= part.terms.look_days, comes=None,
                needed_by=None, of_order="", drives=part.drives, cost=0.0, saves=part.sent.saves, sure=part.sent.sure,
                in_vain=0.0, why="they would come back too late to be of use on this drive",
                text=("" if part.sent.sure else "borderline: ")
                + f"from {at} on send no worn {code} to the works: about {tools(count)} would come back too late "
                f"({money(part.sent.saves, currency)} less)",
            )
        )  # fmt: skip
    return out


def _getting(part: TypePart, ask: Ask, currency: str, *, later: bool) -> Action:
    code, start = part.kind.code, part.start
    by = day(start, ask.by_day)
    needed = day(start, ask.needed_day) if ask.needed_day < part.days else None
    comes = day(start, ask.by_day + ask.mode.days)
    cost = ask.quantity * ask.mode.price
    span = f" ({ask.low} to {ask.high} on other draws)" if not later and ask.low != ask.high else ""
    verb = VERBS[ask.mode.name]
    lead = "about " if later else ""
    lender = _lender(part, ask)
    from_whom = f" from {lender}" if lender else ""
    text = f"{verb} {lead}{ask.quantity} {code}{from_whom} by {by}{span}: {money(cost, currency)}, in by {comes}"
    if needed:
        text += f", first wanted about {needed}"
    sure = ask.sure and part.firm and not later
    if not later and not sure:
        text = f"borderline: {text}"
    return Action(
        tool_type=code, what=ask.mode.name, quantity=ask.quantity, low=ask.low, high=ask.high, order_by=by,
        now=not later, later=later, comes=comes, needed_by=needed, of_order=lender, drives=part.drives, cost=cost,
        saves=ask.saves, sure=sure, in_vain=ask.in_vain, why=_why(part, ask, later), text=text,
    )  # fmt: skip


def _lender(part: TypePart, ask: Ask) -> str:
    """Whose shelf borrowed tools come from; empty for bought ones."""
    if ask.mode.name != "borrow":
        return ""
    return part.stock.borrow[part.terms.borrow.index(ask.mode)].lender


def _why(part: TypePart, ask: Ask, later: bool) -> str:
    if later:
        return "foreseen; reckoned anew at each look"
    terms = part.terms
    parts = []
    if ask.mode.name != "order":
        comes = day(part.start, terms.lead_days)
        parts.append(f"an ordinary order of {part.start} comes on {comes}, too late for them")
    if terms.rounded(1) > 1 and ask.mode.name == "order":
        parts.append(f"sold from {terms.rounded(1)}" + (f" in {terms.multiple}s" if terms.multiple > 1 else ""))
    vain = round(100 * ask.in_vain)
    parts.append(f"the last of them is not needed {vain} times in 100")
    return "; ".join(parts)


def _asking(part: TypePart, changed: Changed, currency: str) -> Action:
    code, start = part.kind.code, part.start
    order = part.stock.on_order[changed.index]
    name = order.number or f"due {order.due}"
    worth = changed.quantity * part.terms.price
    until = day(start, changed.day)
    what = f"{changed.quantity} {code} of order {name}"
    words = {
        "cancel": f"ask to cancel {what} ({money(worth, currency)})",
        "defer": f"ask to defer {what} to {until} ({money(worth, currency)})",
        "expedite": f"ask to have {what} by {until}",
    }
    whys = {
        "cancel": "they are most likely not needed on this drive",
        "defer": "nothing is likely to be wanted of them before",
        "expedite": "some are wanted before they are due",
    }
    text = words[changed.what] + f": saves {money(changed.saves, currency)}"
    by = day(start, part.terms.look_days - 1)
    return Action(
        tool_type=code, what=changed.what, quantity=changed.quantity, low=changed.quantity, high=changed.quantity,
        order_by=by, now=True, later=False, comes=None if changed.what == "cancel" else until, needed_by=None,
        of_order=str(name), drives=part.drives, cost=worth, saves=changed.saves, sure=changed.sure, in_vain=0.0,
        why=whys[changed.what], text=text if changed.sure else f"borderline: {text}",
    )  # fmt: skip


def disagreement(part: TypePart) -> Disagreement | None:
    """Where the site's wish asks for other quantities today; None where both ask for the same."""
    ordered = {ask.mode.name: ask.quantity for ask in part.today.asks}
    by_cost = (ordered.get("hurry", 0) + ordered.get("borrow", 0), ordered.get("order", 0))
    by_wish = (part.wish.hurry, part.wish.order)
    if by_cost == by_wish:
        return None
    standing = float(part.supply.standing().mean())
    return Disagreement(
        tool_type=part.kind.code,
        by_cost=_told(*by_cost),
        cost=part.cost,
        short=float(part.today.short.mean()),
        by_wish=_told(*by_wish),
        wish_cost=standing + float(part.wish.cost.mean()),
        wish_short=float(part.wish.short.mean()),
    )


def _told(hurry: int, order: int) -> str:
    said = [f"{verb} {count}" for verb, count in (("hurry", hurry), ("order", order)) if count]
    return ", ".join(said) or "nothing today"


def warnings_of(part: TypePart, start: date) -> Iterable[str]:
    """What somebody should act on, of one type."""
    code, terms = part.kind.code, part.terms
    for order in part.stock.on_order:
        if order.due < start:
            were, are, they = ("was", "is", "it counts") if order.quantity == 1 else ("were", "are", "they count")
            days = (start - order.due).days
            yield (
                f"{code}: {order.quantity} {were} due on {order.due}, {days} {'day' if days == 1 else 'days'} ago, and "
                f"{are} still on order; {they} as coming any day from now, half of the time within "
                f"{round(max(float(_middle(part, order.due)), 0))} days. Ask the supplier and correct stores.toml."
            )
    if part.today.beyond_help >= 0.5:
        yield (
            f"{code}: about {tools(round(part.today.beyond_help))} will be missing at a stop whatever is asked for "
            f"today; the quickest way takes {min(mode.days for mode in terms.modes)} days."
        )
    last = int(part.supply.stops.day.max(initial=0))
    if part.kind.lead_time_days > last and part.before.use.any():
        yield (
            f"{code}: the ordinary way takes {part.kind.lead_time_days:g} days and comes after the last stop, about "
            f"{day(start, last)} at the latest: it cannot help on this drive any more."
        )


def _middle(part: TypePart, due: date) -> float:
    number = next(n for n, order in enumerate(part.stock.on_order) if order.due == due)
    days = part.before.on_way[number].day
    return float(sorted(days)[len(days) // 2])


def money(amount: float, currency: str) -> str:
    """``EUR 64,000`` with thin gaps as the tables write it."""
    return f"{currency} {amount:,.0f}".replace(",", " ")
