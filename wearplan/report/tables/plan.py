"""The tables of a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.plan.care.exposure import EXPOSURE_NOTE, exposures
from wearplan.report.approval import CAUTION, approval_cell, approval_notes, mode_cell
from wearplan.report.tables.table import Column, Table
from wearplan.report.tables.wear import band
from wearplan.report.words import chainage_text, listing

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wearplan.plan import Deferral, Plan, Stop
    from wearplan.plan.answers.sturdy import Sturdy
    from wearplan.site.records import Site


def stops_table(plan: Plan, site: Site) -> Table:
    """Every proposed stop, one row."""
    return Table(
        title="Proposed stops" if plan.keeps_rules else "Stops that come nearest to the rules, not within them",
        columns=(
            Column(key="chainage", head="chainage"),
            Column(key="ring", head="ring", form="id", spare=4),
            Column(key="window", head="window"),
            Column(key="mode", head="mode"),
            Column(key="pressure_bar", head="bar", form="fixed1"),
            Column(key="date", head="about", spare=2),
            Column(key="changes", head="tools", form="int"),
            Column(key="entries", head="entries", form="int"),
            Column(key="person_hours", head="person-h", form="int", spare=3),
            Column(key="hours", head="hours", form="int", spare=2),
            Column(key="cost", head=f"cost {site.currency}", form="int", spare=1),
            Column(key="approval", head="pressure", spare=5),
        ),
        rows=tuple(
            (
                chainage_text(stop.chainage_m),
                stop.ring,
                stop.window,
                mode_cell(stop),
                stop.pressure_bar,
                stop.date,
                sum(len(change.positions) for change in stop.changes),
                stop.entries,
                stop.person_hours,
                stop.hours,
                stop.cost,
                approval_cell(stop.pressure_source),
            )
            for stop in plan.stops
        ),
        notes=(
            *approval_notes(plan.stops),
            "Cost: the stop itself, its work and the tools put on. What tools may cost by being late or damaged, and "
            "the life used up or left, stand in the total alone.",
            *([_TOOLS] if any(len(change.positions) > 1 for stop in plan.stops for change in stop.changes) else []),
        )
        if plan.stops
        else (),
    )


def exposure_table(plan: Plan) -> Table:
    """Entries and person-hours of the plan by mode and band of pressure."""
    return Table(
        title="People's work by mode and band of pressure",
        columns=(
            Column(key="band", head="mode and band", wrap=True),
            Column(key="stops", head="stops", form="int"),
            Column(key="entries", head="entries", form="int"),
            Column(key="person_hours", head="person-h", form="int"),
        ),
        rows=tuple((e.band, e.stops, e.entries, e.person_hours) for e in exposures(plan.stops)),
        notes=(EXPOSURE_NOTE,) if plan.stops else (),
        caution=CAUTION,
    )


_TOOLS = "Tools: a housing of several edges takes several tools in one change, so there are more tools than places."


def changes_table(stop: Stop) -> Table:
    """Every change of one stop with its reason."""
    return Table(
        title=f"At {chainage_text(stop.chainage_m)}, {stop.window}",
        columns=(
            Column(key="positions", head="places"),
            Column(key="action", head="action"),
            Column(key="tool_type", head="put on", spare=4),
            Column(key="reason", head="reason", spare=3),
            Column(key="wear_mm", head="wear mm then", form="fixed1"),
            Column(key="over", head="over limit if left", form="chance", spare=2),
            Column(key="sentence", head="why", wrap=True),
        ),
        rows=tuple(
            (
                ", ".join(map(str, change.positions)),
                change.action,
                change.tool_type,
                change.reason,
                band(change.wear_mm),
                change.over_limit_probability_if_left,
                change.sentence,
            )
            for change in stop.changes
        ),
    )


def later_changes_table(stop: Stop) -> Table:
    """Every change of a later stop in one row: the numbers of its reason without the sentence."""
    return Table(
        title=f"At {chainage_text(stop.chainage_m)}, {stop.window}",
        columns=(
            Column(key="positions", head="places"),
            Column(key="zone", head="zone", spare=5),
            Column(key="action", head="action", spare=6),
            Column(key="tool_type", head="put on"),
            Column(key="fitted", head="as", spare=3),
            Column(key="reason", head="reason"),
            Column(key="wear_mm", head="wear mm then", form="fixed1"),
            Column(key="limit_mm", head="limit mm", form="fixed1", spare=1),
            Column(key="over", head="over limit if left", form="chance"),
            Column(key="until", head="until", spare=2),
            Column(key="last_read", head="last read at", spare=4),
        ),
        rows=tuple(
            (
                ", ".join(map(str, change.positions)),
                change.zone,
                change.action,
                change.tool_type,
                change.fitted if change.from_position is None else f"{change.fitted}, from {change.from_position}",
                change.reason,
                band(change.wear_mm),
                change.limit_mm,
                change.over_limit_probability_if_left,
                chainage_text(change.left_until_chainage_m),
                chainage_text(change.last_read[1]) if change.last_read else None,
            )
            for change in stop.changes
        ),
    )


def deferral_table(plan: Plan, site: Site) -> Table:
    """What it costs to go on, window by window."""
    return Table(
        title="If the first proposed stop is passed",
        columns=(
            Column(key="chainage", head="next stop at"),
            Column(key="window", head="window"),
            Column(key="extra_cost", head=f"{site.currency} more", form="int"),
            Column(key="over_limit", head="a tool over limit", form="chance"),
            Column(key="over_damage", head="over damage limit", form="chance", spare=1),
            Column(key="gauge_over_damage", head="a gauge tool over it", form="chance", spare=3),
            Column(key="extra_entries", head="entries more", form="int", spare=4),
            Column(key="drivers", head="places that drive it", spare=2),
            Column(key="note", head="note", wrap=True),
        ),
        rows=tuple(
            (
                chainage_text(step.chainage_m),
                step.window,
                step.told_cost,
                step.over_limit_probability,
                step.over_damage_probability,
                step.gauge_over_damage_probability,
                step.extra_entries,
                listing([str(number) for number in step.drivers], 5),
                _note(step),
            )
            for step in plan.deferral
        ),
    )


def _note(step: Deferral) -> str:
    """What going on breaks; a lower cost is then no gain and is not told."""
    if not step.breaks:
        return step.note
    return f"{'; '.join(step.breaks)}. {step.note}".strip()


def tradeoff_table(plan: Plan, site: Site) -> Table:
    """Money against work under pressure."""
    return Table(
        title="Trade-off between cost and work under pressure",
        columns=(
            Column(key="name", head="plan", wrap=True),
            Column(key="stops", head="stops", wrap=True),
            Column(key="extra_cost", head=f"costs more {site.currency}", form="int"),
            Column(key="entries", head="entries under pressure", form="int"),
            Column(key="person_hours", head="person-hours under pressure", form="int"),
            Column(key="changes", head="tools", form="int"),
        ),
        rows=tuple(
            (
                other.name,
                listing([chainage_text(chainage) for chainage in other.stops_chainage_m], 30) or "none",
                other.extra_cost,
                other.entries_under_pressure,
                other.person_hours_under_pressure,
                other.changes,
            )
            for other in plan.tradeoff
        ),
        caution=CAUTION,
    )


def comparison_table(plan: Plan, site: Site) -> Table:
    """Simple rules on the same draws."""
    return Table(
        title="Other ways to run the drive, on the same draws",
        columns=(
            Column(key="name", head="way", wrap=True),
            Column(key="expected_cost", head=f"expected {site.currency}", form="int"),
            Column(key="p10_cost", head="one in ten below", form="int"),
            Column(key="p90_cost", head="one in ten above", form="int"),
            Column(key="over_limit", head="a tool over its limit", form="chance"),
            Column(key="over_damage", head="over its damage limit", form="chance"),
            Column(key="stops", head="stops", form="fixed1"),
            Column(key="entries", head="entries under pressure", form="fixed1"),
            Column(key="tools", head="tools", form="fixed1"),
            Column(key="rule", head="rule", wrap=True),
        ),
        rows=tuple(
            (
                policy.name,
                policy.expected_cost,
                policy.p10_cost,
                policy.p90_cost,
                policy.over_limit_probability,
                policy.over_damage_probability,
                policy.stops,
                policy.entries_under_pressure,
                policy.tools,
                policy.rule,
            )
            for policy in plan.comparison
        ),
        caution=CAUTION,
    )


def sturdy_table(found: Sequence[Sturdy], site: Site) -> Table:
    """Plans with something in hand beside the cheapest."""
    return Table(
        title="Plans with something in hand",
        columns=(
            Column(key="margin", head="--margin"),
            Column(key="name", head="plan", wrap=True),
            Column(key="extra_cost", head=f"{site.currency} more", form="int"),
            Column(key="stops", head="stops", form="int"),
            Column(key="entries", head="entries under pressure", form="int"),
            Column(key="past", head="places past a cap", form="int"),
            Column(key="past_11", head="in ground x1.1", form="int"),
            Column(key="past_12", head="in ground x1.2", form="int"),
        ),
        rows=tuple(
            (
                each.margin or "-",
                each.name,
                each.extra_cost,
                len(each.stops_chainage_m),
                each.entries_under_pressure,
                each.past_as_expected,
                *each.past_in_harder,
            )
            for each in found
        ),
        notes=(
            "The plan of least cost sits on its caps. A place counts as past a cap where its chance of passing the "
            "limit before it is next changed is above that cap, the plan kept as it stands. No word here says that a "
            "plan is without danger.",
        ),
        caution=CAUTION,
    )


def unusable_table(plan: Plan) -> Table:
    """Windows ahead where the plan cannot stop, and why."""
    return Table(
        title="Windows that cannot be used",
        columns=(
            Column(key="window", head="window"),
            Column(key="chainage", head="from"),
            Column(key="why", head="why", wrap=True),
        ),
        rows=tuple((window.window, chainage_text(window.from_chainage_m), window.why) for window in plan.unusable),
        caution=CAUTION,
    )


def plan_tables(plan: Plan, site: Site) -> list[Table]:
    """All: stops, people's work by band, changes by stop, deferral, trade-off, comparison, windows not to be used."""
    return [
        stops_table(plan, site),
        exposure_table(plan),
        *(changes_table(stop) for stop in plan.stops),
        deferral_table(plan, site),
        tradeoff_table(plan, site),
        comparison_table(plan, site),
        unusable_table(plan),
    ]
