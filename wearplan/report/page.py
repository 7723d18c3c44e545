"""One page for the meeting: self-contained, no script, nothing fetched, the same numbers as the terminal."""

from __future__ import annotations

import html
from collections.abc import Sequence
from datetime import datetime

import numpy as np

from wearplan import __version__
from wearplan.report.answers import Answers
from wearplan.report.demand_tables import demand_tables
from wearplan.report.drawings import drive_svg, fan_svg, past_limit_svg, rates_svg, stock_svg, wheel_svg
from wearplan.report.plan_tables import plan_tables
from wearplan.report.plan_text import caution_lines, headline
from wearplan.report.table import Table
from wearplan.report.tables import backtest_table, faults_table, outlook_table, rates_tables

NOTICE = (
    "Planning estimate. Not a safety decision; not an entry permit. Entries are decided under the law in force, the "
    "site's approved procedure and by licensed people."
)

STYLE = """
:root { color-scheme: light; }
body {
  font: 16px/1.45 system-ui, sans-serif; color: #1a1a1a; background: #fff;
  margin: 0 auto; max-width: 62rem; padding: 1rem;
}
h1 { font-size: 1.6rem; margin: .2rem 0; }
h2 { font-size: 1.25rem; margin: 2rem 0 .5rem; border-bottom: 2px solid #1a1a1a; }
h3 { font-size: 1.05rem; margin: 1.2rem 0 .3rem; }
.notice { border: 3px solid #d55e00; padding: .6rem .8rem; font-weight: 600; }
.meta, .note { color: #444; font-size: .85rem; overflow-wrap: anywhere; }
.lead { font-size: 1.1rem; }
.wide { overflow-x: auto; }
table { border-collapse: collapse; font-size: .85rem; margin: .6rem 0; min-width: 60%; }
caption { text-align: left; font-weight: 600; padding: .3rem 0; }
th, td { border-bottom: 1px solid #bbb; padding: .2rem .5rem; text-align: left; vertical-align: top; }
th { background: #f0f0f0; } td.n, th.n { text-align: right; white-space: nowrap; }
svg { width: 100%; height: auto; } figure { margin: .8rem 0; } figcaption { font-size: .85rem; color: #444; }
ul.cautions li { margin: .25rem 0; }
@media print {
  body { max-width: none; padding: 0; font-size: 10pt; } h2 { break-after: avoid; }
  figure, tr, .notice { break-inside: avoid; } section.leaf { break-before: page; } .wide { overflow: visible; }
  thead { display: table-header-group; }
}
"""


def page_html(answers: Answers, *, made_at: datetime | None = None) -> str:
    """The whole page.

    Parameters
    ----------
    answers : Answers
    made_at : datetime, optional
        When it is made; now by default.

    Returns
    -------
    str
        HTML without any address outside itself.
    """
    site = answers.site
    made = (made_at or datetime.now().astimezone()).strftime("%Y-%m-%d %H:%M %Z")
    invented = '<p class="notice">Invented data: this drive does not exist.</p>' if site.invented else ""
    body = [
        f"<header><h1>{_e(site.name)}: tools and stops</h1>{invented}",
        f'<p class="notice">{NOTICE}</p>',
        f'<p class="meta">wearplan {__version__}, made {made}; inputs sha256 {_e(site.inputs_sha256)}</p></header>',
        "<main>",
        _answer(answers),
        _section("The wheel now", _figure(wheel_svg(answers.outlook), _WHEEL), leaf=True),
        _section("Wear ahead", _ahead(answers)),
        _plan(answers),
        _section("What the ground costs", _rates(answers), leaf=True),
        _store(answers),
        _section("How sure this is", _quality(answers), leaf=True),
        "</main>",
    ]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_e(site.name)}: tools and stops</title><style>{STYLE}</style></head>\n<body>"
        + "\n".join(part for part in body if part)
        + "</body></html>\n"
    )


