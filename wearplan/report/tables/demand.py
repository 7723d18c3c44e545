"""What procurement reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wearplan.report.tables.table import Column, Table, Worded
from wearplan.report.tables.wear import band
from wearplan.report.words import chainage_text, listing

if TYPE_CHECKING:
    from wearplan.demand import Action, Demand


LATER = "Foreseen after the next look: reckoned anew then, from what was used by then."
PACE = "A faster drive is at the same stops earlier, and wants the same tools earlier:"
BORDERLINE = (
    "Borderline: other draws of the same forecast might say otherwise, or little is saved by it; the quantities in "
    "brackets are those other draws might give."
)


def head_words(demand: Demand) -> str:
    """From when it is reckoned, and how old the last log is."""
    days = demand.log_days
    old = "the last log is of that day" if days == 0 else f"the last log is {days} {'day' if days == 1 else 'days'} old"
    return f"reckoned from {demand.as_of}; {old}"


def first_words(demand: Demand) -> str:
    """What to do first, in one or two sentences."""
    return " ".join(first_sentences(demand))


def first_sentences(demand: Demand) -> list[str]:
    """The same, what is sure before what is borderline and what is only asked."""
    now = [action for action in demand.actions if action.gets_tools]
    said = [
        _listed("To do before the next look", [_short(action) for action in now if action.sure]),
        _listed("Borderline", [_short(action) for action in now if not action.sure]),
        _listed("Ask", [f"{a.what} {a.quantity} {a.tool_type}" for a in demand.actions if not a.gets_tools]),
        "" if now else _foreseen_words(demand),
    ]
    return [part for part in said if part]


def _listed(head: str, lines: list[str]) -> str:
    return f"{head}: {listing(lines, 20)}." if lines else ""


def _foreseen_words(demand: Demand) -> str:
    """What comes first where nothing is to be got now."""
    first = min((action for action in demand.orders if action.later), key=lambda a: a.order_by, default=None)
    if first is None:
        return "Nothing needs to be ordered in this model."
    return f"First foreseen: {first.what} {first.quantity} {first.tool_type} by {first.order_by}."


def _short(action: Action) -> str:
    return f"{action.what} {action.quantity} {action.tool_type} by {action.order_by}"


def warning_sentences(demand: Demand) -> list[str]:
    """What somebody should act on, then what was assumed: the same for command, page and Store screen."""
    return [*demand.warnings, *demand.moved, *demand.remarks]


def orders_table(demand: Demand) -> Table:
    """What to do by when."""
    shown = sorted(
        (*demand.actions, *(action for action in (*demand.orders, *demand.asks) if action.later)),
        key=lambda action: action.later,
    )
    return Table(
        title=f"What to do by when ({head_words(demand)})",
        columns=(
            Column(key="what", head="do"),
            Column(key="tool_type", head="tool type"),
            Column(key="quantity", head="tools", form="int"),
            Column(key="order_by", head="by"),
            Column(key="needed_by", head="first wanted", spare=3),
            Column(key="comes", head="comes in", spare=2),
            Column(key="cost", head=f"price {demand.currency}", form="int", spare=1),
            Column(key="saves", head="saves", form="int", spare=5),
            Column(key="sure", head="standing", spare=4),
            Column(key="why", head="why", wrap=True, spare=6),
        ),
        rows=tuple(
            (
                action.what + (f" ({action.of_order})" if action.of_order else ""),
                action.tool_type,
                Worded(action.quantity, quantity_words(action)),
                action.order_by,
                action.needed_by,
                action.comes,
                action.cost,
                action.saves or None,
                standing_words(action),
                action.why,
            )
            for action in shown
        ),
        notes=(
            *([BORDERLINE] if any(not action.sure and not action.later for action in shown) else []),
            *([LATER] if any(action.later for action in shown) else []),
            *([PACE, *demand.pace] if demand.pace else []),
            *warning_sentences(demand),
        ),
    )


def quantity_words(action: Action) -> str:
    """``12``, or ``12 (10 to 14)`` where other draws might give others."""
    if action.later or action.low == action.high:
        return str(action.quantity)
    return f"{action.quantity} ({action.low} to {action.high})"


def standing_words(action: Action) -> str:
    """How sure a line is."""
    return "foreseen" if action.later else "sure" if action.sure else "borderline"


def wish_table(demand: Demand) -> Table:
    """Where the site's wish asks for other quantities today than least cost does."""
    return Table(
        title=f"Where least cost and the site's wish of {100 * demand.service:g} % disagree",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="by_cost", head="least cost"),
            Column(key="cost", head=f"costs {demand.currency}", form="int"),
            Column(key="short", head="ever short", form="chance"),
            Column(key="by_wish", head="the wish"),
            Column(key="wish_cost", head=f"costs {demand.currency}", form="int"),
            Column(key="wish_short", head="ever short", form="chance"),
        ),
        rows=tuple(
            (e.tool_type, e.by_cost, e.cost, e.short, e.by_wish, e.wish_cost, e.wish_short)
            for e in demand.disagreements
        ),
        notes=(
            "Costs: expected to the end of the drive, all that is bought, rebuilt, held and missing, less what is left "
            "over. Ever short: chance that a tool is missing at some stop.",
        ),
    )


