"""The meeting sheet: two sides of A4 that carry the four answers, the cautions in full once, and what to sign."""

from __future__ import annotations

import html
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from wearplan.plan import PLANNING_ESTIMATE
from wearplan.report.answers import Answers
from wearplan.report.approval import approval_words
from wearplan.report.cautions import Lettered, lettered_cautions
from wearplan.report.drawing.drive import drive_svg
from wearplan.report.drawing.stop import changes_svg, shelf_svg, span_svg
from wearplan.report.four import (
    Answer,
    Before,
    changed,
    mode_words,
    next_stop,
    on_wheel,
    order_now,
    tools_in_places,
)
from wearplan.report.paper.style import MEETING
from wearplan.report.reaches import short_reach, stop_reaches
from wearplan.report.unseen import unseen_words
from wearplan.report.words import chainage_text, chance_text, count_text, held, money_text, plain, plural

if TYPE_CHECKING:
    from wearplan.history import Calendar, Life
    from wearplan.plan import Plan, Stop
    from wearplan.site.records import Site

MOST_STOPS, MOST_CHANGES, MOST_ORDERS, MOST_PASSED, MOST_SHELVES = 8, 14, 7, 4, 12
"""What two sides hold; what is more is named and stands in the annex."""
PHONE_PIECES = 3
ANNEX = "the annex (wearplan report)"
TOTAL = "The total counts late or damaged tools and the life used up besides the stops."


def meeting_html(
    answers: Answers,
    *,
    current: Mapping[int, Life],
    calendar: Calendar,
    before: Before | None = None,
    made_at: datetime | None = None,
) -> str:
    """The sheet.

    Parameters
    ----------
    current : mapping of int to Life
        The tool in each place now.
    calendar : Calendar
        From a place of the drive to hours and dates.
    before : Before, optional
        What stood when the last forecast was kept.

    Returns
    -------
    str
        HTML without any address outside itself.
    """
    site, plan = answers.site, answers.plan
    made = (made_at or datetime.now().astimezone()).strftime("%Y-%m-%d %H:%M")
    face = chainage_text(site.drive.chainage_m(answers.outlook.face_m))
    ring = f"ring {site.rings[-1].ring}, " if site.rings else ""
    title = f"{plain(site.name)}: {ring}face {face}"
    invented = "Invented data: this drive does not exist. " if site.invented else ""
    boxes = [on_wheel(site, answers.outlook, current, answers.fit)]
    boxes += [next_stop(site, plan, calendar)] if plan else [_missing(site, "plan", "Next stop")]
    boxes += [order_now(answers.demand)] if answers.demand else [_missing(site, "demand", "Order now")]
    boxes.append(changed(site, plan, answers.outlook.face_m, before, answers.demand))
    lettered = lettered_cautions(plan) if plan and plan.stops else None
    meta = [
        f"made {made}", f"inputs {site.inputs_sha256[:12]}", _last_look(site, answers.outlook.face_m), _faults(site),
        *_counted_from(site),
    ]  # fmt: skip
    parts = [
        f"<header><h1>{_e(title)}</h1><p class=meta>{_e(' · '.join(meta))}</p>",
        f"<p class=notice>{_e(invented + PLANNING_ESTIMATE.text)}</p></header>",
        f"<main><section class=boxes aria-label='The four answers'>{''.join(map(_box, boxes))}</section>",
        _ground(answers),
        _stops(plan, calendar, lettered, site.currency) if plan else "",
        _cautions(plan, lettered) if plan else "",
        _second(answers, plan.stops[0], calendar) if plan and plan.stops else "",
        _store(answers),
        f"{_sign(plan)}</main>",
    ]
    head = (
        "<meta charset=utf-8><meta name=viewport content='width=device-width, initial-scale=1'>"
        f"<title>{_e(title)}</title><style>{MEETING}</style>"
    )
    body = "\n".join(part for part in parts if part)
    return f"<!doctype html>\n<html lang=en><head>{head}</head>\n<body>{body}</body></html>\n"


