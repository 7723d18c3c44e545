"""The tables of the fleet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.approval import CAUTION
from wearplan.report.tables.table import Band, Column, Table
from wearplan.report.words import chainage_text

if TYPE_CHECKING:
    from wearplan.fleet.rates import FleetRates
    from wearplan.fleet.records import Fleet, Line
    from wearplan.fleet.types import FleetTypes


def fleet_table(fleet: Fleet) -> Table:
    """One row a site."""
    return Table(
        title=f"The fleet on {fleet.asked.day}",
        columns=(
            Column(key="site", head="site"),
            Column(key="face", head="face at"),
            Column(key="pace", head="pace m a day", form="fixed1", spare=5),
            Column(key="next", head="next stop at"),
            Column(key="on", head="expected"),
            Column(key="mode", head="mode", spare=4),
            Column(key="tools_due", head="tools due", form="int"),
            Column(key="entries", head="entries under pressure ahead", form="int", spare=2),
            Column(key="orders", head="the store this week", wrap=True),
            Column(key="changed", head=f"since {fleet.asked.since}", spare=3),
            Column(key="faults", head="faults", form="int", spare=1),
            Column(key="state", head="state"),
        ),
        rows=tuple(_row(line) for line in fleet.lines),
        notes=fleet.remarks,
        caution=CAUTION,
    )


def _row(line: Line) -> tuple[object, ...]:
    orders = ", ".join(f"{what} {quantity} {kind}" for what, kind, quantity, _, _ in line.orders)
    invented = " (invented)" if line.invented and "invented" not in line.name else ""
    return (
        f"{line.name}{invented}",
        None if line.face_chainage_m is None else chainage_text(line.face_chainage_m),
        line.pace_m_per_day,
        None if line.next_chainage_m is None else chainage_text(line.next_chainage_m),
        line.next_on,
        line.next_mode,
        line.tools_due,
        line.entries,
        orders,
        line.changed,
        line.faults,
        line.state,
    )


def fleet_rates_tables(rates: FleetRates) -> list[Table]:
    """Each drive's rates with the fleet's help, what a next drive may expect, and how far drives lie apart."""
    pooled = Table(
        title="Rates with the fleet's help, mm per km of a face tool",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="drive", head="drive"),
            Column(key="unit", head="unit"),
            Column(key="class", head="class of ground"),
            Column(key="matched", head="matched", spare=1),
            Column(key="alone", head="by itself", form="sig"),
            Column(key="pooled", head="with the fleet", form="sig"),
            Column(key="pull", head="from others", form="percent"),
            Column(key="readings", head="readings", form="int", spare=2),
        ),
        rows=tuple(
            (r.kind, r.drive, r.unit, r.class_name, r.matched, Band(*r.alone), Band(*r.pooled), r.pull, r.readings)
            for r in rates.rates
        ),
        notes=rates.remarks,
    )
    following = Table(
        title="What a next drive may expect, before its first reading",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="class", head="class of ground"),
            Column(key="mm_per_km", head="mm per km", form="sig"),
            Column(key="factor", head="doubt, times or over", form="fixed2"),
            Column(key="drives", head="from the readings of", wrap=True),
        ),
        rows=tuple((n.kind, n.class_name, Band(*n.band), n.factor, ", ".join(n.drives)) for n in rates.following),
    )
    spreads = Table(
        title="How far drives lie apart in one class of ground, as a standard deviation of the log rate",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="spread", head="spread", form="sig"),
            Column(key="drives", head="drives with readings", form="int"),
        ),
        rows=tuple((s.kind, Band(s.p05, s.middle, s.p95), s.drives) for s in rates.spreads),
        notes=("With few drives the spread is hardly known; the bands above carry that doubt.",),
    )
    return [pooled, following, spreads]


def fleet_types_table(types: FleetTypes) -> Table:
    """Types of tools against one another, over the drives that have both."""
    return Table(
        title="Types compared over drives: wear against another type at the same place",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="type", head="type"),
            Column(key="against", head="against"),
            Column(key="wear_times", head="wear, times, on a next drive", form="fixed2"),
            Column(key="tools", head="tools read", form="int"),
            Column(key="drives", head="by itself on", wrap=True),
        ),
        rows=tuple(
            (
                each.kind, each.tool_type, each.reference, Band(*each.wear_times), each.tools,
                ", ".join(f"{name} {ratio:.2f}" for name, ratio in zip(each.drives, each.by_drive, strict=True)),
            )
            for each in types.types
        ),
        notes=types.remarks,
    )  # fmt: skip
