"""What the screen of the stops says of a plan: its head, the changes of a stop with their bands, the windows ahead."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wearplan.plan.ahead.here import NOT_PLANNED
from wearplan.report.approval import CAUTION, NOT_APPROVED
from wearplan.report.drawing.profile import Span, span_sheet
from wearplan.report.four import mode_words, tools_in_places
from wearplan.report.reaches import reach_words, stop_reaches
from wearplan.report.tables.plan import changes_table
from wearplan.report.tables.table import Column, Table
from wearplan.report.words import money_text, plain
from wearplan.tui import wishes as wish
from wearplan.tui.display import Display
from wearplan.tui.state import Snapshot, why_missing

if TYPE_CHECKING:
    from wearplan.plan import Change, Plan, Stop
    from wearplan.site.records import Site


def head_lines(snapshot: Snapshot, plan: Plan, site: Site, display: Display) -> list[str]:
    """The answer, the wishes and what they cost."""
    working = snapshot.jobs["plan"].state == "working"
    first = working and snapshot.plan_is_first and snapshot.wishes is not None
    before = "(first numbers) " if first else "(before the present wish) " if working else ""
    lines = [f" {before}{plan.headline}"]
    if plan.expected_cost is not None:
        nearest = "what comes nearest costs " if not plan.keeps_rules else ""
        lines[0] += f"; {nearest}{money_text(plan.expected_cost, site.currency)}"
    lines[0] += f"; {wish.tally(plan)}."
    lines = [*first_stop_lines(snapshot, plan, display), *lines]
    if not plan.keeps_rules and plan.why_impossible is not None:
        lines.append(f" {display.words(plain(plan.why_impossible.sentence))}")
    if snapshot.wishes is None and plan.wishes.asks:
        words = "; ".join(wish.wishes_words(plan.wishes, site, display))
        lines.append(f" Kept in the folder: {words}.  U lets go.")
    if snapshot.wishes is not None:
        words = "; ".join(wish.wishes_words(snapshot.wishes, site, display))
        lines.append(f" Wished: {words}.  U lets go.")
        if working:
            lines.append(f" {why_missing(snapshot, 'plan')}  Ctrl+X takes the best so far.")
        lines += [f" {display.words(plain(said))}" for said in plan.remarks if said.startswith(NOT_PLANNED)]
        if (first or not working) and not snapshot.wishes.standing:
            lines.append(f" {wish.against_free(plan, snapshot.free_plan, site)}")
    elif working:
        lines.append(f" {why_missing(snapshot, 'plan')}")
    return lines


def first_stop_lines(snapshot: Snapshot, plan: Plan, display: Display) -> list[str]:
    """The next stop: how far off, where, how it is entered, how many tools."""
    calendar = snapshot.history.calendar if snapshot.history else None
    if not plan.stops or calendar is None:
        return []
    stop = plan.stops[0]
    where = f"{display.chainage(stop.chainage_m)} {plain(stop.window)}, {display.words(mode_words(stop))}"
    return [f" Stop {reach_words(stop_reaches(plan, calendar)[0])}: {where}, {tools_in_places(stop)}"]


def shown_changes(stop: Stop, *, plain_signs: bool) -> Table:
    """The changes of a stop with their band drawn against the limit; the sentence is read below the table."""
    table = changes_table(stop)
    spans = [
        Span(quantiles=tuple(value or 0.0 for value in _five(change)), limit=change.limit_mm) for change in stop.changes
    ]
    drawn = span_sheet(spans, width=26, plain=plain_signs).lines() if spans else []
    kept = [index for index, column in enumerate(table.columns) if column.key != "sentence"]
    columns = [table.columns[index] for index in kept]
    at = next(index for index, column in enumerate(columns) if column.key == "wear_mm") + 1
    head = f"against the limit {':' if plain_signs else '┊'}"
    columns.insert(at, Column(key="band", head=head, spare=6))
    rows = []
    for row, line in zip(table.rows, drawn, strict=True):
        cells = [row[index] for index in kept]
        cells.insert(at, line)
        rows.append(tuple(cells))
    return replace(table, columns=tuple(columns), rows=tuple(rows))


def _five(change: Change) -> tuple[float | None, ...]:
    wear = change.wear_mm
    return wear.p05, wear.p25, wear.p50, wear.p75, wear.p95


def windows_table(site: Site, snapshot: Snapshot) -> Table:
    """Every window ahead, whether it can be used and what is wished of it."""
    face_m = snapshot.history.face_m if snapshot.history else 0.0
    wishes, plan = snapshot.wishes, snapshot.plan
    unusable = {window.window: window.why for window in plan.unusable} if plan else {}
    stops = {stop.window for stop in plan.stops} if plan else set()
    rows = []
    for window in site.stops.windows if site.stops else ():
        if window.to_m < face_m:
            continue
        wished = ""
        if wishes is not None:
            wished = (
                "stop"
                if window.name in wishes.forced_windows
                else "not"
                if window.name in wishes.forbidden_windows
                else ""
            )
        state = "cannot be used" if window.name in unusable else "stop proposed" if window.name in stops else ""
        rows.append(
            (
                window.name,
                Display().chainage(window.from_chainage_m),
                Display().chainage(window.to_chainage_m),
                window.kind,
                window.mode,
                window.pressure_bar,
                window.pressure_source or NOT_APPROVED,
                state,
                wished,
                unusable.get(window.name, ""),
            )
        )
    return Table(
        title="Windows ahead",
        columns=(
            Column(key="window", head="window"),
            Column(key="from", head="from"),
            Column(key="to", head="to", spare=3),
            Column(key="kind", head="kind", spare=4),
            Column(key="mode", head="mode"),
            Column(key="pressure_bar", head="bar", form="fixed1"),
            Column(key="source", head="pressure from", spare=2),
            Column(key="state", head="in the plan"),
            Column(key="wished", head="wished"),
            Column(key="why", head="why not", wrap=True),
        ),
        rows=tuple(rows),
        caution=CAUTION,
    )
