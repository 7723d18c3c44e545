"""How the demand of past days did."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wearplan.report.tables.table import Column, Table
from wearplan.report.tables.wear import band
from wearplan.report.words import chainage_text

if TYPE_CHECKING:
    from wearplan.demand import PastDemand


def hindsight_table(past: Sequence[PastDemand]) -> Table:
    """What would have been ordered at past stops against what was used since."""
    enough = sum(entry.enough for entry in past)
    return Table(
        title="Looking back: what the plan of that day would have ordered, and what was used since",
        columns=(
            Column(key="chainage", head="at the stop"),
            Column(key="tool_type", head="tool type"),
            Column(key="foretold", head="foretold", form="int"),
            Column(key="would_have_ordered", head="would have ordered", form="int"),
            Column(key="used", head="used", form="int"),
            Column(key="enough", head="enough"),
        ),
        rows=tuple(
            (
                chainage_text(entry.chainage_m),
                entry.tool_type,
                band(entry.foretold),
                entry.would_have_ordered,
                entry.used,
                entry.enough,
            )
            for entry in past
        ),
        notes=(
            f"Enough in {enough} of {len(past)} rows. Foretold is what that day's plan would have used; the crew may "
            "have changed tools by another rule.",
        ),
    )
