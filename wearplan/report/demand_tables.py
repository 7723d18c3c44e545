"""What procurement reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.table import Column, Table
from wearplan.report.tables import band
from wearplan.report.words import chainage_text

if TYPE_CHECKING:
    from wearplan.demand import Demand


def orders_table(demand: Demand) -> Table:
    """What to order by when."""
    return Table(
        title=f"What to order by when (reckoned from {demand.as_of})",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="quantity", head="quantity", form="int"),
            Column(key="order_by", head="order by"),
            Column(key="needed_by", head="in store by", spare=1),
            Column(key="cost", head=f"price {demand.currency}", form="int", spare=2),
            Column(key="why", head="why", wrap=True),
        ),
        rows=tuple(
            (
                order.tool_type,
                order.quantity,
                f"{order.order_by}{' (passed)' if order.late else ''}",
                order.needed_by,
                order.cost,
                order.why,
            )
            for order in demand.orders
        ),
        notes=(*demand.pace, *demand.moved, *demand.remarks),
    )


def use_table(demand: Demand) -> Table:
    """Tools used by month and type."""
    return Table(
        title="Tools used by month",
        columns=(
            Column(key="month", head="month"),
            Column(key="tool_type", head="tool type"),
            Column(key="used", head="used", form="int"),
            Column(key="used_new", head="new", form="int", spare=3),
            Column(key="used_rebuilt", head="rebuilt", form="int", spare=2),
            Column(key="moved_part_worn", head="part-worn again", form="int", spare=5),
            Column(key="after_damage", head="damaged", form="int", spare=4),
            Column(key="spend", head=f"spend {demand.currency}", form="int", spare=1),
        ),
        rows=tuple(
            (
                period.month,
                period.tool_type,
                band(period.used),
                band(period.used_new),
                band(period.used_rebuilt),
                band(period.moved_part_worn),
                band(period.after_damage),
                band(period.spend),
            )
            for period in demand.periods
        ),
        notes=("The middle value, then the range that holds nine draws in ten; the doubt in the pace is in it.",),
    )


def budget_table(demand: Demand) -> Table:
    """Expected spend by month over all types: means, since they add up over types and months."""
    months = sorted({period.month for period in demand.periods})
    rows = tuple(
        (month, sum(period.expected_spend for period in demand.periods if period.month == month)) for month in months
    )
    return Table(
        title=f"Budget by month ({demand.currency})",
        columns=(Column(key="month", head="month"), Column(key="spend", head="expected spend", form="int")),
        rows=rows,
    )


def stop_use_table(demand: Demand) -> Table:
    """Tools used at each planned stop."""
    return Table(
        title="Tools to have at each stop",
        columns=(
            Column(key="chainage", head="stop"),
            Column(key="window", head="window"),
            Column(key="tool_type", head="tool type"),
            Column(key="used", head="used", form="int"),
        ),
        rows=tuple(
            (chainage_text(entry.chainage_m), entry.window, entry.tool_type, band(entry.used))
            for entry in demand.at_stops
        ),
    )


def shortage_table(demand: Demand) -> Table:
    """Chance of having run short by the end of each month, if nothing more is ordered."""
    dates = sorted({entry.date for entry in demand.shortage})
    kinds = list(dict.fromkeys(entry.tool_type for entry in demand.shortage))
    found = {(entry.tool_type, entry.date): entry.probability for entry in demand.shortage}
    risen = [when for when in dates if any(found.get((kind, when), 0.0) > 0 for kind in kinds)]
    shown = [when for when in dates if not risen or when <= risen[-1]]
    return Table(
        title="Chance of having run short, if nothing more is ordered",
        columns=(
            Column(key="date", head="by"),
            *(Column(key=kind, head=kind, form="percent", spare=0) for kind in kinds),
        ),
        rows=tuple((when, *(found.get((kind, when)) for kind in kinds)) for when in shown),
    )


def lead_time_table(demand: Demand) -> Table:
    """What one week more of lead time would do."""
    return Table(
        title="If the lead time grows by a week",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="order_by", head="first order by"),
            Column(key="extra_quantity", head="more tools", form="int"),
            Column(key="extra_cost", head=f"holding {demand.currency}", form="int"),
        ),
        rows=tuple(
            (entry.tool_type, entry.order_by, entry.extra_quantity, entry.extra_cost) for entry in demand.lead_times
        ),
    )


def demand_tables(demand: Demand) -> list[Table]:
    """All of them, orders first."""
    return [
        orders_table(demand),
        stop_use_table(demand),
        use_table(demand),
        budget_table(demand),
        shortage_table(demand),
        lead_time_table(demand),
    ]
