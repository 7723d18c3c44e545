"""The plan as a superintendent reads it in a terminal: answer first, then reasons, then cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wearplan.history import Calendar
from wearplan.plan import PLANNING_ESTIMATE
from wearplan.plan.answers.lasts import last_sentence
from wearplan.plan.care.exposure import exposures
from wearplan.report.approval import NOT_APPROVED
from wearplan.report.four import tools_in_places
from wearplan.report.reaches import reach_words, stop_reaches
from wearplan.report.tables.plan import changes_table, deferral_table, stops_table
from wearplan.report.unseen import unseen_words
from wearplan.report.words import (
    chainage_text,
    chance_text,
    count_text,
    listing,
    money_text,
    percent_text,
    plural,
    wrapped,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wearplan.plan import Caution, Plan, Stop
    from wearplan.site.records import Site


WHOLE = "For the whole plan"


def headline(plan: Plan, site: Site) -> list[str]:
    """The answer in a few sentences."""
    lines = []
    if not plan.keeps_rules:
        lines.append(f"{plan.headline[0].upper()}{plan.headline[1:]}.")
        if plan.why_impossible:
            lines.append(plan.why_impossible.sentence)
    elif not plan.stops:
        lines.append(f"No stop is proposed: {plan.headline}.")
    else:
        first = plan.stops[0]
        pressure = "in free air" if first.mode == "free air" else f"in {first.mode}, {first.pressure_bar:.1f} bar"
        pressure += "" if first.pressure_source else f" ({NOT_APPROVED})"
        off = reach_words(stop_reaches(plan, Calendar(site))[0])
        lines.append(
            f"Next stop: {chainage_text(first.chainage_m)} (ring {first.ring}), {off}, {first.window}, {pressure}"
            f"{f', about {first.date}' if first.date else ''}: {tools_in_places(first)}, "
            f"{plural(first.entries, 'entry', 'entries')}, {count_text(first.hours)} h, "
            f"{money_text(first.cost, site.currency)}."
        )
        if first.reason:
            lines.append(first.reason)
    if plan.keeps_rules:
        total = money_text(plan.expected_cost, site.currency)
        lines.append(
            f"{plural(len(plan.stops), 'stop')} to the end of the drive, {total}: {plan.headline}; "
            f"{plural(plan.entries_under_pressure, 'entry', 'entries')} and "
            f"{count_text(plan.person_hours_under_pressure)} person-hours under pressure."
            if plan.stops
            else f"To the end of the drive without a stop: {total} expected."
        )
        if plan.forced_extra_cost is not None and plan.expected_cost is not None:
            free = money_text(plan.expected_cost - plan.forced_extra_cost, site.currency)
            lines.append(f"Your wishes cost {money_text(plan.forced_extra_cost, site.currency)}: {free} without them.")
        parts = plan.parts
        lines.append(
            f"Of that: stops {count_text(parts.stops)}, work {count_text(parts.work)}, "
            f"tools {count_text(parts.tools)}, late tools and the stops they force {count_text(parts.late)}, damage "
            f"{count_text(parts.damage)}."
        )
        if plan.forced_sentence:
            lines.append(plan.forced_sentence)
        if round(plan.cannot_be_planned) > 0:
            lines.append(
                f"{money_text(plan.cannot_be_planned, site.currency)} of the damage cannot be planned away: it would "
                "remain with a look at the wheel at every place to stop. The rest, "
                f"{money_text(plan.plannable_cost, site.currency)}, is what plans are compared by."
            )
    if plan.keeps_rules and plan.stops:
        lines.append(exposure_words(plan.stops))
    lines += [last_sentence(last) for last in plan.last_stops]
    if plan.ground_break and plan.keeps_rules:
        lines.append(plan.ground_break.sentence)
    return lines


def one_total(plan: Plan, site: Site) -> str:
    """The plan's total beside what the same plan costs on the draws, and what lies between them."""
    found = {policy.code: policy for policy in plan.comparison}
    fixed, looked = found.get("plan_fixed"), found.get("plan")
    if fixed is None or looked is None or plan.expected_cost is None:
        return "Here each way is played draw by draw."

    def apart(value: float) -> str:
        return f"{'+' if value >= 0 else '-'}{count_text(abs(value))}"

    return (
        f"The total of {money_text(plan.expected_cost, site.currency)} is for changes as planned now. Played on "
        f"{looked.draws} draws the same changes cost {money_text(fixed.expected_cost, site.currency)} "
        f"({apart(fixed.expected_cost - plan.expected_cost)}; by chance alone ± {count_text(fixed.mean_error)}), and "
        f"changes by what is then measured {money_text(looked.expected_cost, site.currency)} "
        f"({apart(looked.expected_cost - fixed.expected_cost)})."
    )


def exposure_words(stops: Sequence[Stop]) -> str:
    """Person-hours and entries by mode and band of pressure, in one sentence."""
    bands = [
        f"{e.band} {count_text(e.person_hours)} h in {plural(e.entries, 'entry', 'entries')}" for e in exposures(stops)
    ]
    return f"Person-hours in the chamber: {'; '.join(bands)}." if bands else "Nobody works in the chamber."


