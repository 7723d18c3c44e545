"""How the demand of past days did."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wearplan.report.tables.table import Column, Table
from wearplan.report.tables.wear import band
from wearplan.report.words import chainage_text

if TYPE_CHECKING:
    from wearplan.demand import PastDemand
    from wearplan.demand.memory.score import KeptScore


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
            held_words(past),
        ),
    )


def held_words(past: Sequence[PastDemand]) -> str:
    """How often the wished chance held, and what those that did not have in common."""
    held = 100 * sum(entry.enough for entry in past) / len(past)
    asked = 100 * past[0].service
    said = f"Held {held:.0f} % where the site asks for {asked:g} %"
    missed = [entry for entry in past if not entry.enough]
    if not missed:
        return said + "."
    more = sum(entry.stops_made > entry.stops_planned for entry in missed)
    bias = sum(entry.used - (entry.foretold.p50 or 0.0) for entry in past) / len(past)
    causes = []
    if more:
        causes.append(
            f"in {more} of the {len(missed)} that fell short the crew stopped more often than that day's plan"
        )
    causes.append(
        f"{abs(bias):.1f} tools a row {'more' if bias > 0 else 'fewer'} were used than foretold in the middle"
    )
    return f"{said}, because {', and '.join(causes)}."


def scores_table(rows: Sequence[KeptScore]) -> Table:
    """Forecasts kept in the folder against what was used since."""
    inside = sum(row.inside for row in rows)
    bias = sum((row.foretold.p50 or 0.0) - row.used for row in rows) / max(len(rows), 1)
    way = "as many as" if abs(bias) < 0.05 else f"{abs(bias):.1f} tools {'more' if bias > 0 else 'fewer'} than"
    return Table(
        title="Kept forecasts, and what was used since",
        columns=(
            Column(key="made_on", head="kept on"),
            Column(key="tool_type", head="tool type"),
            Column(key="foretold", head="foretold up to today's face", form="int"),
            Column(key="used", head="used", form="int"),
            Column(key="inside", head="in the band"),
        ),
        rows=tuple((row.made_on, row.tool_type, band(row.foretold), row.used, row.inside) for row in rows),
        notes=(f"The band of nine in ten holds {inside} of {len(rows)}; foretold in the middle: {way} were used.",),
    )
