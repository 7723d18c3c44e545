"""The sheet to take into the chamber: places in walking order, what was last read, empty boxes.

Blind by default: an expected value on the sheet would steer the reading.
"""

from __future__ import annotations

import csv
import html
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wearplan.plan import PLANNING_ESTIMATE
from wearplan.report.approval import NOT_APPROVED
from wearplan.report.tables.table import harmless
from wearplan.report.words import chainage_text, marked, plain
from wearplan.site.sheets.columns import SHEET_COLUMNS, SheetColumn

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.site.records import Position, Site
    from wearplan.wear import Outlook

BY_HAND = ("wear_mm", "condition", "action", "reason", "new_serial", "note")
"""Boxes on the printed sheet; the CSV has them all."""
HEAD_ROWS = ("ring", "chainage_m", "started_at", "ended_at", "mode", "pressure_bar", "entries", "method", "measured_by")
HOW = (
    "An empty box means NOT READ. A number is wear in mm, radial, as found before anything is changed. <1: nothing "
    "to be seen below 1 mm. >25: past what can be measured. 9/10.5/9: several points round a ring."
)

CARE = f"{PLANNING_ESTIMATE.text} Mode and pressure are {NOT_APPROVED}, unless the site's own document is named here."


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRow:
    """What the sheet gives for one place."""

    position: Position
    tool_type: str
    limit_mm: float
    serial: str | None
    last_wear: str
    last_chainage: str
    expected: str = ""

    def given(self) -> dict[str, str]:
        place = self.position
        return {
            "place": str(place.number),
            "arm": place.arm or "",
            "radius_mm": f"{place.track_radius_mm:g}",
            "zone": place.zone,
            "tool_type": self.tool_type,
            "serial": self.serial or "",
            "last_wear_mm": self.last_wear,
            "last_chainage": self.last_chainage,
            "limit_mm": f"{self.limit_mm:g}",
            "expected_mm": self.expected,
        }


def walking_order(positions: Sequence[Position], *, by: str = "arm") -> list[Position]:
    """Places by arm and then radius, or by radius alone; places without an arm come last."""
    if by == "radius":
        return sorted(positions, key=lambda place: (place.track_radius_mm, place.number))
    return sorted(positions, key=lambda p: (p.arm is None, p.arm or "", p.track_radius_mm, p.number))


def sheet_rows(
    site: Site,
    current: Mapping[int, Life],
    *,
    face_m: float,
    order: str = "arm",
    outlook: Outlook | None = None,
    only: Sequence[int] = (),
) -> list[SheetRow]:
    """One row a place that is on the wheel at the face.

    Parameters
    ----------
    current : mapping of int to Life
        The tool in each place now.
    outlook : Outlook, optional
        Given only when expected values are wanted on the sheet.
    only : sequence of int
        These places alone.
    """
    from wearplan.history import fitted_layout

    layout = fitted_layout(site, current.values(), face_m)
    expected: dict[int, str] = {}
    if outlook is not None:
        for tool in outlook.tools():
            wear = tool.wear_now_mm
            expected[tool.position] = f"{wear.p50:.1f} ({wear.p05:.1f}-{wear.p95:.1f})"
    rows = []
    for place in walking_order(layout.positions, by=order):
        if only and place.number not in only:
            continue
        index = layout.index(place.number)
        life = current.get(place.number)
        read, where = _last(site, life)
        rows.append(
            SheetRow(
                position=place,
                tool_type=layout.tool_types[index],
                limit_mm=float(layout.limit_mm[index]),
                serial=life.serial if life else None,
                last_wear=read,
                last_chainage=where,
                expected=expected.get(place.number, ""),
            )
        )
    return rows


def _last(site: Site, life: Life | None) -> tuple[str, str]:
    reading = life.last_reading if life else None
    if life is not None and reading is not None and reading.source == "sensor silence":
        # what was measured at the same stop says more than that the sensor was still whole after it
        here = [r for r in life.readings if r.driven_m == reading.driven_m and r.source != "sensor silence"]
        reading = here[-1] if here else reading
    if life is None or reading is None:
        return "", "never" if life is None or life.from_m == 0 else f"new at {_at(site, life.from_m)}"
    if reading.below_mm is not None:
        value = f"<{reading.below_mm:g}"
    elif reading.above_mm is not None:
        value = f">{reading.above_mm:g}"
    else:
        value = f"{reading.wear_mm:g}" if reading.wear_mm is not None else ""
    return value, _at(site, reading.driven_m)