SECTIONS = ("answer", "stops", "reasons", "passing", "others", "cautions", "basis")
"""The parts of the text in their order; all but the reasons are printed without being asked for."""


def plan_text(plan: Plan, site: Site, *, width: int = 100, reasons: bool = False, sections: Sequence[str] = ()) -> str:
    """The whole plan for a terminal of ``width`` columns.

    Parameters
    ----------
    reasons : bool
        With the sentence of every change.
    sections : sequence of str
        These of `SECTIONS` alone, under what the plan is not; empty: all of them.
    """
    asked = sections or [name for name in SECTIONS if reasons or name != "reasons"]
    made = {
        "answer": _answer_lines, "stops": _stop_lines, "reasons": _reason_lines, "passing": _passing_lines,
        "others": _alternatives, "cautions": _caution_lines, "basis": _basis_lines,
    }  # fmt: skip
    lines = [] if "answer" in asked else wrapped(PLANNING_ESTIMATE.text, width, first="! ", later="  ")
    for name in SECTIONS:
        if name in asked:
            lines += made[name](plan, site, width)
    if "stops" in asked and "reasons" not in asked:
        return "\n".join(lines)
    return "\n".join(line.replace(REASONS_TOLD, "below stands") for line in lines)


REASONS_TOLD = "--reasons tells"


def _answer_lines(plan: Plan, site: Site, width: int) -> list[str]:
    lines = [line for sentence in headline(plan, site) for line in wrapped(sentence, width)]
    lines += _for_this_stop(plan, site, width)
    for window in plan.unusable:
        lines += wrapped(f"Not usable: {window.window}: {window.why}.", width, later="  ")
    return lines


def _stop_lines(plan: Plan, site: Site, width: int) -> list[str]:
    if not plan.stops:
        return []
    lines = ["", stops_table(plan, site).text(width), "", *_next_stop(plan.stops[0], site, width)]
    return [*lines, *(line for stop in plan.stops[1:] for line in _later_stop(stop, width))]


def _reason_lines(plan: Plan, site: Site, width: int) -> list[str]:
    return [line for stop in plan.stops for line in ("", changes_table(stop).text(width))]


def _passing_lines(plan: Plan, site: Site, width: int) -> list[str]:
    return ["", deferral_table(plan, site).text(width)] if plan.deferral else []


def _caution_lines(plan: Plan, site: Site, width: int) -> list[str]:
    lines = ["", "Cautions"]
    for head, told in caution_lines(plan):
        lines.append(f"{head}:")
        for caution in told:
            lines += wrapped(caution, width, first="  ! ", later="    ")
    return lines


def _basis_lines(plan: Plan, site: Site, width: int) -> list[str]:
    lines = ["", "What this rests on"]
    for note in plan_notes(plan, site):
        lines += wrapped(note, width, first="- ", later="  ")
    return lines


def _for_this_stop(plan: Plan, site: Site, width: int) -> list[str]:
    """What passing the first stop costs, what this plan is not, and the cautions of that stop alone."""
    if not plan.stops:
        return []
    lines: list[str] = []
    step = next((step for step in plan.deferral if step.ahead_m > 0), None)  # the first row may be the stop itself
    if step is not None:
        rings = round(step.ahead_m / site.drive.ring_length_m)
        if step.told_cost is None:
            money = "it breaks a rule of the site (see below), so that no saving is told"
        else:
            dearer = "less" if step.extra_cost < 0 else "more"
            money = f"{money_text(abs(step.extra_cost), site.currency)} {dearer}"
            money += ", and it breaks a rule of the site (see below)" if step.breaks else ""
        words = (
            f"If it is passed: next {step.window} at {chainage_text(step.chainage_m)}, {plural(rings, 'ring')} "
            "further; "
            f"{money}; "
            f"a tool past its limit on the way {chance_text(step.over_limit_probability)}, "
            f"past its damage limit {chance_text(step.over_damage_probability)}."
        )
        lines += wrapped(words, width)
    own = f"At {chainage_text(plan.stops[0].chainage_m)}, {plan.stops[0].window}"
    alone = [told for head, some in caution_lines(plan) if head == own for told in some] if len(plan.stops) > 1 else []
    first = [PLANNING_ESTIMATE.text, *(told for told in alone if told != PLANNING_ESTIMATE.text)]
    for told in first:
        lines += wrapped(told, width, first="! ", later="  ")
    return lines


def plan_notes(plan: Plan, site: Site) -> list[str]:
    """What the plan rests on: assumptions, what the gap belongs to, what the model holds, what was met afterwards."""
    notes = [*plan.remarks]
    if round(plan.moves_save) > 0:
        notes.append(
            "The part-worn tools put on in place of new ones are expected to save "
            f"{money_text(plan.moves_save, site.currency)}; no cost here counts that."
        )
    for head, parts in (("In the exact model", plan.model_holds), ("Met by repair afterwards", plan.met_by_repair)):
        if parts:
            notes.append(f"{head}: {'; '.join(parts)}.")
    if plan.gap_belongs_to:
        notes.append(f"The gap belongs to {plan.gap_belongs_to}.")
    return notes


