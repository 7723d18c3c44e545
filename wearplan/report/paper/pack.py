"""The work pack of the next stop: what to do there, what to bring, what was not seen, where to pause, what to sign.

It asks who has read the plan and when. That is no approval; the lines of those who approve stay blank.
"""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from wearplan.plan import PLANNING_ESTIMATE
from wearplan.plan.answers.lasts import last_sentence
from wearplan.report.approval import NOT_APPROVED
from wearplan.report.paper.chamber import sheet_csv, sheet_html, sheet_markdown, sheet_rows
from wearplan.report.paper.style import PAPER
from wearplan.report.plan_text import WHOLE, caution_lines, stop_cautions
from wearplan.report.tables.pack import bring_table, schedule_table, tools_table, unseen_table
from wearplan.report.tables.plan import deferral_table
from wearplan.report.tables.table import Table
from wearplan.report.unseen import rings_of
from wearplan.report.words import chainage_text, count_text, marked, money_text, plain, plural
from wearplan.site.write.outputs import write_output

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.plan import Plan, ReadBy, Stop
    from wearplan.site.records import Site
    from wearplan.wear import Outlook

HOLD_POINTS = (
    "Face stability at this place confirmed by the engineer responsible",
    "Work under pressure: pressure, people and procedure set by those licensed for it (free air: not applicable)",
    "Wheel drive isolated and locked out; key with the person in charge",
    "Gas test and ventilation; light; rescue and communication proved",
    "Air-loss test where the face is held by air",
    "Tools and parts counted in",
    "First look at the face and at every place that can be reached, before any tool is loosened",
    "Tools and parts counted out; nobody in the chamber; isolation lifted by the one who set it",
    "Restart at low load; fastenings checked again",
)
"""Order of common practice, no published source; the site's procedure takes precedence."""
APPROVE = (
    "Superintendent",
    "Engineer responsible for face stability",
    "Person in charge of work in compressed air",
    "Medical adviser informed",
    "Safety",
)
NOTHING: Mapping[int, Life] = MappingProxyType({})
HANDED_OVER = ("Done", "Not done", "Not seen", "Damage found", "Parts left inside", "Open risks", "Next entry")


class _Markdown:
    """Parts as Markdown."""

    @staticmethod
    def heading(level: int, words: str, *, leaf: bool = False) -> str:
        return f"\n{'#' * level} {marked(words)}\n"

    @staticmethod
    def notice(words: str) -> str:
        return f"**{marked(words)}**\n"

    @staticmethod
    def bullets(items: Sequence[str], *, care: bool = False) -> str:
        return "\n".join(f"- {marked(item)}" for item in items) + "\n"

    @staticmethod
    def table(table: Table) -> str:
        return table.markdown()

    @staticmethod
    def blanks(heads: Sequence[str], first: Sequence[str]) -> str:
        lines = [f"| {' | '.join(heads)} |", f"|{' --- |' * len(heads)}"]
        lines += [f"| {marked(words)} |{'  |' * (len(heads) - 1)}" for words in first]
        return "\n".join(lines) + "\n"


class _Html:
    """Parts as HTML to print."""

    @staticmethod
    def heading(level: int, words: str, *, leaf: bool = False) -> str:
        kind = ' style="break-before: page"' if leaf else ""
        return f"<h{level}{kind}>{_e(words)}</h{level}>"

    @staticmethod
    def notice(words: str) -> str:
        return f'<p class="notice">{_e(words)}</p>'

    @staticmethod
    def bullets(items: Sequence[str], *, care: bool = False) -> str:
        kind = ' class="care"' if care else ""
        return f"<ul{kind}>" + "".join(f"<li>{_e(item)}</li>" for item in items) + "</ul>"

    @staticmethod
    def table(table: Table) -> str:
        return table.html()

    @staticmethod
    def blanks(heads: Sequence[str], first: Sequence[str]) -> str:
        top = "".join(f'<th scope="col">{_e(head)}</th>' for head in heads)
        rest = "<td></td>" * (len(heads) - 1)
        body = "".join(f"<tr><td>{_e(words)}</td>{rest}</tr>" for words in first)
        return f'<table class="blank"><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>'


def pack_markdown(site: Site, plan: Plan, stop: Stop, read_by: ReadBy, current: Mapping[int, Life] = NOTHING) -> str:
    """The pack as Markdown."""
    return "\n".join(_parts(site, plan, stop, read_by, current, _Markdown())).lstrip("\n")


def pack_html(site: Site, plan: Plan, stop: Stop, read_by: ReadBy, current: Mapping[int, Life] = NOTHING) -> str:
    """The pack as one page to print."""
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_e(site.name)}: work pack</title><style>{PAPER}</style></head><body><main>"
        + "\n".join(_parts(site, plan, stop, read_by, current, _Html()))
        + "</main></body></html>\n"
    )


def pack_cautions(plan: Plan, stop: Stop) -> list[str]:
    """Every caution of the stop, then those of the plan that belong to no stop."""
    whole = [line for head, lines in caution_lines(plan) if head == WHOLE for line in lines]
    return [*stop_cautions(stop), *whole]


