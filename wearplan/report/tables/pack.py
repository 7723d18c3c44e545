"""The tables of a work pack."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING

from wearplan.report.tables.table import Column, Table
from wearplan.report.tables.wear import band
from wearplan.report.words import chainage_text

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.plan import Change, Stop
    from wearplan.site.records import Site

SPARE_SHARE = 0.1
"""One tool in ten beside those planned, and at least one of each type: common practice, no published source."""

THREE_STEPS = "A disc in three steps: loosen the fastening, pull the worn one, fit and fasten the new one."
"""Common practice, no published source."""


def tools_table(stop: Stop, current: Mapping[int, Life] = MappingProxyType({}), *, print_out: bool = False) -> Table:
    """Every tool to change, with place, type, wear and where the old one goes.

    Parameters
    ----------
    current : mapping of int to Life
        The tools in place now, for their serials.
    print_out : bool
        Boxes for the new serial and for done in place of zone, hours and the sentence of the reason.
    """
    columns: list[Column] = [
        Column(key="places", head="place"),
        Column(key="serial", head="serial now"),
        Column(key="action", head="action"),
        Column(key="tool_type", head="put on"),
        Column(key="fitted", head="as"),
        Column(key="from_place", head="from place", form="id", spare=1),
        Column(key="wear_mm", head="wear expected mm", form="fixed1"),
        Column(key="limit_mm", head="limit mm", form="fixed1"),
        Column(key="old_to", head="old goes to"),
    ]
    if print_out:
        columns += [Column(key="new_serial", head="new serial"), Column(key="done", head="done")]
    else:
        columns += [
            Column(key="zone", head="zone", spare=2),
            Column(key="access", head="reached from", spare=4),
            Column(key="hours", head="hours", form="fixed1", spare=3),
            Column(key="why", head="why", wrap=True),
        ]
    rows = []
    for change in stop.changes:
        row = {
            "places": ", ".join(map(str, change.positions)),
            "serial": _serials(change, current),
            "action": change.action,
            "tool_type": change.tool_type,
            "fitted": change.fitted,
            "from_place": change.from_position,
            "wear_mm": band(change.wear_mm),
            "limit_mm": change.limit_mm,
            "old_to": change.destination,
            "new_serial": "",
            "done": "",
            "zone": change.zone,
            "access": change.access,
            "hours": change.hours,
            "why": change.sentence,
        }
        rows.append(tuple(row[column.key] for column in columns))
    return Table(
        title="Tools to change",
        columns=tuple(columns),
        rows=tuple(rows),
        notes=("What is measured at the stop decides: a tool found past its limit goes, planned or not.", THREE_STEPS),
    )


def _serials(change: Change, current: Mapping[int, Life]) -> str | None:
    lives = [current.get(number) for number in change.positions]
    return ", ".join(dict.fromkeys(life.serial for life in lives if life and life.serial)) or None


def bring_table(stop: Stop, site: Site) -> Table:
    """Tools to have at the lock, by type: those planned, and spares for what is found or breaks."""
    counts: dict[tuple[str, str], int] = {}
    for change in stop.changes:
        if change.from_position is None:
            key = (change.tool_type, change.fitted)
            counts[key] = counts.get(key, 0) + 1
    planned = {code: 0 for code in sorted({change.tool_type for change in stop.changes})}
    for (code, _), count in counts.items():
        planned[code] += count
    shelf = {row.tool_type: row.on_hand for row in site.stores.stock} if site.stores else {}
    rows = []
    for code, total in planned.items():
        spares = max(1, math.ceil(SPARE_SHARE * total))
        here = [f"{count} {fitted}" for (of, fitted), count in sorted(counts.items()) if of == code]
        rows.append((code, total, ", ".join(here) or None, spares, total + spares, shelf.get(code)))
    return Table(
        title="Tools to bring",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="planned", head="planned", form="int"),
            Column(key="of_which", head="of which"),
            Column(key="spares", head="spares", form="int"),
            Column(key="bring", head="bring", form="int"),
            Column(key="on_hand", head="new in the store", form="int"),
        ),
        rows=tuple(rows),
        notes=(
            "Counted by tool: a twin disc is one. Spares: one in ten and at least one of each type, for what is found "
            "or breaks; common practice, the site's own list takes precedence.",
            "Lifting gear, torque tools, gauges, lights, seals and fastenings by the site's own list.",
        ),
    )


def unseen_table(stop: Stop, rings: Mapping[str, int] = MappingProxyType({})) -> Table:
    """Places not seen at the last stop, and since when."""
    return Table(
        title="Look at these first",
        columns=(
            Column(key="position", head="place", form="id"),
            Column(key="last_read", head="last read at"),
            Column(key="ring", head="ring", form="id"),
            Column(key="inspection", head="inspection"),
        ),
        rows=tuple(
            (
                position,
                "never" if chainage is None else chainage_text(chainage),
                rings.get(inspection or ""),
                inspection,
            )
            for position, chainage, inspection in stop.not_seen_since
        ),
    )


def schedule_table(stop: Stop) -> Table:
    """The stop in hours; they add up to the standstill."""
    return Table(
        title="Schedule",
        columns=(
            Column(key="step", head="step"),
            Column(key="hours", head="hours", form="fixed1"),
            Column(key="until", head="done after", form="fixed1"),
        ),
        rows=tuple(
            (step.replace("_", " "), hours, sum(h for _, h in stop.schedule[: number + 1]))
            for number, (step, hours) in enumerate(stop.schedule)
        ),
        notes=("Hours of the site's own rows. Locking out and waiting are for those licensed; none is reckoned here.",),
    )