def _next_stop(stop: Stop, site: Site, width: int, *, most: int = 6) -> list[str]:
    """The next stop in full: what to change, why for those that cannot wait, what was not seen."""
    lines = [f"Next stop, {chainage_text(stop.chainage_m)}, {stop.window}"]
    lines += _changes(stop, width)
    pressing = sorted(
        (change for change in stop.changes if change.reason != "preventive"),
        key=lambda change: -change.over_limit_probability_if_left,
    )
    for change in pressing[:most]:
        lines += wrapped(change.sentence, width, first="  - ", later="    ")
    rest = len(stop.changes) - min(len(pressing), most)
    if rest:
        lines.append(f"  - and {rest} more; {REASONS_TOLD} the reason of every change")
    if stop.not_seen_since:
        unseen = unseen_words(stop, site)
        lines += wrapped(f"Not seen at the last stop: {unseen}.", width, first="  ", later="  ")
    return lines


def _later_stop(stop: Stop, width: int) -> list[str]:
    return [f"{chainage_text(stop.chainage_m)}, {stop.window}", *_changes(stop, width)]


def _changes(stop: Stop, width: int) -> list[str]:
    """Changes by action, tool type and supply, each with its places; a move by whence and where."""
    groups: dict[str, list[str]] = {}
    for change in stop.changes:
        place = "/".join(map(str, change.positions))
        if change.from_position is not None:
            head, place = f"move, part-worn {change.tool_type}", f"{change.from_position} to {place}"
        else:
            shelf = " from the shelf" if change.fitted == "part-worn" else ""
            head = f"{change.action} to {change.fitted} {change.tool_type}{shelf}"
        groups.setdefault(head, []).append(place)
    lines = []
    for head, places in groups.items():
        lines += wrapped(f"{head}: {', '.join(places)}", width, first="  ", later="    ")
    return lines


def caution_lines(plan: Plan) -> list[tuple[str, list[str]]]:
    """Cautions under headings, sources in brackets; each told once to those stops that share it.

    First those of every stop, then of every stop under pressure, then what one stop adds, last what no stop tells.
    """
    told = [stop_cautions(stop) for stop in plan.stops]
    heads = [f"At {chainage_text(stop.chainage_m)}, {stop.window}" for stop in plan.stops]
    groups: list[tuple[str, list[str]]] = []
    shared: set[str] = set()
    pressed = [lines for stop, lines in zip(plan.stops, told, strict=True) if stop.mode != "free air"]
    for head, some in (("At every stop", told), ("At every stop under pressure", pressed)):
        if len(some) > 1:
            common = [line for line in some[0] if line not in shared and all(line in other for other in some)]
            groups.append((head, common))
            shared.update(common)
    groups += [(head, [line for line in lines if line not in shared]) for head, lines in zip(heads, told, strict=True)]
    said = {line for lines in told for line in lines}
    groups.append((WHOLE, [line for line in map(_caution, plan.cautions) if line not in said]))
    return [(head, lines) for head, lines in groups if lines]


def stop_cautions(stop: Stop) -> list[str]:
    """Every caution of one stop."""
    return [_caution(caution) for caution in stop.cautions]


def _caution(caution: Caution) -> str:
    return f"{caution.text} [{caution.source}]" if caution.source else caution.text


def _alternatives(plan: Plan, site: Site, width: int) -> list[str]:
    lines: list[str] = []
    if plan.tradeoff:
        lines += ["", "Trade-off between cost and work under pressure"]
        for other in plan.tradeoff:
            places = listing([chainage_text(chainage) for chainage in other.stops_chainage_m]) or "no stop"
            lines += wrapped(
                f"{other.name}: {places}; {plural(other.entries_under_pressure, 'entry', 'entries')} and "
                f"{count_text(other.person_hours_under_pressure)} person-hours under pressure; "
                f"costs {money_text(other.extra_cost, site.currency)} more.",
                width, first="  ", later="    ",
            )  # fmt: skip
    if plan.comparison:
        lines += ["", "On the same draws"]
        lines += wrapped(one_total(plan, site), width)
        for policy in plan.comparison:
            spread = f"{count_text(policy.p10_cost)} – {count_text(policy.p90_cost)} in eight of ten draws"
            late = f"a tool past its damage limit in {percent_text(policy.over_damage_probability)} of draws"
            cost = money_text(policy.expected_cost, site.currency)
            stops = f"; {policy.stops:.1f} stops" if policy.stops == policy.stops else ""
            text = f"{policy.name}: {cost} ({spread}); {late}{stops}. {policy.rule}"
            lines += wrapped(text, width, first="  ", later="    ")
    return lines
