"""What procurement is told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from wearplan.wear.quantiles import Quantiles


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """Tools of one type used in one month, over all draws."""

    month: str
    """As ``2026-12``."""
    tool_type: str
    used: Quantiles
    """Taken from the store, new or rebuilt."""
    used_new: Quantiles
    used_rebuilt: Quantiles
    moved_part_worn: Quantiles
    """Part-worn tools fitted again; none of these is taken from the store's new or rebuilt ones."""
    after_damage: Quantiles
    """Tools taken off damaged, so not for their wear."""
    spend: Quantiles
    """What the tools used are worth: new ones at their price, rebuilt ones at the price of the rebuild."""
    expected_used: float
    """The mean over the draws: unlike quantiles, means of months add up."""
    expected_spend: float


@dataclass(frozen=True, slots=True, kw_only=True)
class AtStop:
    """Tools of one type used at one place of a drive."""

    drive: str
    chainage_m: float
    window: str
    tool_type: str
    used: Quantiles


@dataclass(frozen=True, slots=True, kw_only=True)
class Action:
    """One thing to do, with its date."""

    tool_type: str
    what: str
    """``order``, ``hurry``, ``borrow``: tools to get; ``expedite``, ``defer``, ``cancel``: ask it of an order on the
    way; ``stop sending``: worn tools to the works."""
    quantity: int
    low: int
    high: int
    """The quantities that other draws might have given."""
    order_by: date
    """The last date to do it at no more cost."""
    now: bool
    """The next look at the store would be too late."""
    later: bool
    """Foreseen only: it is reckoned anew at the look then."""
    comes: date | None
    """When they come in; for an order put off or brought forward its new date."""
    needed_by: date | None
    """First date on which one of them is wanted, in the middle of the draws."""
    of_order: str
    """The order on the way it is about, or who lends; empty for a new one."""
    drives: str
    cost: float
    """Money the line is about: the tools at their price, or the fee."""
    saves: float
    """Expected saving against not doing it before the next look."""
    sure: bool
    """Other draws would say the same; otherwise the line is called borderline."""
    in_vain: float
    """Chance that the last of them is never needed on the drive."""
    why: str
    text: str
    """The line as a sentence."""

    @property
    def gets_tools(self) -> bool:
        return self.what in ("order", "hurry", "borrow")

    @property
    def late(self) -> bool:
        """Whether the ordinary way is too slow for it."""
        return self.what in ("hurry", "borrow")


@dataclass(frozen=True, slots=True, kw_only=True)
class Disagreement:
    """One type for which the site's wish asks for other quantities today than least cost does."""

    tool_type: str
    by_cost: str
    cost: float
    """Expected: all still to be bought, held and missing, less what is left over."""
    short: float
    """Chance that a tool is missing at some stop."""
    by_wish: str
    wish_cost: float
    wish_short: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """From the changes in the plan to the tools expected from the store, one type; means over the draws."""

    tool_type: str
    planned: float
    """Changes written in the plan."""
    measured: float
    """More or fewer that are decided by what is then measured, damage apart."""
    damaged: float
    """Changes after damage."""
    again: float
    """Of these, part-worn tools from the shelf or another place."""
    from_store: float
    """What is left: expected use of the store."""
    rebuilt: float
    """Of them, rebuilt ones."""
    new: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shortage:
    """Chance that the store has run short by a date."""

    tool_type: str
    date: date
    probability: float
    """If nothing more is ordered."""
    probability_if_ordered: float | None
    """From when an order of today can be in, if every order is placed on its last date; None before that day. What was
    missing before is taken as bought in a hurry, off the order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine:
    """Tools on the shelf by date if nothing more is ordered; negative is missing."""

    tool_type: str
    dates: tuple[date, ...]
    p05: tuple[float, ...]
    p50: tuple[float, ...]
    p95: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadTime:
    """What one week more of lead time would do to one type."""

    tool_type: str
    asks: str
    """What would be asked for today then."""
    extra_cost: float
    """Expected, over the drive."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """What the decision for one type rests on."""

    tool_type: str
    on_hand: int
    in_rebuild: int
    part_worn: int
    on_order: int
    on_order_due: date | None
    """The earliest date on which an order on the way is due."""
    lead_time_days: float
    hurry_days: float
    price: float
    hurry_price: float
    order_cost: float
    minimum: int
    multiple: int
    left_value: float
    """What one tool left over at the end is worth."""
    missing_cost: float
    """What one tool missing at a stop costs, once."""
    missing_cost_per_day: float
    service: float
    """The site's wish: the chance of never running short."""
    cost: float
    """Expected: all that is still bought, brought in, held and missing, less what is left over."""
    short: float
    """Chance that a tool is missing at some stop."""
    missing: float
    """Expected number of tools missing at their stop."""
    beyond_help: float
    """Of those, the ones that no way could bring in time any more."""
    left_at_end: Quantiles
    """Tools on the shelf at the end of the drive."""
    left_cost: float
    """Their expected price."""
    taken: tuple[str, ...]
    """What was taken because stores.toml does not say it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """Expected money of one month over all tool types; means, so they add up."""

    month: str
    tools_used: float
    """What the tools used are worth, paid for or not."""
    orders: float
    """Orders to be placed in that month, hurried ones and fees with them."""
    rebuilds: float
    """Rebuilt tools coming back in that month."""
    payments: float
    """What falls due for tools bought and rebuilt, some days after each comes in; earlier orders count too."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """The whole answer; all parts come from the same draws."""

    as_of: date
    drives: tuple[str, ...]
    currency: str
    service: float
    draws: int
    periods: tuple[Period, ...]
    at_stops: tuple[AtStop, ...]
    totals: tuple[tuple[str, Quantiles], ...]
    """Tools used to the end of the drive, by type."""
    orders: tuple[Action, ...]
    """Tools to get: those to ask for before the next look, then those foreseen."""
    asks: tuple[Action, ...]
    """What to ask about orders on the way and of the works."""
    shortage: tuple[Shortage, ...]
    stock_lines: tuple[StockLine, ...]
    lead_times: tuple[LeadTime, ...]
    basis: tuple[Basis, ...] = ()
    budget: tuple[Budget, ...] = ()
    bridge: tuple[Bridge, ...] = ()
    disagreements: tuple[Disagreement, ...] = ()
    log_days: int = 0
    """Days from the last log to the day reckoned from."""
    next_look: date | None = None
    pace: tuple[str, ...] = ()
    """Where what is asked for of a type would change with the pace a quarter up or down."""
    moved: tuple[str, ...] = ()
    """What moved since an earlier answer, and why, one sentence each."""
    warnings: tuple[str, ...] = ()
    """What somebody should act on: overdue orders, wants that nothing can meet in time, old logs."""
    remarks: tuple[str, ...] = ()

    @property
    def actions(self) -> tuple[Action, ...]:
        """All that is to be done before the next look, dated ones first."""
        now = [action for action in (*self.orders, *self.asks) if not action.later]
        return tuple(sorted(now, key=lambda a: (a.order_by, a.tool_type, a.what)))