def _parts(
    site: Site, plan: Plan, stop: Stop, read_by: ReadBy, current: Mapping[int, Life], out: _Markdown | _Html
) -> list[str]:
    parts = [out.heading(1, f"{site.name}: work pack for the stop at {chainage_text(stop.chainage_m)}")]
    if site.invented:
        parts.append(out.notice("Invented data: this drive does not exist."))
    if not plan.keeps_rules:
        why = f" {plan.why_impossible.sentence}" if plan.why_impossible else ""
        parts.append(out.notice(f"This plan does not keep the rules of the site.{why}"))
    return [
        *parts,
        out.notice(PLANNING_ESTIMATE.text),
        out.heading(2, "The stop"),
        out.bullets(_facts(site, plan, stop, read_by)),
        out.heading(2, "Cautions"),
        out.bullets(pack_cautions(plan, stop), care=True),
        out.heading(2, "Tools", leaf=True),
        out.table(tools_table(stop, current, print_out=True)),
        out.table(bring_table(stop, site)),
        out.heading(2, "Why, place by place"),
        out.bullets([change.sentence for change in stop.changes] or ["No change is planned here: a look."]),
        *_going_on(site, plan, stop, out),
        *([out.heading(2, "What was assumed or left out"), out.bullets(plan.remarks)] if plan.remarks else ()),
        out.heading(2, "Places not seen at the last stop"),
        out.table(unseen_table(stop, rings_of(site))) if stop.not_seen_since else out.bullets(["None."]),
        out.heading(2, "Hours, by the site's own steps"),
        out.table(schedule_table(stop)),
        out.heading(2, "Hold points", leaf=True),
        out.blanks(("hold point", "done: initials", "time"), HOLD_POINTS),
        out.heading(2, "To be approved by"),
        out.blanks(("function", "name", "signature", "date, time"), APPROVE),
        out.heading(2, "Handed over"),
        out.blanks(("what", "notes"), HANDED_OVER),
    ]


def _going_on(site: Site, plan: Plan, stop: Stop, out: _Markdown | _Html) -> list[str]:
    """What it costs to pass this stop, and the last places to stop; nothing where the plan was made without."""
    lasts = [last_sentence(last) for last in plan.last_stops]
    if stop is not plan.stops[0] or not (plan.deferral or lasts):
        return []
    parts = [out.heading(2, "Going on instead")]
    if plan.deferral:
        parts.append(out.table(deferral_table(plan, site)))
    return [*parts, out.bullets(lasts)] if lasts else parts


def _facts(site: Site, plan: Plan, stop: Stop, read_by: ReadBy) -> list[str]:
    under = stop.mode != "free air"
    pressure = f"{stop.mode}, {stop.pressure_bar:.2f} bar (gauge)" if under else "free air"
    source = stop.pressure_source or f"none recorded: {NOT_APPROVED}"
    facts = [
        f"Where: {chainage_text(stop.chainage_m)}, ring {stop.ring}, {stop.window} ({stop.kind})",
        f"Mode in the plan: {pressure}" + (f"; source of the pressure: {source}" if under else ""),
        f"About: {stop.date or 'no date, since the site gives no pace'}",
        f"Standstill {count_text(stop.hours)} h; {plural(stop.entries, 'entry', 'entries')}; "
        f"{count_text(stop.person_hours)} person-hours in the chamber, "
        f"{count_text(stop.person_hours_under_pressure)} of them under pressure",
        f"Cost {money_text(stop.cost, site.currency)}; the plan: {plan.headline}",
        stop.reason,
    ]
    if stop.last_before:
        facts.append(stop.last_before)
    if stop.entry_row:
        facts.append(f"Row of the site's procedure used for hours and entries: {stop.entry_row}")
    facts.append(f"Read by {plain(read_by.name)}, {read_by.at:%Y-%m-%d %H:%M %Z}. This is no approval.")
    return [fact for fact in facts if fact]


def write_pack(
    site: Site, outlook: Outlook, plan: Plan, current: Mapping[int, Life], folder: Path, *, read_by: ReadBy
) -> list[Path]:
    """Write the pack of the plan's first stop: pack (Markdown, HTML), tools and blind sheet (CSV, HTML, Markdown).

    Raises
    ------
    ValueError
        Where the plan has no stop.
    OSError
        Where the folder cannot be written.
    """
    if not plan.stops:
        raise ValueError("the plan has no stop to write a pack for")
    stop = plan.stops[0]
    rows = sheet_rows(site, current, face_m=outlook.face_m)
    files = {
        "pack.md": pack_markdown(site, plan, stop, read_by, current),
        "pack.html": pack_html(site, plan, stop, read_by, current),
        "tools.csv": tools_table(stop, current).csv(),
        "bring.csv": bring_table(stop, site).csv(),
        "sheet.csv": sheet_csv(rows),
        "sheet.md": sheet_markdown(site, rows),
        "sheet.html": sheet_html(site, rows),
    }
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in files.items():
        path = folder / name
        write_output(path, text)
        written.append(path)
    return written


def _e(words: str) -> str:
    return html.escape(plain(words))
