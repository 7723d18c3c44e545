"""The four answers a morning begins with, in the same words on the first screen and on the meeting sheet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearplan.gate import ACCEPTANCE
from wearplan.report.approval import NOT_APPROVED
from wearplan.report.reaches import reach_words, short_reach, stop_reaches
from wearplan.report.words import (
    chainage_text,
    chance_text,
    count_text,
    listing,
    money_text,
    percent_text,
    plain,
    plural,
)

if TYPE_CHECKING:
    from wearplan.demand import Demand
    from wearplan.history import Calendar, Life
    from wearplan.plan import Plan, Stop
    from wearplan.site.records import Site
    from wearplan.wear import Fit, Outlook

DUE_CHANCE = 0.5
NEAR_SHARE = 0.8


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """One of the four: its question, the answer, what goes with it."""

    question: str
    lead: str
    lines: tuple[str, ...] = ()
    presses: bool = False
    """Somebody has to act on it."""


def damaged_places(current: Mapping[int, Life]) -> tuple[int, ...]:
    """Places whose tool is damaged by its last records and still on the wheel."""
    return tuple(sorted(number for number, life in current.items() if life.in_trouble))


def tools_in_places(stop: Stop) -> str:
    """``9 tools``, or with housings of several edges ``28 tools in 27 places``."""
    tools, places = sum(len(change.positions) for change in stop.changes), len(stop.changes)
    return plural(tools, "tool") if tools == places else f"{plural(tools, 'tool')} in {plural(places, 'place')}"


def mode_words(stop: Stop) -> str:
    """Mode and pressure of a stop, with what is said where no source approves the pressure."""
    words = "free air" if stop.mode == "free air" else f"{stop.mode}, {stop.pressure_bar:.1f} bar"
    return words + ("" if stop.pressure_source else f" ({NOT_APPROVED})")


def on_wheel(site: Site, outlook: Outlook, current: Mapping[int, Life], fit: Fit | None = None) -> Answer:
    """What is damaged, past its limit or near it and still on the wheel; with ``fit`` where events ask to look.

    What is lost, seized, flat or cracked leads whatever its wear.
    """
    from wearplan.report.preview import doubted_lines
    from wearplan.report.trouble import look_at_lines, to_look_at, trouble_lines, troubles

    past = outlook.over_limit_probability(outlook.face_m)
    damaged, leading = set(damaged_places(current)), troubles(current)
    used = np.median(outlook.wear_now_mm, axis=0) / outlook.limit_mm
    over, near = [], []
    for number, share, chance in zip(outlook.numbers.tolist(), used.tolist(), past.tolist(), strict=True):
        if number in damaged or number in leading:
            continue
        if chance >= DUE_CHANCE:
            over.append((chance, number))
        elif share >= NEAR_SHARE:
            near.append((share, number, chance))
    others = sorted(damaged - set(leading))
    lines = trouble_lines(current)
    lines += [f"damaged: {listing([str(n) for n in others], 12)}"] if others else []
    if over:
        told = [str(number) for _, number in sorted(over, reverse=True)]
        lines.append(f"past its limit, more likely than not: {listing(told, 12)}")
    lines += look_at_lines(to_look_at(site, fit)) if fit is not None else _events_since(site)
    if near:
        told = [
            f"{n} ({percent_text(share)} used, {chance_text(c)} past it)" for share, n, c in sorted(near, reverse=True)
        ]
        lines.append(f"near: {listing(told, 2)}")
    lines += _unseen(site, current)
    lines += doubted_lines(site, outlook)
    lead = f"{len(damaged | set(leading))} damaged, {len(over)} past the limit, {len(near)} near it"
    return Answer(question="On the wheel now", lead=lead, lines=tuple(lines), presses=bool(damaged or leading or over))


def _events_since(site: Site) -> list[str]:
    """Events on record since the last inspection, which nobody has looked at the wheel for."""
    last = site.inspections[-1].driven_m if site.inspections else 0.0
    kinds: dict[str, list[str]] = {}
    for event in site.events:
        if event.driven_m > last + 1e-6 and event.kind != ACCEPTANCE:
            kinds.setdefault(plain(event.kind), []).append(chainage_text(event.chainage_m))
    return [f"since the last look: {kind} at {listing(at, 3)}" for kind, at in kinds.items()]


def _unseen(site: Site, current: Mapping[int, Life]) -> list[str]:
    """Places not read at the last stop. Not read is not unworn."""
    if not site.inspections:
        return ["no inspection is recorded yet"]
    last = site.inspections[-1]
    seen = {each.position for each in last.measurements if each.not_read is None}
    changed = {each.position for each in last.fittings}
    missing = [number for number in current if number not in seen | changed]
    return [f"not read at the last stop: {plural(len(missing), 'place')}; not read is not unworn"] if missing else []


def next_stop(site: Site, plan: Plan, calendar: Calendar) -> Answer:
    """Where and when, what for, and what passing it costs."""
    if not plan.keeps_rules or not plan.stops:
        why = (plan.why_impossible.sentence,) if plan.why_impossible else ()
        return Answer(question="Next stop", lead=plan.headline, lines=why, presses=not plan.keeps_rules)
    stop = plan.stops[0]
    lines = [
        f"{chainage_text(stop.chainage_m)} (ring {stop.ring}), {plain(stop.window)}, {mode_words(stop)}",
        f"{tools_in_places(stop)}, {plural(stop.entries, 'entry', 'entries')}, {count_text(stop.hours)} h, "
        f"{money_text(stop.cost, site.currency)}",
        *passed_lines(site, plan, calendar)[:1],
    ]
    return Answer(
        question="Next stop", lead=reach_words(stop_reaches(plan, calendar)[0]), lines=tuple(lines), presses=True
    )


def passed_lines(site: Site, plan: Plan, calendar: Calendar) -> list[str]:
    """What going on past the first stop means, window by window."""
    lines = []
    for step in plan.deferral:
        if step.ahead_m <= 0:
            continue
        money = f", {money_text(abs(step.extra_cost), site.currency)} {'less' if step.extra_cost < 0 else 'more'}"
        money = "" if step.told_cost is None else money
        breaks = ", breaks a rule" if step.breaks else ""
        lines.append(
            f"if passed: {plain(step.window)} {short_reach(calendar.reach(step.driven_m))}, "
            f"{chance_text(step.over_limit_probability)} a tool past its limit{money}{breaks}"
        )
    return lines


def passed_short(site: Site, plan: Plan, calendar: Calendar) -> list[str]:
    """The same in a line each, for a narrow column."""
    return [
        f"{plain(step.window)} in {plural(calendar.reach(step.driven_m).rings, 'ring')}: "
        f"{chance_text(step.over_limit_probability)} past a limit"
        + ("" if step.told_cost is None else f", {'+' if step.extra_cost >= 0 else '-'}")
        + ("" if step.told_cost is None else money_text(abs(step.extra_cost), site.currency))
        + (", breaks a rule" if step.breaks else "")
        for step in plan.deferral
        if step.ahead_m > 0
    ]


def order_now(demand: Demand) -> Answer:
    """What to get before the next look at the store."""
    get = [action for action in demand.actions if action.gets_tools]
    sure = [action for action in get if action.sure]
    lead = listing([f"{a.what} {a.quantity} {plain(a.tool_type)}" for a in sure], 4)
    if not lead:
        lead = "nothing for certain" if get else "nothing"
    lines = []
    if [action for action in get if not action.sure]:
        told = [f"{a.what} {a.quantity} {plain(a.tool_type)}" for a in get if not a.sure]
        lines.append(f"borderline: {listing(told, 4)}")
    asks = [f"{a.what} {a.quantity} {plain(a.tool_type)}" for a in demand.actions if not a.gets_tools]
    if asks:
        lines.append(f"ask: {listing(asks, 4)}")
    late = [action for action in get if action.late]
    if late:
        lines.append(f"{plural(len(late), 'line')} too late for the ordinary way")
    lines += list(demand.warnings)
    return Answer(question="Order now", lead=lead, lines=tuple(lines), presses=bool(sure or demand.warnings))


@dataclass(frozen=True, slots=True, kw_only=True)
class Before:
    """What stood at an earlier look or forecast, as far as it was noted."""

    when: str
    what: str
    """Such as ``your last look``."""
    face_m: float
    rings: int | None = None
    inspections: int | None = None
    stop_m: float | None = None
    """Where the first stop was proposed."""
    places: tuple[int, ...] | None = None
    """What was to be changed there."""
    cost: float | None = None
    same: bool = False
    """The folder is the very same."""
    more: Sequence[str] = ()


def changed(
    site: Site, plan: Plan | None, face_m: float, before: Before | None, demand: Demand | None = None
) -> Answer:
    """What moved since then; of what the store is to do, since the last forecast kept, with its cause."""
    moved = demand.moved if demand is not None else ()
    if before is None:
        lead = "orders, since the forecast kept" if moved else "first look: nothing to compare with"
        return Answer(question="Changed", lead=lead, lines=moved)
    question = f"Changed since {before.what} {before.when}"
    if before.same:
        return Answer(question=question, lead="nothing but the day" if moved else "nothing", lines=moved)
    parts = []
    if face_m - before.face_m >= 0.5:
        parts.append(f"{count_text(face_m - before.face_m)} m driven")
    for now, then, one in (
        (len(site.rings), before.rings, "ring"),
        (len(site.inspections), before.inspections, "inspection"),
    ):
        if then is not None and now != then:
            parts.append(f"{plural(abs(now - then), one)} {'more' if now > then else 'fewer'}")
    lines = list(_stop_moved(site, plan, before))
    return Answer(question=question, lead=", ".join(parts) or "other files", lines=(*lines, *before.more, *moved))


def _stop_moved(site: Site, plan: Plan | None, before: Before) -> list[str]:
    if plan is None or not plan.stops:
        return []
    stop, lines = plan.stops[0], []
    if before.stop_m is not None and abs(stop.driven_m - before.stop_m) > 0.05:
        then = chainage_text(site.drive.chainage_m(before.stop_m))
        passed = (
            " (that place is passed)"
            if before.stop_m < plan.stops[0].driven_m and before.stop_m < before.face_m
            else ""
        )
        lines.append(f"stop 1: {then} to {chainage_text(stop.chainage_m)}{passed}")
    if before.places is not None:
        now = {position for change in stop.changes for position in change.positions}
        gone, come = sorted(set(before.places) - now), sorted(now - set(before.places))
        words = [
            f"{word} {listing([str(n) for n in numbers], 6)}"
            for word, numbers in (("out", gone), ("in", come))
            if numbers
        ]
        if words:
            lines.append(f"to change there: {'; '.join(words)}")
    if before.cost is not None and plan.expected_cost is not None and round(plan.expected_cost - before.cost):
        change = plan.expected_cost - before.cost
        lines.append(f"cost to the end {money_text(abs(change), site.currency)} {'more' if change > 0 else 'less'}")
    return lines