def _missing(site: Site, answer: str, question: str) -> Answer:
    faults = site.forbidding(answer)
    return Answer(question=question, lead="not given", lines=(str(faults[0]),) if faults else ())


def _box(answer: Answer) -> str:
    lines = "".join(f"<li>{_e(line)}</li>" for line in answer.lines)
    kind = "box press" if answer.presses else "box"
    return (
        f"<div class='{kind}'><h2>{_e(answer.question)}</h2><p class=lead>{_e(answer.lead)}</p><ul>{lines}</ul></div>"
    )


def _last_look(site: Site, face_m: float) -> str:
    if not site.inspections:
        return "no inspection is recorded"
    last = site.inspections[-1]
    return f"last inspection {chainage_text(last.chainage_m)}, {count_text(max(0.0, face_m - last.driven_m))} m back"


def _counted_from(site: Site) -> list[str]:
    """From when hours and dates ahead are counted: the log may be older than the sheet."""
    logged = [row.finished_at for row in site.rings if row.finished_at is not None]
    return [f"times ahead count from the last ring row, {max(logged):%Y-%m-%d %H:%M}"] if logged else []


def _faults(site: Site) -> str:
    return plural(len(site.faults), "fault") + " of the folder" if site.faults else "no fault of the folder"


def _ground(answers: Answers) -> str:
    """The strip once for paper and screen, and in pieces for a phone, so that neither has to be shifted."""
    site, face, end = answers.site, answers.outlook.face_m, answers.site.drive.length_m
    start = max(0.0, face - 0.04 * (end - face))
    wide = drive_svg(site, answers.plan, face, width=760, from_m=start)
    step = (end - start) / PHONE_PIECES
    pieces = "".join(
        drive_svg(
            site, answers.plan, face, width=360, from_m=start + k * step, to_m=start + (k + 1) * step, name=f"p{k}",
            legend=k == PHONE_PIECES - 1,
        )
        for k in range(PHONE_PIECES)
    )  # fmt: skip
    drawn = f"<div class=broad>{wide}</div><div class=phone>{pieces}</div>"
    return f"<section><h2>Ground and stops ahead</h2>{drawn}</section>"


def _stops(plan: Plan, calendar: Calendar, lettered: Lettered | None, currency: str) -> str:
    if lettered is None:
        return f"<section><h2>Stops</h2><p>{_e(plan.headline)}.</p></section>"
    rows = []
    for number, (stop, reach) in enumerate(zip(plan.stops, stop_reaches(plan, calendar), strict=True), start=1):
        if number > MOST_STOPS:
            break
        own = "; ".join(lettered.own[number - 1])
        sign = "○" if stop.mode == "free air" else "●"
        source = f"; {approval_words(stop.pressure_source)}" if stop.pressure_source else ""
        at = f"<b>{_e(chainage_text(stop.chainage_m))}</b>"
        alone = f" {_e(own)}" if own else ""
        rows.append(
            [
                f"<b>{number}</b>", f"{at}<br>ring {stop.ring}", _lines(short_reach(reach)), _e(stop.window),
                _e(f"{sign} {mode_words(stop)}{source}"), _lines(tools_in_places(stop)),
                f"{stop.entries}, {_e(count_text(stop.hours))}", _e(count_text(stop.cost)),
                f"<b>{lettered.letters[number - 1]}</b>{alone}",
            ]
        )  # fmt: skip
    more = len(plan.stops) - len(rows)
    total = f"{plural(len(plan.stops), 'stop')}, {money_text(plan.expected_cost, currency)} to the end of the drive"
    hours = count_text(plan.person_hours_under_pressure)
    pressed = f"{plural(plan.entries_under_pressure, 'entry', 'entries')} and {hours} person-hours under pressure"
    rest = f" {plural(more, 'more stop')} in {ANNEX}." if more else ""
    note = f"{total}: {plan.headline}; {pressed}. {TOTAL}{rest}"
    heads = ("#", "at", "off", "window", "mode, bar gauge, approval", "tools", "entries, h", "cost", "cautions")
    return (
        "<section class=stops>"
        + _table("Stops", heads, rows, numbers=(7,), kept=(1, 2, 5, 6, 7))
        + f"<p class=note>{_e(note)}</p></section>"
    )