def _at(site: Site, driven_m: float) -> str:
    return chainage_text(site.drive.chainage_m(driven_m))


def sheet_csv(rows: Sequence[SheetRow]) -> str:
    """The sheet to fill at a desk; `wearplan log` reads it back. The stop's own facts go into the rows above."""
    expected = any(row.expected for row in rows)
    columns = [column for column in SHEET_COLUMNS if column.key != "expected_mm" or expected]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([key, ""] for key in HEAD_ROWS)
    # a column without a word in it: what was filled in is read back as before
    writer.writerow([*(column.key for column in columns), CARE])
    for row in rows:
        given = row.given()
        writer.writerow([*(harmless(given.get(column.key, "")) for column in columns), ""])
    return out.getvalue()


def sheet_markdown(site: Site, rows: Sequence[SheetRow]) -> str:
    """The sheet as a Markdown table."""
    columns = _printed(rows)
    lines = [f"# {marked(site.name)}: inspection sheet", "", f"**{marked(CARE)}**", "", HOW, ""]
    lines.append("| " + " | ".join(column.head for column in columns) + " |")
    lines.append("|" + " --- |" * len(columns))
    for row in rows:
        given = row.given()
        lines.append("| " + " | ".join("" if c.asked else marked(given.get(c.key, "")) for c in columns) + " |")
    return "\n".join(lines) + "\n"


def sheet_html(site: Site, rows: Sequence[SheetRow]) -> str:
    """The sheet to print: large boxes, head repeated on each page."""
    columns = _printed(rows)
    heads = "".join(f'<th scope="col">{html.escape(column.head)}</th>' for column in columns)
    body, arm = [], object()
    for row in rows:
        given = row.given()
        if row.position.arm != arm:
            arm = row.position.arm
            if arm:
                named = f'<th scope="rowgroup" colspan="{len(columns)}">arm {html.escape(plain(arm))}</th>'
                body.append(f'<tr class="arm">{named}</tr>')
        cells = "".join(
            '<td class="box"></td>'
            if column.asked
            else f'<td class="given">{html.escape(plain(given.get(column.key, "")))}</td>'
            for column in columns
        )
        body.append(f"<tr>{cells}</tr>")
    head_boxes = "".join(
        f'<p class="line">{words}: <span></span></p>'
        for words in (
            "ring / chainage",
            "date and shift",
            "mode and pressure (bar, gauge), and the document that approves them",
            "read by",
            "gauge",
        )
    )
    invented = "<p><strong>Invented data: this drive does not exist.</strong></p>" if site.invented else ""
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>{html.escape(plain(site.name))}: inspection sheet</title><style>{_STYLE}</style></head>"
        f"<body><main><h1>{html.escape(plain(site.name))}: inspection sheet</h1>{invented}"
        f"<p><strong>{html.escape(CARE)}</strong></p>"
        f'<div class="lines">{head_boxes}</div><p>{html.escape(HOW)}</p>'
        f"<table><thead><tr>{heads}</tr></thead><tbody>{''.join(body)}</tbody></table>"
        "<p>Tools and parts counted in: ______ counted out: ______ by: ____________</p></main></body></html>\n"
    )


def _printed(rows: Sequence[SheetRow]) -> list[SheetColumn]:
    expected = any(row.expected for row in rows)
    arms = any(row.position.arm for row in rows)
    return [
        column
        for column in SHEET_COLUMNS
        if (column.key in BY_HAND if column.asked else True)
        and (column.key != "expected_mm" or expected)
        and (column.key != "arm" or arms)
    ]


_STYLE = """
body { font: 10pt sans-serif; margin: 8mm; } h1 { font-size: 14pt; margin: 0 0 3mm; }
table { border-collapse: collapse; width: 100%; }
th, td { border: 1px solid #000; padding: 1mm 1.5mm; text-align: left; }
td.box { min-width: 15mm; height: 8mm; }
td.given { color: #333; white-space: nowrap; font-size: 8.5pt; } tr.arm th { background: #ddd; }
.lines { display: flex; flex-wrap: wrap; gap: 2mm 6mm; }
.line span { display: inline-block; min-width: 35mm; border-bottom: 1px solid #000; }
thead { display: table-header-group; } tr { break-inside: avoid; } @page { size: A4 landscape; margin: 10mm; }
"""
