"""The fleet on one page: self-contained, no script, nothing fetched, the same numbers as the terminal."""

from __future__ import annotations

import html
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from wearplan import __version__
from wearplan.plan import PLANNING_ESTIMATE
from wearplan.report.paper.style import PAGE
from wearplan.report.tables.fleet import fleet_rates_tables, fleet_table, fleet_types_table
from wearplan.report.words import held, plain

if TYPE_CHECKING:
    from wearplan.fleet.rates import FleetRates
    from wearplan.fleet.records import Fleet
    from wearplan.fleet.types import FleetTypes


def fleet_html(
    fleet: Fleet, rates: FleetRates | None = None, types: FleetTypes | None = None, *, made_at: datetime | None = None
) -> str:
    """The whole page.

    Parameters
    ----------
    made_at : datetime, optional
        When it is made; now by default.

    Returns
    -------
    str
        HTML without any address outside itself.
    """
    made = (made_at or datetime.now().astimezone()).strftime("%Y-%m-%d %H:%M %Z")
    title = f"The fleet on {fleet.asked.day}: {len(fleet.lines)} drives"
    body = f"<h2>What needs a person first</h2>{_list(fleet.first) or '<p>Nothing was found that presses.</p>'}"
    body += f"<h2>Every drive</h2>{fleet_table(fleet).html()}"
    if rates is not None:
        body += "<h2>Rates</h2>" + "".join(table.html() for table in fleet_rates_tables(rates))
    if types is not None and (types.types or types.remarks):
        body += f"<h2>Types of tools</h2>{fleet_types_table(types).html()}"
    inputs = "".join(
        f"<li>{_e(line.name)}: inputs sha256 {_e(line.inputs_sha256 or 'not read')}</li>" for line in fleet.lines
    )
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{_e(title)}</title><style>{PAGE}</style></head>\n<body><header><h1>{_e(title)}</h1>"
        f'<p class="notice">{_e(PLANNING_ESTIMATE.text)}</p>'
        f'<p class="meta">wearplan {__version__}, made {_e(made)}</p></header>\n<main>{body}'
        f'<h2>What this rests on</h2><ul class="meta">{inputs}</ul></main></body></html>\n'
    )


def _list(lines: Sequence[str]) -> str:
    return f"<ul>{''.join(f'<li>{_e(line)}</li>' for line in lines)}</ul>" if lines else ""


def _e(words: str) -> str:
    return html.escape(held(plain(words)))
