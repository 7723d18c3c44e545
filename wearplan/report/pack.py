"""The work pack of the next stop: what to do there, what to bring, what was not seen, where to pause, what to sign.

It asks who has read the plan and when. That is no approval; the lines of those who approve stay blank.
"""

from __future__ import annotations

import html
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from wearplan.plan import PLANNING_ESTIMATE
from wearplan.report.plan_text import WHOLE, caution_lines, stop_cautions
from wearplan.report.sheet import sheet_csv, sheet_html, sheet_markdown, sheet_rows
from wearplan.report.table import Column, Table
from wearplan.report.tables import band
from wearplan.report.words import chainage_text, count_text, money_text, plain

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


def tools_table(stop: Stop) -> Table:
    """Every tool to change, with place, type, wear, reason and where the old one goes."""
    return Table(
        title="Tools to change",
        columns=(
            Column(key="places", head="place"),
            Column(key="action", head="action"),
            Column(key="tool_type", head="put on"),
            Column(key="fitted", head="as"),
            Column(key="from_place", head="from"),
            Column(key="wear_mm", head="wear expected mm", form="fixed1"),
            Column(key="limit_mm", head="limit mm", form="fixed1"),
            Column(key="old_to", head="old goes to"),
            Column(key="why", head="why", wrap=True),
        ),
        rows=tuple(
            (
                ", ".join(map(str, change.positions)),
                change.action,
                change.tool_type,
                change.fitted,
                change.from_position,
                band(change.wear_mm),
                change.limit_mm,
                change.destination,
                change.sentence,
            )
            for change in stop.changes
        ),
    )


def bring_table(stop: Stop) -> Table:
    """Tools to have at the lock, by type."""
    counts: dict[tuple[str, str], int] = {}
    for change in stop.changes:
        if change.action == "change":
            key = (change.tool_type, change.fitted)
            counts[key] = counts.get(key, 0) + len(change.positions)
    return Table(
        title="Tools to bring",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="fitted", head="new, rebuilt or part-worn"),
            Column(key="edges", head="edges", form="int"),
        ),
        rows=tuple((*key, count) for key, count in sorted(counts.items())),
        notes=(
            "Counted by cutting edge: a twin disc is two. Bring a spare of each type beyond this.",
            "Lifting gear, torque tools, gauges, lights and fastenings by the site's own list.",
        ),
    )


def pack_markdown(site: Site, plan: Plan, stop: Stop, read_by: ReadBy) -> str:
    """The pack as Markdown."""
    return "\n".join(_parts(site, plan, stop, read_by, lambda table: table.markdown(), _md_heading, _md_list))


def pack_html(site: Site, plan: Plan, stop: Stop, read_by: ReadBy) -> str:
    """The pack as one page to print."""
    parts = _parts(site, plan, stop, read_by, lambda table: table.html(), _html_heading, _html_list)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{html.escape(site.name)}: work pack</title><style>{_STYLE}</style></head><body>"
        + "\n".join(parts)
        + "</body></html>\n"
    )


def _parts(site, plan, stop, read_by, table, heading, bullets):  # type: ignore[no-untyped-def]
    at = chainage_text(stop.chainage_m)
    pressure = "free air" if stop.mode == "free air" else f"{stop.mode}, {stop.pressure_bar:.2f} bar (gauge)"
    source = stop.pressure_source or "not approved, planning only"
    facts = [
        f"Where: {at}, ring {stop.ring}, {stop.window} ({stop.kind})",
        f"Mode in the plan: {pressure}; source of the pressure: {source}",
        f"About: {stop.date or 'no date: no pace'}",
        f"Standstill {count_text(stop.hours)} h; {stop.entries} entries; {count_text(stop.person_hours)} person-hours, "
        f"{count_text(stop.person_hours_under_pressure)} of them under pressure",
        f"Cost {money_text(stop.cost, site.currency)}; {plan.headline}",
        f"Read by {plain(read_by.name)}, {read_by.at:%Y-%m-%d %H:%M}. This is no approval.",
    ]
    if stop.entry_row:
        facts.append(f"Procedure used for hours and entries: {stop.entry_row}")
    schedule = [f"{step}: {hours:g} h" for step, hours in stop.schedule]
    unseen = [
        f"place {position}: {'never read' if chainage is None else 'last read at ' + chainage_text(chainage)}"
        for position, chainage, _ in stop.not_seen_since
    ]
    whole = [line for head, lines in caution_lines(plan) if head == WHOLE for line in lines]
    cautions = [*stop_cautions(stop), *whole]
    parts = [heading(1, f"{site.name}: work pack for the stop at {at}")]
    if site.invented:
        parts.append(bullets(["Invented data: this drive does not exist."]))
    parts += [
        bullets([PLANNING_ESTIMATE]),
        heading(2, "The stop"),
        bullets(facts),
        bullets([stop.reason]),
        heading(2, "Cautions"),
        bullets(cautions),
        heading(2, "Tools"),
        table(tools_table(stop)),
        table(bring_table(stop)),
        heading(2, "Places not seen at the last stop"),
        bullets(unseen or ["none"]),
        heading(2, "Hours, by the site's own steps"),
        bullets(schedule),
        heading(2, "Hold points (initials and time)"),
        bullets([f"{point}: ____________" for point in HOLD_POINTS]),
        heading(2, "To be approved by"),
        bullets([f"{who}: name ____________ signature ____________ date ______" for who in APPROVE]),
        heading(2, "Handed over"),
        bullets(
            [f"{what}: ____________" for what in ("done", "not done", "not seen", "damage", "parts left", "open risks")]
        ),
    ]
    return parts


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
        "pack.md": pack_markdown(site, plan, stop, read_by),
        "pack.html": pack_html(site, plan, stop, read_by),
        "tools.csv": tools_table(stop).csv(),
        "bring.csv": bring_table(stop).csv(),
        "sheet.csv": sheet_csv(rows),
        "sheet.md": sheet_markdown(site, rows),
        "sheet.html": sheet_html(site, rows),
    }
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, text in files.items():
        path = folder / name
        path.write_text(text, encoding="utf-8")
        written.append(path)
    return written


def _md_heading(level: int, words: str) -> str:
    return f"\n{'#' * level} {plain(words)}\n"


def _md_list(items: list[str]) -> str:
    return "\n".join(f"- {plain(item)}" for item in items) + "\n"


def _html_heading(level: int, words: str) -> str:
    return f"<h{level}>{html.escape(plain(words))}</h{level}>"


def _html_list(items: list[str]) -> str:
    return "<ul>" + "".join(f"<li>{html.escape(plain(item))}</li>" for item in items) + "</ul>"


_STYLE = """
body { font: 10.5pt sans-serif; margin: 10mm; max-width: 190mm; } h1 { font-size: 15pt; } h2 { font-size: 12pt; }
table { border-collapse: collapse; margin: 2mm 0; } caption { text-align: left; font-weight: bold; }
th, td { border: 1px solid #000; padding: 1mm 2mm; text-align: left; vertical-align: top; } td.n { text-align: right; }
h2 { break-after: avoid; } tr, li { break-inside: avoid; } thead { display: table-header-group; }
@page { size: A4; margin: 12mm; }
"""
