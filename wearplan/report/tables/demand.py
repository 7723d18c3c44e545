"""What procurement reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wearplan.report.tables.table import Column, Table, Worded
from wearplan.report.tables.wear import band
from wearplan.report.words import chainage_text, listing

if TYPE_CHECKING:
    from wearplan.demand import Demand


LATER = "Orders after today are reckoned anew at each look, from what was used by then."
PACE = "A faster drive is at the same stops earlier, and wants the same tools earlier:"


def orders_table(demand: Demand) -> Table:
    """What to order by when."""
    return Table(
        title=f"What to order by when (reckoned from {demand.as_of})",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="quantity", head="quantity", form="int"),
            Column(key="order_by", head="order by"),
            Column(key="needed_by", head="needed from", spare=1),
            Column(key="comes", head="comes in", spare=3),
            Column(key="cost", head=f"price {demand.currency}", form="int", spare=2),
            Column(key="why", head="why", wrap=True),
        ),
        rows=tuple(
            (
                order.tool_type,
                order.quantity,
                Worded(order.order_by, f"now ({order.order_by})") if order.now else order.order_by,
                order.needed_by,
                order.comes,
                order.cost,
                order.why,
            )
            for order in demand.orders
        ),
        notes=(
            *([LATER] if any(not order.now for order in demand.orders) else []),
            *([PACE, *demand.pace] if demand.pace else []),
            *demand.moved,
            *demand.remarks,
        ),
    )


def hurry_table(demand: Demand) -> Table:
    """What no ordinary order can bring in time any more."""
    return Table(
        title="Needed before an order of today can come in",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="hurried", head="up to", form="int"),
            Column(key="missing_before", head="expected", form="fixed1"),
            Column(key="short_before", head="chance of any", form="chance"),
            Column(key="needed_by", head="from"),
            Column(key="comes", head="order of today comes in", spare=1),
            Column(key="hurry_cost", head=f"dearer in a hurry {demand.currency}", form="int"),
        ),
        rows=tuple(
            (
                order.tool_type,
                order.hurried,
                order.missing_before,
                order.short_before,
                order.needed_by,
                order.comes,
                order.hurry_cost,
            )
            for order in demand.orders
            if order.late
        ),
        notes=(
            "Up to: at the wanted chance. Each tool bought in a hurry comes off the order of today. How fast a hurried "
            "one comes is not in the folder: ask before you count on it, or ask for a shorter lead time.",
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
            Column(key="rebuilds", head="rebuilds coming back", form="int"),
            Column(key="hurry", head="more for hurry", form="int"),
            Column(key="tools_used", head="worth of tools used", form="int", spare=1),
        ),
        rows=tuple(
            (entry.month, entry.orders, entry.rebuilds, entry.hurry, entry.tools_used) for entry in demand.budget
        ),
        notes=(
            "Orders count in the month they are placed. Tools used come off the shelf, paid for or not. More for "
            "hurry: what is missing before an ordinary order can come in, at the extra price of a hurried purchase.",
        ),
    )


def basis_table(demand: Demand) -> Table:
    """What the orders rest on: stock, lead time, and holding weighed against hurry."""
    return Table(
        title="What the orders rest on",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="on_hand", head="on hand", form="int"),
            Column(key="in_rebuild", head="at the works", form="int", spare=2),
            Column(key="on_order", head="on order", form="int"),
            Column(key="on_order_due", head="first due", spare=3),
            Column(key="part_worn", head="part-worn", form="int", spare=5),
            Column(key="lead_time_days", head="lead days", form="int"),
            Column(key="days_held", head="days to next use", form="int", spare=7),
            Column(key="holding", head=f"hold {demand.currency}", form="int", spare=6),
            Column(key="hurry", head=f"hurry {demand.currency}", form="int", spare=6),
            Column(key="service_of_money", head="money asks", form="percent1", spare=4),
            Column(key="left_at_end", head="left at the end", form="int", spare=1),
            Column(key="what_holds", head="what holds", wrap=True),
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
                entry.days_held,
                entry.holding,
                entry.hurry,
                entry.service_of_money,
                band(entry.left_at_end),
                entry.what_holds,
            )
            for entry in demand.basis
        ),
        notes=(
            f"The orders keep two chances: the site's {100 * demand.service:g} % of never running short from when an "
            "order of today can be in, and what money asks for at any one date. For money a tool too many is held "
            "until the next use, one too few bought in a hurry; a machine that waits costs more, so the site's wish "
            "stands. Left at the end: on the shelf when the drive ends if every order is placed, at their price.",
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
            Column(key="window", head="window"),
            Column(key="tool_type", head="tool type"),
            Column(key="used", head="used", form="int"),
        ),
        rows=tuple(
            (
                *([entry.drive] if several else []),
                chainage_text(entry.chainage_m),
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
            "First column of a type: if nothing more is ordered. Ordered: from when an order of today can be in, if "
            "every order is placed by its last date and what is missing before is bought in a hurry.",
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
            Column(key="order_by", head="first order by"),
            Column(key="extra_quantity", head="more tools", form="int"),
            Column(key="extra_holding", head=f"holding {demand.currency} a year", form="int"),
            Column(key="extra_hurry", head=f"hurry {demand.currency}, once", form="int"),
            Column(key="sentence", head="in words", wrap=True, spare=1),
        ),
        rows=tuple(
            (e.tool_type, e.order_by, e.extra_quantity, e.extra_holding, e.extra_hurry, e.sentence)
            for e in demand.lead_times
        ),
        notes=(
            "More tools: to have on the shelf or on order in addition. Holding: of the reserve among them. Hurry: "
            "expected for what would be missing before an order of today can come in.",
        ),
    )


def demand_tables(demand: Demand) -> list[Table]:
    """All of them, orders first."""
    return [
        orders_table(demand),
        hurry_table(demand),
        stop_use_table(demand),
        use_table(demand),
        budget_table(demand),
        basis_table(demand),
        shortage_table(demand),
        lead_time_table(demand),
    ]