def _cautions(plan: Plan, lettered: Lettered | None) -> str:
    groups = [(f"{g.letter}: {g.head.lower()}", g.lines) for g in lettered.groups] if lettered else []
    if lettered is None:
        groups = [("For the whole plan", tuple(caution.text for caution in plan.cautions))]
    told = "".join(
        f"<h3>{_e(head)}</h3><ul>" + "".join(f"<li>{_e(line)}</li>" for line in lines) + "</ul>"
        for head, lines in groups
    )
    return f"<section class=cautions><h2>Cautions, in full</h2><div class=columns>{told}</div></section>"


def _second(answers: Answers, stop: Stop, calendar: Calendar) -> str:
    site, plan = answers.site, answers.plan
    assert plan is not None
    shown = stop.changes[:MOST_CHANGES]
    rows = [
        [
            f"<b>{_e(', '.join(map(str, change.positions)))}</b>", _e(change.action), _e(change.tool_type),
            _e(f"{count_text(change.wear_mm.p50, 1)} of {count_text(change.limit_mm, 1)}"),
            span_svg(change), f"<b>{_e(chance_text(change.over_limit_probability_if_left))}</b>",
        ]
        for change in shown
    ]  # fmt: skip
    more = len(stop.changes) - len(shown)
    passed = _passed(site, plan, calendar)
    unseen = unseen_words(stop, site)
    where = f"Stop 1, {chainage_text(stop.chainage_m)}, {stop.window}, {mode_words(stop)}: what to change"
    table = _table("Changes", _CHANGE_HEADS, rows, numbers=(5,), kept=(0, 1, 2, 3, 5))
    wheel = f"{changes_svg(answers.outlook, stop)}<p class=note>{WHEEL}</p>"
    note = f"<p class=note>{BANDS}{f' {more} more in {ANNEX}.' if more > 0 else ''}</p>"
    last = (
        f"<p class=unseen><b>Not seen at the last stop:</b> {_e(unseen)}. Not read is not unworn.</p>" if unseen else ""
    )
    return (
        f"<section class=second><h2>{_e(where)}</h2><div class=pair><div>{wheel}</div>"
        f"<div>{table}{note}</div></div>{passed}{last}</section>"
    )


WHEEL = (
    "Seen from the machine. Black: more likely than not past its limit before the next stop if left. "
    "White: less likely. Grey: stays; the fuller, the more worn."
)
BANDS = (
    "Bands: wear expected at the stop, thin nine in ten, thick half, notch the middle; dashed the limit. "
    "*Chance of passing the limit before the next stop."
)
_CHANGE_HEADS = ("place", "do", "put on", "mm then", "against the limit", "if left*")


def _passed(site: Site, plan: Plan, calendar: Calendar) -> str:
    rows = [
        [
            _e(step.window), _lines(short_reach(calendar.reach(step.driven_m))),
            _e("—" if step.told_cost is None else f"{step.told_cost:+,.0f}".replace(",", " ")),
            _e(chance_text(step.over_limit_probability)), _e(chance_text(step.over_damage_probability)),
            _e("; ".join(step.breaks)),
        ]
        for step in plan.deferral if step.ahead_m > 0
    ][:MOST_PASSED]  # fmt: skip
    heads = ("next window", "off", site.currency, "over a limit", "over damage", "breaks")
    return _table("If stop 1 is passed", heads, rows, numbers=(2, 3, 4), kept=(1, 2, 3, 4)) if rows else ""