def bridge_table(demand: Demand) -> Table:
    """From the plan's changes to what is expected from the store."""
    return Table(
        title="From the plan's changes to the store's tools (expected)",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="planned", head="in the plan", form="fixed1"),
            Column(key="measured", head="by what is measured", form="fixed1"),
            Column(key="damaged", head="after damage", form="fixed1"),
            Column(key="again", head="part-worn again", form="fixed1"),
            Column(key="from_store", head="from the store", form="fixed1"),
            Column(key="rebuilt", head="rebuilt", form="fixed1", spare=2),
            Column(key="new", head="new", form="fixed1", spare=1),
        ),
        rows=tuple(
            (e.tool_type, e.planned, e.measured, e.damaged, -e.again or 0.0, e.from_store, e.rebuilt, e.new)
            for e in demand.bridge
        ),
        notes=(
            "Each row adds up: the changes written in the plan, more or fewer once each stop is measured, those after "
            "damage, less part-worn tools fitted again, is what comes from the store, rebuilt or new.",
        ),
    )


def use_table(demand: Demand) -> Table:
    """Tools used by month and type."""
    shown = [period for period in demand.periods if period.used.p95 or period.moved_part_worn.p95]
    columns = [
        Column(key="month", head="month"),
        Column(key="tool_type", head="tool type"),
        Column(key="used", head="used", form="int"),
        Column(key="used_new", head="new", form="int", spare=3),
        Column(key="used_rebuilt", head="rebuilt", form="int", spare=2),
        Column(key="moved_part_worn", head="part-worn again", form="int", spare=5),
        Column(key="after_damage", head="damaged", form="int", spare=4),
        Column(key="spend", head=f"worth {demand.currency}", form="int", spare=1),
    ]
    if not any(period.moved_part_worn.p95 for period in shown):
        columns = [column for column in columns if column.key != "moved_part_worn"]
    rows = []
    for period in shown:
        row = {
            "month": period.month,
            "tool_type": period.tool_type,
            **{column.key: band(getattr(period, column.key)) for column in columns[2:]},
        }
        rows.append(tuple(row[column.key] for column in columns))
    return Table(
        title="Tools used by month",
        columns=tuple(columns),
        rows=tuple(rows),
        notes=(
            "The middle value, then the range that holds nine draws in ten; the doubt in the pace is in it. Rows that "
            "nineteen draws in twenty leave empty are left out.",
        ),
    )


def budget_table(demand: Demand) -> Table:
    """Expected money by month over all types: means, since they add up over types and months."""
    return Table(
        title=f"Budget by month, expected ({demand.currency})",
        columns=(
            Column(key="month", head="month"),
            Column(key="orders", head="orders to place", form="int"),
            Column(key="rebuilds", head="rebuilds coming back", form="int", spare=1),
            Column(key="payments", head="to pay", form="int"),
            Column(key="tools_used", head="worth of tools used", form="int", spare=2),
        ),
        rows=tuple(
            (entry.month, entry.orders, entry.rebuilds, entry.payments, entry.tools_used) for entry in demand.budget
        ),
        notes=(
            "Orders count in the month they are placed. To pay: tools bought, earlier orders and rebuilds, some days "
            "after each comes in. Tools used come off the shelf, paid for or not.",
        ),
    )


def taken_sentences(demand: Demand) -> list[str]:
    """What was taken because the folder does not say it, types with the same sentence together."""
    types: dict[str, list[str]] = {}
    for entry in demand.basis:
        for sentence in entry.taken:
            types.setdefault(sentence, []).append(entry.tool_type)
    return [
        f"{'every type' if len(codes) == len(demand.basis) > 1 else listing(codes, 20)}: {sentence}"
        for sentence, codes in types.items()
    ]


