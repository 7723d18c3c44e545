"""The purchase request: what a buyer needs to place orders, one row an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.tables.table import Column, Table

if TYPE_CHECKING:
    from wearplan.demand import Demand

WAYS = {"order": "ordinary", "hurry": "hurried", "borrow": "borrowed"}


def purchase_table(demand: Demand) -> Table:
    """Tools to ask for before the next look; what is foreseen later is no request yet."""
    rows = tuple(
        (
            action.tool_type,
            action.quantity,
            round(action.cost / action.quantity, 2),
            demand.currency,
            round(action.cost, 2),
            action.needed_by,
            action.order_by,
            WAYS[action.what],
            action.drives,
            "sure" if action.sure else "borderline",
            action.why,
        )
        for action in demand.actions
        if action.gets_tools
    )
    return Table(
        title=f"Purchase request, reckoned from {demand.as_of}",
        columns=(
            Column(key="item", head="item"),
            Column(key="quantity", head="quantity", form="int"),
            Column(key="unit_price", head="unit price", form="fixed2"),
            Column(key="currency", head="currency"),
            Column(key="amount", head="amount", form="fixed2"),
            Column(key="needed_on", head="needed on"),
            Column(key="order_by", head="order by"),
            Column(key="way", head="way"),
            Column(key="drive", head="drive"),
            Column(key="standing", head="standing"),
            Column(key="reason", head="reason", wrap=True),
        ),
        rows=rows,
        notes=("Borderline rows are worth a question before they are ordered.",),
    )