_WHEEL = (
    "Seen from the machine. A mark fills from below as the tool wears towards its limit: blue below four fifths, "
    "yellow from there, orange with a heavy edge past it. Round: discs. Square: other tools."
)


def _answer(answers: Answers) -> str:
    if answers.plan is None:
        return ""
    lines = headline(answers.plan, answers.site)
    told = "".join(f'<p class="lead">{_e(line)}</p>' for line in lines)
    picture = _figure(drive_svg(answers.site, answers.plan, answers.outlook.face_m), "Stops are numbered in order.")
    return _section("The answer", told + picture)


def _ahead(answers: Answers) -> str:
    outlook = answers.outlook
    over = outlook.over_limit_probability(outlook.end_m)
    past_now = np.median(outlook.wear_now_mm, axis=0) / outlook.limit_mm
    worst = np.argsort(-(past_now + over))[:4]
    parts = [_figure(past_limit_svg(outlook), "Middle line and the range of nine draws in ten.")]
    parts += [
        _figure(fan_svg(outlook, int(outlook.numbers[i])), f"Place {int(outlook.numbers[i])} if its tool is left.")
        for i in worst
    ]
    return "".join(parts) + outlook_table(outlook).html()


def _plan(answers: Answers) -> str:
    plan = answers.plan
    if plan is None:
        return ""
    tables = _tables(plan_tables(plan, answers.site))
    cautions = []
    for stop, lines in caution_lines(plan):
        cautions.append(
            f'<h3>{_e(stop)}</h3><ul class="cautions">' + "".join(f"<li>{_e(line)}</li>" for line in lines) + "</ul>"
        )
    model = [f'<h3>What the gap belongs to</h3><p class="note">{_e(plan.gap_belongs_to)}</p>']
    model.append(f"<p>In the exact model: {_e('; '.join(plan.model_holds))}.</p>")
    if plan.met_by_repair:
        model.append(f"<p>Met by repair afterwards: {_e('; '.join(plan.met_by_repair))}.</p>")
    inner = tables + "".join(cautions) + "".join(model)
    return _section("The plan, with its reasons and cautions", inner, leaf=True)


def _rates(answers: Answers) -> str:
    kinds = dict.fromkeys(rate.kind for rate in answers.fit.rates)
    pictures = [(kind, rates_svg(answers.fit, kind)) for kind in kinds]
    figures = "".join(_figure(drawn, f"{kind}: middle value and 90 % range.") for kind, drawn in pictures if drawn)
    return figures + _tables(rates_tables(answers.fit))


def _store(answers: Answers) -> str:
    demand = answers.demand
    if demand is None:
        return ""
    lines = "".join(
        _figure(stock_svg(shelf), f"{shelf.tool_type}; below the dashed line tools are missing.")
        for shelf in demand.stock_lines
        if min(shelf.p05) < shelf.p50[0]
    )
    return _section("The store", _tables(demand_tables(demand)) + lines, leaf=True)


def _quality(answers: Answers) -> str:
    site = answers.site
    parts = []
    if answers.backtest and answers.backtest.methods:
        parts.append(backtest_table(answers.backtest).html())
    if answers.ring_notes:
        notes = "".join(f"<li>{_e(note)}</li>" for note in answers.ring_notes)
        parts.append(f"<h3>What was mended in the ring log</h3><ul>{notes}</ul>")
    if site.faults:
        parts.append(faults_table(site.faults[:60]).html())
    else:
        parts.append("<p>No faults were found in the folder.</p>")
    return "".join(parts)


def _tables(tables: Sequence[Table]) -> str:
    return "".join(table.html() for table in tables if table.rows)


def _figure(drawn: str, caption: str) -> str:
    return f"<figure>{drawn}<figcaption>{_e(caption)}</figcaption></figure>" if drawn else ""


def _section(title: str, inner: str, *, leaf: bool = False) -> str:
    kind = ' class="leaf"' if leaf else ""
    return f"<section{kind}><h2>{_e(title)}</h2>{inner}</section>"


def _e(words: str) -> str:
    return html.escape(words)