def _store(answers: Answers) -> str:
    demand = answers.demand
    if demand is None:
        return ""
    actions = [*demand.actions, *(action for action in demand.orders if action.later)]
    rows = [
        [
            f"<b>{_e(action.what)}</b>", f"<b>{action.quantity}</b>", _e(action.tool_type),
            "<b>now</b>" if action.now else _e(str(action.order_by)), _e(str(action.needed_by or "—")),
            _e(str(action.comes or "—")) + (" <b>late</b>" if action.late else ""), _e(count_text(action.cost)),
            "sure" if action.sure else "borderline",
        ]
        for action in actions[:MOST_ORDERS]
    ]  # fmt: skip
    more = len(actions) - len(rows)
    heads = ("do", "tools", "type", "by", "first wanted", "comes", demand.currency, "standing")
    told = "".join(f"<li>{_e(sentence)}</li>" for sentence in demand.warnings)
    lines = [line for line in demand.stock_lines if line.dates][:MOST_SHELVES]
    charts = "".join(
        f"<figure><figcaption>{_e(line.tool_type)}</figcaption>{shelf_svg(line)}</figure>" for line in lines
    )
    span = f"{lines[0].dates[0]} to {lines[0].dates[-1]}" if lines else ""
    return (
        "<section>" + _table("Store: what to do by when", heads, rows, numbers=(1, 6), kept=(3, 4, 5, 6))
        + (f"<p class=note>{_e(plural(more, 'more line'))} in {ANNEX}.</p>" if more > 0 else "")
        + (f"<ul class=warn>{told}</ul>" if told else "")
        + (f"<h2>Store if nothing more is ordered</h2><div class=shelves>{charts}</div><p class=note>Grey: nine in "
        "ten. Line: "
           f"the middle. Below the dashed line tools are missing. {_e(span)}.</p>" if charts else "")
        + "</section>"
    )  # fmt: skip


def _sign(plan: Plan | None) -> str:
    head = "Stop 1: yes / no / other window" if plan and plan.stops else "Decided"
    cells = "".join(f"<th scope=col>{_e(word)}</th>" for word in ("Read by, at", head, "Name, signature"))
    return (
        "<section class=sign><h2>Read and decided</h2><table><caption class=hide>Lines to sign</caption><thead><tr>"
        f"{cells}"
        "</tr></thead><tbody><tr><td>&nbsp;</td><td>&nbsp;</td><td>&nbsp;</td></tr></tbody></table></section>"
    )


def _lines(words: str) -> str:
    """Short words on lines that break where they have a comma or an ``in``."""
    return _e(words).replace(", ", ",<br>").replace(" in ", "<br>in ")


def _table(
    caption: str,
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    *,
    numbers: Sequence[int] = (),
    kept: Sequence[int] = (),
) -> str:
    """A table of cells that are HTML already; on a phone its rows become blocks; ``kept`` columns do not break."""
    kinds = [" ".join(w for w, where in (("n", numbers), ("k", kept)) if i in where) for i in range(len(heads))]
    named = [f" class='{kind}'" if kind else "" for kind in kinds]
    top = "".join(f"<th scope=col role=columnheader{named[i]}>{_e(head)}</th>" for i, head in enumerate(heads))
    body = "".join(
        "<tr role=row>"
        + "".join(f"<td role=cell data-head='{_e(heads[i])}'{named[i]}>{cell}</td>" for i, cell in enumerate(row))
        + "</tr>"
        for row in rows
    )
    return (
        f"<table role=table class=stack><caption>{_e(caption)}</caption><thead role=rowgroup><tr role=row>{top}</tr>"
        "</thead>"
        f"<tbody role=rowgroup>{body}</tbody></table>"
    )


def _e(words: str) -> str:
    return html.escape(held(plain(words)), quote=True)
