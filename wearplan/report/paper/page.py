"""One page for the meeting: self-contained, no script, nothing fetched, the same numbers as the terminal."""

from __future__ import annotations

import html
from collections.abc import Sequence
from datetime import datetime

import numpy as np

from wearplan import __version__
from wearplan.plan import PLANNING_ESTIMATE
from wearplan.report.answers import Answers
from wearplan.report.drawing.drive import drive_svg
from wearplan.report.drawing.pictures import fan_svg, past_limit_svg, rates_svg, stock_svg, wheel_svg
from wearplan.report.paper.methods import links_html, methods_html
from wearplan.report.paper.style import PAGE
from wearplan.report.plan_text import caution_lines, headline, one_total, plan_notes
from wearplan.report.tables.demand import demand_tables, first_words
from wearplan.report.tables.plan import (
    changes_table,
    comparison_table,
    deferral_table,
    exposure_table,
    later_changes_table,
    stops_table,
    tradeoff_table,
    unusable_table,
)
from wearplan.report.tables.table import Table
from wearplan.report.tables.wear import backtest_table, faults_table, outlook_table, rates_tables
from wearplan.report.words import held, plain

NOTICE = PLANNING_ESTIMATE.text
MOST_FAULTS = 60
MOST_FANS = 6


def page_html(answers: Answers, *, made_at: datetime | None = None) -> str:
    """The whole page: the answer and its cautions first, what they rest on after.

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
    title = f"{site.name}: tools and stops"
    sections = [
        ("answer", "The answer", _answer(answers), False),
        ("cautions", "Cautions", _cautions(answers), False),
        ("stops", "Stops, and what to change next", _stops(answers), False),
        ("go-on", "If we go on, and other ways", _others(answers), False),
        ("store", "The store", _store(answers), True),
        ("wheel", "The wheel now", _figure(wheel_svg(answers.outlook), _WHEEL, kind="broad wheel"), True),
        ("ahead", "Wear ahead", _ahead(answers), False),
        ("rates", "What the ground costs", _rates(answers), True),
        ("sure", "How sure this is", _quality(answers), False),
        ("reasons", "Every later change and its reason", _reasons(answers), True),
        ("methods", "How the numbers are worked out", methods_html(), False),
    ]
    there = [entry for entry in sections if entry[2]]
    links = "".join(f'<li><a href="#{key}">{_e(head)}</a></li>' for key, head, _, _ in there)
    invented = '<p class="notice">Invented data: this drive does not exist.</p>' if site.invented else ""
    head = (
        f"<header><h1>{_e(title)}</h1>{invented}"
        f'<p class="notice">{_e(NOTICE)}</p>'
        f'<p class="meta">wearplan {__version__}, made {_e(made)}; inputs sha256 {_e(site.inputs_sha256)}</p></header>'
        f'<nav aria-label="On this page"><ul>{links}</ul></nav>'
    )
    body = "\n".join(_section(key, words, inner, leaf=leaf) for key, words, inner, leaf in there)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_e(title)}</title><style>{PAGE}</style></head>\n<body>{head}\n<main>{body}</main></body></html>\n"
    )


_WHEEL = (
    "Seen from the machine. A mark fills from below as the tool wears towards its limit: blue below four fifths, "
    "yellow from there, orange with a heavy edge past it. Round: discs. Square: other tools. Marks that would hide "
    "each other are moved apart."
)


def _answer(answers: Answers) -> str:
    if answers.plan is None:
        return "<p>No plan is made: faults of the folder forbid it (see the end of the page).</p>"
    lines = headline(answers.plan, answers.site)
    told = "".join(f'<p class="lead">{_e(line)}</p>' for line in lines[:2])
    told += "".join(f"<p>{_e(line)}</p>" for line in lines[2:])
    first = _first_orders(answers)
    picture = _figure(
        drive_svg(answers.site, answers.plan, answers.outlook.face_m),
        "The drive with its ground by height, windows, keep-outs and the face; proposed stops are numbered in order.",
        kind="broad",
    )
    return told + first + picture


def _first_orders(answers: Answers) -> str:
    demand = answers.demand
    if demand is None:
        return ""
    lines = "".join(f"<li>{_e(sentence)}</li>" for sentence in demand.warnings)
    return f"<p>{_e(first_words(demand))}</p>" + (f"<ul>{lines}</ul>" if lines else "")


def _cautions(answers: Answers) -> str:
    if answers.plan is None:
        return ""
    return "".join(
        f'<h3>{_e(head)}</h3><ul class="care">' + "".join(f"<li>{_e(line)}</li>" for line in lines) + "</ul>"
        for head, lines in caution_lines(answers.plan)
    )


def _stops(answers: Answers) -> str:
    plan = answers.plan
    if plan is None:
        return ""
    tables = [stops_table(plan, answers.site), exposure_table(plan), *[changes_table(stop) for stop in plan.stops[:1]]]
    return _tables([*tables, unusable_table(plan)])


def _others(answers: Answers) -> str:
    plan, site = answers.plan, answers.site
    if plan is None:
        return ""
    tables = _tables([deferral_table(plan, site), tradeoff_table(plan, site), comparison_table(plan, site)])
    said = [one_total(plan, site)] if plan.comparison else []
    notes = "".join(f"<li>{_e(note)}</li>" for note in (*said, *plan_notes(plan, site)))
    return tables + (f"<h3>What the plan rests on</h3><ul>{notes}</ul>" if notes else "")


def _reasons(answers: Answers) -> str:
    later = answers.plan.stops[1:] if answers.plan else ()
    told = (
        "<p>The sentence of every change: <code>wearplan plan --reasons</code>. No reading yet: no last chainage.</p>"
    )
    return told + _tables([later_changes_table(stop) for stop in later]) if later else ""


def _ahead(answers: Answers) -> str:
    outlook = answers.outlook
    over = outlook.over_limit_probability(outlook.end_m)
    past_now = np.median(outlook.wear_now_mm, axis=0) / outlook.limit_mm
    worst = np.argsort(-(past_now + over), kind="stable")[:MOST_FANS]
    parts = [
        _figure(past_limit_svg(outlook), "Tools past their limit: middle line and the range of nine draws in ten.")
    ]
    parts += [
        _figure(fan_svg(outlook, int(outlook.numbers[i])), f"Place {int(outlook.numbers[i])} if its tool is left.")
        for i in worst
    ]
    told = "<p>The tools nearest their limit, if nothing is changed.</p>"
    return told + f'<div class="pair">{"".join(parts)}</div>' + outlook_table(outlook).html()


def _rates(answers: Answers) -> str:
    kinds = dict.fromkeys(rate.kind for rate in answers.fit.rates)
    pictures = [(kind, rates_svg(answers.fit, kind)) for kind in kinds]
    figures = "".join(_figure(drawn, f"{kind}: middle value and 90 % range.") for kind, drawn in pictures if drawn)
    return f'<div class="pair">{figures}</div>' + _tables(rates_tables(answers.fit))


def _store(answers: Answers) -> str:
    demand = answers.demand
    if demand is None:
        return ""
    lines = "".join(
        _figure(stock_svg(shelf), f"{shelf.tool_type}: below the dashed line tools are missing.")
        for shelf in demand.stock_lines
        if min(shelf.p05) < shelf.p50[0]
    )
    first, *rest = demand_tables(demand)
    return first.html() + f'<div class="pair">{lines}</div>' + _tables(rest)


def _quality(answers: Answers) -> str:
    site = answers.site
    parts = []
    if answers.backtest and answers.backtest.methods:
        parts.append(backtest_table(answers.backtest).html())
    if answers.ring_notes:
        notes = "".join(f"<li>{_e(note)}</li>" for note in answers.ring_notes)
        parts.append(f"<h3>What was mended in the ring log</h3><ul>{notes}</ul>")
    if site.faults:
        parts.append(faults_table(site.faults[:MOST_FAULTS]).html())
        if len(site.faults) > MOST_FAULTS:
            parts.append(
                f"<p>{len(site.faults) - MOST_FAULTS} more faults: <code>wearplan check</code> lists them.</p>"
            )
    else:
        parts.append("<p>No faults were found in the folder.</p>")
    return "".join(parts)


def _tables(tables: Sequence[Table]) -> str:
    return "".join(table.html() for table in tables if table.rows)


def _figure(drawn: str, caption: str, *, kind: str = "") -> str:
    # a broad one scrolls on a phone, so the keyboard must reach it
    reach = ' tabindex="0"' if "broad" in kind else ""
    named = f' class="{kind}"{reach}' if kind else ""
    return f"<figure{named}>{drawn}<figcaption>{_e(caption)}</figcaption></figure>" if drawn else ""


def _section(key: str, title: str, inner: str, *, leaf: bool = False) -> str:
    kind = ' class="leaf"' if leaf else ""
    head = f'<h2 id="{key}-h">{_e(title)}</h2>'
    return f'<section{kind} id="{key}" aria-labelledby="{key}-h">{head}{inner}{links_html(key)}</section>'


def _e(words: str) -> str:
    return html.escape(held(plain(words)))
