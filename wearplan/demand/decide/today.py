"""What to ask for today, in the quantities a supplier sells, and what is foreseen for later looks."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from wearplan.demand.decide.looks import NEVER, Later, later, look_days
from wearplan.demand.decide.terms import Mode, Terms
from wearplan.demand.decide.units import Need, short_if, unit_cost

SURE = 5.0
"""Standard errors that a saving must stand above nothing for other draws not to turn it round: the largest of forty
normal draws lies 2.2 of them from the mean, so that two opposite ones lie less than five apart."""
RARE = 0.03
"""Share of the draws, the kindest to a line, without which it must still save: few rare draws hang on which came."""
ROW = 1.0 / 28.0
"""Later orders nearer than four weeks are taken as one, unless their cost asks for more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """So many tools of one type, asked for in one way by a day."""

    mode: Mode
    quantity: int
    low: int
    high: int
    """Quantities that other draws might have given."""
    by_day: int
    """Latest day on which asking costs no more than asking at once."""
    needed_day: int
    """First day on which one of them is wanted, in the middle of the draws that want one."""
    saves: float
    """Expected saving against looking again at the next look."""
    sure: bool
    in_vain: float
    """Chance that the last of them is never needed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Today:
    """The decision for one type."""

    asks: tuple[Ask, ...]
    foreseen: tuple[Ask, ...]
    """What will most likely be asked for at later looks."""
    cost: np.ndarray
    """(D,) of all that is still bought, and of what is missing, if this is done and later looks go on so."""
    cost_of_waiting: float
    """The same, expected, if nothing is asked for before the next look."""
    short: np.ndarray
    """(D,) bool: a tool is missing at its stop some time."""
    missing: np.ndarray
    """(D,) tools that are missing at their stop."""
    short_day: np.ndarray
    """(D,) day of the first stop at which one is missing; the number of days where at none."""
    wait: Later
    """What becomes of each missing tool if it is not asked for today."""
    left: np.ndarray
    """(D,) tools bought from now on that lie on the shelf at the end."""
    later_day: tuple[np.ndarray, ...]
    """By mode: (D, H) tools asked for at later looks, by day."""
    beyond_help: float
    """Expected number of tools missing at their stop that no way could bring in time any more."""


def decide_today(need: Need, terms: Terms, *, looks: list[int] | None = None) -> Today:
    """Choose what to ask for today.

    Notes
    -----
    A missing tool is asked for today in the way that is cheapest on average over the draws, if that is cheaper than
    looking again. Then the ordinary order is given the quantity, among those the supplier sells, of least expected
    cost together with what it saves of later orders.
    """
    looks = look_days(need, terms) if looks is None else looks
    modes = terms.modes
    now = [unit_cost(need, terms, comes=mode.days, price=mode.price) for mode in modes]
    waits = [later(need, terms, looks=looks)]
    if len(modes) > 1 and (terms.rounded(1) > 1 or terms.order_cost > terms.hurry_price - terms.price):
        waits.append(later(need, terms, looks=looks, ways=tuple(range(1, len(modes)))))
    best: tuple[float, Later, dict[int, np.ndarray]] | None = None
    for wait in waits:
        total, chosen = _choose(need, terms, now, wait)
        if best is None or total < best[0] - 1e-9:
            best = (total, wait, chosen)
    assert best is not None
    _, wait, chosen = best
    cost, short = wait.cost.copy(), wait.short.copy()
    asks = []
    for k, which in chosen.items():
        if not len(which):
            continue
        cost[:, which] = now[k][:, which]
        short[:, which] = short_if(need, modes[k].days)[:, which]
        asks.append(_ask(need, terms, k, which, now[k], wait))
    left = np.setdiff1d(np.arange(need.tools), np.concatenate([*chosen.values(), np.zeros(0, dtype=int)]))
    extra = terms.order_cost * sum(1 for which in chosen.values() if len(which)) + later_extra(need, terms, wait, left)
    idle = wait.cost.sum(axis=1) + later_extra(need, terms, wait, np.arange(need.tools))
    fastest = min(mode.days for mode in modes)
    bought = (wait.way != NEVER) | ~np.isin(np.arange(need.tools), left)
    first = np.where(short, need.first, need.never)
    return Today(
        asks=tuple(asks),
        foreseen=tuple(_foreseen(need, terms, wait, left)),
        cost=cost.sum(axis=1) + extra,
        cost_of_waiting=float(idle.mean()),
        short=np.asarray(short.any(axis=1)),
        missing=short.sum(axis=1),
        short_day=first.min(axis=1, initial=need.never),
        wait=wait,
        left=(bought & need.left).sum(axis=1),
        later_day=tuple(_by_day(need, wait, left, k) for k in range(len(modes))),
        beyond_help=float(short_if(need, fastest).sum(axis=1).mean()),
    )


def _by_day(need: Need, wait: Later, rest: np.ndarray, k: int) -> np.ndarray:
    """(D, H) tools asked for later by one mode."""
    out = np.zeros((len(need.first), need.never), dtype=np.int32)
    row, column = np.nonzero(wait.way[:, rest] == k)
    np.add.at(out, (row, np.minimum(wait.day[:, rest][row, column], need.never - 1)), 1)
    return out


def _choose(need: Need, terms: Terms, now: list[np.ndarray], wait: Later) -> tuple[float, dict[int, np.ndarray]]:
    """Expected cost, and the tools asked for today by number of mode."""
    modes = terms.modes
    saved = np.stack([(wait.cost - cost).mean(axis=0) for cost in now])
    for k, mode in enumerate(modes):
        if mode.first is not None:
            saved[k, mode.first :] = -math.inf
    best = saved.argmax(axis=0)
    top = saved.max(axis=0)
    chosen: dict[int, np.ndarray] = {}
    for k in range(1, len(modes)):
        which = np.flatnonzero((best == k) & (top > 1e-9))
        worth = float(saved[k, which].sum()) > terms.order_cost
        chosen[k] = which if worth else np.zeros(0, dtype=int)
    quick = np.concatenate([*chosen.values(), np.zeros(0, dtype=int)]).astype(int)
    others = np.setdiff1d(np.arange(need.tools), quick)
    ranked = others[np.argsort(-saved[0, others], kind="stable")]
    gains = np.concatenate([[0.0], np.cumsum(saved[0, ranked])])
    wanted = int((saved[0, ranked] > 1e-9).sum())
    least: tuple[float, int] = (math.inf, 0)
    for quantity in _quantities(terms, wanted, len(ranked)):
        rest = ranked[quantity:]
        total = -gains[quantity] + terms.order_cost * (quantity > 0)
        total += float(np.mean(later_extra(need, terms, wait, rest)))
        if total < least[0] - 1e-9:
            least = (total, quantity)
    chosen[0] = np.sort(ranked[: least[1]])
    bought = sum(float(saved[k, which].sum()) - terms.order_cost * (len(which) > 0) for k, which in chosen.items() if k)
    return float(wait.cost.mean(axis=0).sum()) + least[0] - bought, dict(sorted(chosen.items()))


def _quantities(terms: Terms, wanted: int, most: int) -> Iterable[int]:
    """None, and what the supplier sells round the number wanted, up to twice as many."""
    yield 0
    step = max(terms.multiple, 1)
    first = terms.rounded(1)
    low = max(first, terms.rounded(wanted) - 4 * step if terms.order_cost == 0 else first)
    high = wanted if terms.order_cost == 0 else 2 * wanted + 4 * step
    quantity = terms.rounded(low)
    while quantity <= min(max(high + step, first), most):
        yield quantity
        quantity += step


def later_extra(need: Need, terms: Terms, wait: Later, rest: np.ndarray) -> np.ndarray:
    """(D,) cost of placing the later orders of these tools, and of what a minimum makes one buy in vain."""
    extra = np.zeros(len(need.first))
    if not len(rest) or (terms.order_cost == 0 and terms.rounded(1) == 1):
        return extra
    window = max(terms.look_days, round(1.0 / ROW))
    ordinary = wait.way[:, rest] == 0
    if terms.order_cost > 0:
        for asked in (ordinary, wait.way[:, rest] > 0):
            slot = np.where(asked, wait.day[:, rest] // window, -1)
            for number in range(int(slot.max(initial=-1)) + 1):
                extra += terms.order_cost * (slot == number).any(axis=1)
    if terms.rounded(1) > 1:
        count = ordinary.sum(axis=1)
        sold = np.array([terms.rounded(n) for n in range(int(count.max(initial=0)) + 1)])
        extra += (sold[count] - count) * (terms.price - terms.left_value)
    return extra


def _ask(need: Need, terms: Terms, k: int, which: np.ndarray, now: np.ndarray, wait: Later) -> Ask:
    """The order of these tools by one mode, with its last day and how sure it is."""
    mode = terms.modes[k]
    gain = wait.cost - now
    mean = gain.mean(axis=0)
    error = gain.std(axis=0) / math.sqrt(max(len(gain) - 1, 1))
    whole = gain[:, which].sum(axis=1)
    before = later_extra(need, terms, wait, np.arange(need.tools))
    after = later_extra(need, terms, wait, np.setdiff1d(np.arange(need.tools), which))
    whole = whole + before - after - terms.order_cost
    doubt = float(whole.std()) / math.sqrt(max(len(whole) - 1, 1))
    saves = float(whole.mean())
    most = float(np.sort(whole)[: max(1, math.floor((1.0 - RARE) * len(whole)))].mean())
    low = int((mean[which] > SURE * error[which]).sum())
    others = np.setdiff1d(np.arange(need.tools), which)
    high = len(which) + int((mean[others] > -SURE * error[others] - 1e-9)[: len(which)].sum() if len(others) else 0)
    sold = terms.rounded if k == 0 else int
    wanted = need.first[:, which]
    first = wanted.min(axis=1)
    first = first[first < need.never]
    return Ask(
        mode=mode,
        quantity=len(which),
        low=sold(low),
        high=max(sold(high), len(which)),
        by_day=_last_day(need, terms, mode, which),
        needed_day=int(np.median(first)) if len(first) else need.never,
        saves=saves,
        sure=bool(
            saves > SURE * doubt and saves > max(terms.order_cost, 0.05 * terms.price) and most > 0.0 and low > 0
        ),
        in_vain=float((wanted.max(axis=1) >= need.never).mean()),
    )


def _last_day(need: Need, terms: Terms, mode: Mode, which: np.ndarray) -> int:
    """The latest day before the next look on which asking costs least."""
    part = need.taking(which)
    days = np.unique(np.linspace(0, max(terms.look_days - 1, 0), min(terms.look_days, 8)).astype(int))
    totals = [
        float(unit_cost(part, terms, comes=int(day) + mode.days, price=mode.price).sum(axis=1).mean()) for day in days
    ]
    least = min(totals) + 1e-3 * terms.price
    return int(max(day for day, total in zip(days, totals, strict=True) if total <= least))


def _foreseen(need: Need, terms: Terms, wait: Later, rest: np.ndarray) -> Iterable[Ask]:
    """What most draws ask for later, joined into orders not nearer than the window of `later_extra`."""
    window = max(terms.look_days, round(1.0 / ROW))
    for k, mode in enumerate(terms.modes):
        asked = wait.way[:, rest] == k
        likely = rest[asked.mean(axis=0) >= 0.5]
        if not len(likely):
            continue
        day = np.array([int(np.median(wait.day[wait.way[:, n] == k, n])) for n in likely])
        order = np.argsort(day, kind="stable")
        likely, day = likely[order], day[order]
        at = 0
        while at < len(likely):
            upto = int(np.searchsorted(day, day[at] + window, side="left"))
            group = likely[at:upto]
            first = need.first[:, group].min(axis=1)
            first = first[first < need.never]
            quantity = terms.rounded(len(group)) if k == 0 else len(group)
            yield Ask(
                mode=mode, quantity=quantity, low=0, high=quantity, by_day=int(day[at]),
                needed_day=int(np.median(first)), saves=0.0, sure=False,
                in_vain=float((wait.way[:, group[-1]] == NEVER).mean()),
            )  # fmt: skip
            at = upto
