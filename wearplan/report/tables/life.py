"""The life of a tool or a place as text, with every record it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from wearplan.report.tables.table import Column, Table
from wearplan.report.words import chainage_text

if TYPE_CHECKING:
    from wearplan.history import Account
    from wearplan.history.tell import Line

OTHERS = "Records of this place that belong to no life"


def life_tables(account: Account) -> list[Table]:
    """One table a life, and one of the records of a place that belong to none."""
    tables = [_table(chapter.heading, chapter.lines, chapter.remarks) for chapter in account.chapters]
    if account.others:
        tables.append(_table(OTHERS, account.others, ()))
    return tables


def _table(heading: str, lines: Sequence[Line], remarks: tuple[str, ...]) -> Table:
    return Table(
        title=heading,
        columns=(
            Column(key="chainage", head="chainage"),
            Column(key="ring", head="ring", form="id", spare=2),
            Column(key="date", head="date", spare=3),
            Column(key="position", head="place", form="id", spare=1),
            Column(key="path_km", head="path km", form="fixed1"),
            Column(key="what", head="record"),
            Column(key="text", head="says", wrap=True),
            Column(key="file", head="written in", spare=4),
        ),
        rows=tuple(
            (
                chainage_text(line.chainage_m),
                line.ring,
                line.at.date() if line.at else None,
                line.position,
                line.path_km,
                line.what,
                line.text,
                _written_in(line) or "",
            )
            for line in lines
        ),
        notes=remarks,
    )


def _written_in(line: Line) -> str | None:
    return f"{line.origin.file}:{line.origin.line}" if line.origin.file else None


def life_body(account: Account) -> dict[str, Any]:
    """``chapters[]`` of ``{heading, lines[], remarks[]}``, ``others[]`` as lines, ``rests_on[]`` as ``file:line``."""
    return {
        "title": account.title,
        "serial": account.serial,
        "position": account.position,
        "chapters": [
            {
                "heading": chapter.heading,
                "lines": [_line(line) for line in chapter.lines],
                "remarks": chapter.remarks,
            }
            for chapter in account.chapters
        ],
        "others": [_line(line) for line in account.others],
        "rests_on": [f"{origin.file}:{origin.line}" for origin in account.rests_on],
    }


def _line(line: Line) -> dict[str, Any]:
    return {
        "chainage_m": line.chainage_m,
        "ring": line.ring,
        "at": line.at,
        "position": line.position,
        "record": line.what,
        "text": line.text,
        "inspection_id": line.inspection_id,
        "path_km": line.path_km,
        "wear_mm": line.wear_mm,
        "written_in": _written_in(line),
    }
