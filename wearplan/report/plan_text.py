"""The plan as a superintendent reads it in a terminal: answer first, then reasons, then cautions."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from wearplan.report.tables import plan_tables
from wearplan.report.words import chainage_text, count_text, listing, money_text, percent_text, plural

if TYPE_CHECKING:
    from wearplan.plan import Plan
    from wearplan.site.records import Site


def headline(plan: Plan, site: Site) -> list[str]:
    """The answer in a few sentences."""
    lines = []
    if plan.status == "impossible":
        lines.append("No plan keeps the rules.")
        if plan.why_impossible:
            lines.append(plan.why_impossible.sentence)
    elif not plan.stops:
        lines.append(f"No stop is proposed: {plan.headline}.")
    else:
        first = plan.stops[0]
        tools = sum(len(change.positions) for change in first.changes)
        pressure = "in free air" if first.mode == "free air" else f"in {first.mode}, {first.pressure_bar:.1f} bar"
        lines.append(
            f"Next stop: {chainage_text(first.chainage_m)} (ring {first.ring}), {first.window}, {pressure}"
            f"{f', about {first.date}' if first.date else ''}: {plural(tools, 'tool')}, "
            f"{plural(first.entries, 'entry', 'entries')}, {count_text(first.hours)} h, "
            f"{money_text(first.cost, site.currency)}."
        )
        if first.reason:
            lines.append(first.reason)
    if plan.status != "impossible":
        total = money_text(plan.expected_cost, site.currency)
        lines.append(
            f"{plural(len(plan.stops), 'stop')} to the end of the drive, {total}: {plan.headline}; "
            f"{plural(plan.entries_under_pressure, 'entry', 'entries')} and "
            f"{count_text(plan.person_hours_under_pressure)} person-hours under pressure."
        )
        parts = plan.parts
        lines.append(
            f"Of that: stops {count_text(parts.stops)}, work {count_text(parts.work)}, "
            f"tools {count_text(parts.tools)}, late or damaged tools {count_text(parts.late)}."
        )
    lines += [f"{last.because}" for last in plan.last_stops]
    if plan.ground_break:
        lines.append(plan.ground_break.sentence)
    return lines


def plan_text(plan: Plan, site: Site, *, width: int = 100) -> str:
    """The whole plan for a terminal of ``width`` columns."""
    lines: list[str] = []
    for sentence in headline(plan, site):
        lines += textwrap.wrap(sentence, width)
    for window in plan.unusable:
        lines += textwrap.wrap(f"Not usable: {window.window}: {window.why}", width, subsequent_indent="  ")
    for table in plan_tables(plan, site):
        if table.rows:
            lines += ["", table.text(width)]
    for stop in plan.stops:
        if stop.not_seen_since:
            places = listing([_seen(entry) for entry in stop.not_seen_since], 12)
            lines += ["", *textwrap.wrap(f"Not seen lately, for {chainage_text(stop.chainage_m)}: {places}.", width)]
            break
    lines += _alternatives(plan, site, width)
    lines += ["", "Cautions"]
    for stop, told in caution_lines(plan):
        lines.append(f"{stop}:" if stop else "For all of them:")
        for caution in told:
            lines += textwrap.wrap(caution, width, initial_indent="  ! ", subsequent_indent="    ")
    for remark in plan.remarks:
        lines += textwrap.wrap(f"Note: {remark}", width, subsequent_indent="  ")
    lines += ["", "What the gap belongs to"]
    lines += textwrap.wrap(plan.gap_belongs_to, width)
    lines += textwrap.wrap("In the exact model: " + listing(plan.model_holds, 20) + ".", width)
    if plan.met_by_repair:
        lines += textwrap.wrap("Met by repair afterwards: " + listing(plan.met_by_repair, 20) + ".", width)
    return "\n".join(lines)


def caution_lines(plan: Plan) -> list[tuple[str, list[str]]]:
    """Cautions by stop: a heading and its sentences, sources in brackets; an empty heading is for the whole plan."""
    groups = [(f"At {chainage_text(stop.chainage_m)}, {stop.window}", stop.cautions) for stop in plan.stops]
    groups.append(("", plan.cautions))
    told = [(head, [f"{c.text} [{c.source}]" if c.source else c.text for c in cautions]) for head, cautions in groups]
    return [(head, lines) for head, lines in told if lines]


def _seen(entry: tuple[int, float | None, str | None]) -> str:
    position, chainage_m, _ = entry
    return f"{position} ({'never' if chainage_m is None else chainage_text(chainage_m)})"


def _alternatives(plan: Plan, site: Site, width: int) -> list[str]:
    lines: list[str] = []
    if plan.tradeoff:
        lines += ["", "Trade-off between cost and work under pressure"]
        for other in plan.tradeoff:
            places = listing([chainage_text(chainage) for chainage in other.stops_chainage_m]) or "no stop"
            lines += textwrap.wrap(
                f"{other.name}: {places}; {plural(other.entries_under_pressure, 'entry', 'entries')} and "
                f"{count_text(other.person_hours_under_pressure)} person-hours under pressure; "
                f"costs {money_text(other.extra_cost, site.currency)} more.",
                width, initial_indent="  ", subsequent_indent="    ",
            )  # fmt: skip
    if plan.comparison:
        lines += ["", "On the same draws"]
        for policy in plan.comparison:
            spread = f"{count_text(policy.p10_cost)} – {count_text(policy.p90_cost)} in eight of ten draws"
            late = f"a tool past its damage limit in {percent_text(policy.over_damage_probability)} of draws"
            cost = money_text(policy.expected_cost, site.currency)
            text = f"{policy.name}: {cost} ({spread}); {late}; {policy.stops:.1f} stops. {policy.rule}"
            lines += textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    ")
    return lines
