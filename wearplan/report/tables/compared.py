"""Tables of types and batches compared."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.tables.table import Column, Table
from wearplan.report.tables.wear import band

if TYPE_CHECKING:
    from wearplan.wear import Fit
    from wearplan.wear.results import TypeComparison


def types_tables(fit: Fit) -> list[Table]:
    """Types of each kind against the one with most readings, and batches against their fellows."""
    types = Table(
        title="Types compared: wear and cost of a metre against the type of the kind with most readings",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="tool_type", head="type"),
            Column(key="reference", head="against"),
            Column(key="wear_times", head="wear, times", form="fixed2"),
            Column(key="cost_times", head="cost of a metre, times", form="fixed2"),
            Column(key="tools", head="tools read", form="int"),
            Column(key="said", head="what that rests on", wrap=True),
        ),
        rows=tuple(
            (one.kind, one.tool_type, one.reference, band(one.wear_times), band(one.cost_times), one.tools, said(one))
            for one in fit.types
        ),
        notes=(
            "Cost of a metre: price less what a sound core is worth, by the wear to the limit; stops are not in it.",
            *trials(fit),
        )
        if fit.types
        else ("No kind of tool here has two types with readings.",),
    )  # fmt: skip
    if not fit.batches:
        return [types]
    batches = Table(
        title="Batches: tools made or fitted together, against their fellows",
        columns=(
            Column(key="kind", head="kind"),
            Column(key="batch", head="batch"),
            Column(key="wear_times", head="wear, times", form="fixed2"),
            Column(key="tools", head="tools", form="int"),
            Column(key="share", head="share of those fitted since", form="percent"),
            Column(key="in_place", head="in place now (chance of being one)", wrap=True),
        ),
        rows=tuple(
            (
                batch.kind,
                batch.label or f"no label; since {batch.since_id}",
                band(batch.wear_times),
                batch.tools,
                batch.share,
                ", ".join(f"{place} ({chance:.0%})" for place, _, chance in batch.in_place),
            )
            for batch in fit.batches
        ),
    )
    return [types, batches]


def said(one: TypeComparison) -> str:
    """What a comparison rests on, and what it would take to know better."""
    if one.wear_times is None:
        return f"stood only in zone {one.only_in}, where {one.reference} never did: the type is not told from its zone"
    words = [f"{one.tools} tools against {one.reference_tools}"]
    if one.makes is not None:
        mine, its = one.makes
        words.append(f"both made by {mine}" if mine == its else f"made by {mine} against {its}")
    if not one.named:
        words.append("may well be alike")
    if one.more_tools:
        words.append(f"about {one.more_tools} more of it would tell within a tenth")
    return "; ".join(words)


def trials(fit: Fit) -> tuple[str, ...]:
    """A fair trial for each comparison that is not settled."""
    return tuple(
        f"A fair trial of {one.tool_type} against {one.reference}: {one.tool_type} at {', '.join(map(str, one.trial))},"
        f" {one.reference} at the places beside them; both then meet the same zones and ground."
        for one in fit.types
        if one.trial and (one.more_tools is None or one.more_tools > 0)
    )