def basis_table(demand: Demand) -> Table:
    """What the decision rests on, type by type."""
    taken = taken_sentences(demand)
    return Table(
        title="What the decision rests on",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="on_hand", head="on hand", form="int"),
            Column(key="in_rebuild", head="at the works", form="int", spare=2),
            Column(key="on_order", head="on order", form="int"),
            Column(key="on_order_due", head="first due", spare=3),
            Column(key="part_worn", head="part-worn", form="int", spare=5),
            Column(key="lead_time_days", head="lead days", form="int"),
            Column(key="hurry_days", head="in a hurry", form="int", spare=4),
            Column(key="missing_cost", head="one missing", form="int", spare=6),
            Column(key="cost", head=f"expected {demand.currency}", form="int"),
            Column(key="short", head="ever short", form="chance"),
            Column(key="left_at_end", head="left at the end", form="int", spare=1),
        ),
        rows=tuple(
            (
                entry.tool_type,
                entry.on_hand,
                entry.in_rebuild,
                entry.on_order,
                entry.on_order_due,
                entry.part_worn,
                entry.lead_time_days,
                entry.hurry_days,
                entry.missing_cost,
                entry.cost,
                entry.short,
                band(entry.left_at_end),
            )
            for entry in demand.basis
        ),
        notes=(
            "Least expected cost on the draws: price, hurried price, holding, orders and what a tool missing at its "
            "stop costs, less what tools left over are worth. Ever short: chance that a tool is missing at some stop.",
            *(["Taken, since stores.toml does not say it:", *taken] if taken else []),
        ),
    )


def stop_use_table(demand: Demand) -> Table:
    """Tools used at each planned stop."""
    several = len(demand.drives) > 1
    return Table(
        title="Tools to have at each stop",
        columns=(
            *([Column(key="drive", head="drive")] if several else []),
            Column(key="chainage", head="stop"),
            Column(key="chainage_m", head="m", form="fixed1", spare=1),
            Column(key="window", head="window"),
            Column(key="tool_type", head="tool type"),
            Column(key="used", head="used", form="int"),
        ),
        rows=tuple(
            (
                *([entry.drive] if several else []),
                chainage_text(entry.chainage_m),
                entry.chainage_m,
                entry.window,
                entry.tool_type,
                band(entry.used),
            )
            for entry in demand.at_stops
            if entry.used.p95
        ),
        notes=("The middle value and the range of nine draws in ten; what nineteen in twenty do not use is left out.",),
    )


def shortage_table(demand: Demand) -> Table:
    """Chance of having run short by the end of each month: if nothing more is ordered, and if all of it is."""
    dates = sorted({entry.date for entry in demand.shortage})
    found = {(entry.tool_type, entry.date): entry for entry in demand.shortage}
    kinds = [
        kind
        for kind in dict.fromkeys(entry.tool_type for entry in demand.shortage)
        if any(entry.probability > 0 for entry in demand.shortage if entry.tool_type == kind)
    ]
    rows = []
    for when in dates:
        row: list[Any] = [when]
        for kind in kinds:
            entry = found.get((kind, when))
            row += [entry.probability, entry.probability_if_ordered] if entry else [None, None]
        rows.append(tuple(row))
    never = sorted({entry.tool_type for entry in demand.shortage} - set(kinds))
    return Table(
        title="Chance of having run short",
        columns=(
            Column(key="date", head="by"),
            *(
                column
                for index, kind in enumerate(kinds)
                for column in (
                    Column(key=kind, head=kind, form="chance"),
                    Column(key=f"{kind}_if_ordered", head="ordered", form="chance", spare=index + 1),
                )
            ),
        ),
        rows=tuple(_until_steady(rows)) if kinds else (),
        notes=(
            "A tool missing at a stop, by each date. First column of a type: if nothing more is bought. Ordered: if "
            "all is done that is said above, and looked at again at each look.",
            *([f"Not short in any draw: {listing(never, 20)}."] if never else []),
        ),
    )


def _until_steady(rows: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    """Rows up to the first of those at the end that say the same."""
    while len(rows) > 1 and rows[-1][1:] == rows[-2][1:]:
        rows = rows[:-1]
    return rows


def lead_time_table(demand: Demand) -> Table:
    """What one week more of lead time would do."""
    return Table(
        title="If the lead time grows by a week",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="asks", head="then today"),
            Column(key="extra_cost", head=f"dearer {demand.currency}", form="int"),
        ),
        rows=tuple((e.tool_type, e.asks, e.extra_cost) for e in demand.lead_times),
        notes=("Dearer: expected over the drive, hurried purchases and tools missing counted.",),
    )


def demand_tables(demand: Demand) -> list[Table]:
    """All of them, what to do first."""
    return [
        orders_table(demand),
        wish_table(demand),
        bridge_table(demand),
        stop_use_table(demand),
        use_table(demand),
        budget_table(demand),
        basis_table(demand),
        shortage_table(demand),
        lead_time_table(demand),
    ]
