"""site.toml: the drive and its pace."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from pydantic import ValidationError

from wearplan.site.forms.model import made, model_of, table_of
from wearplan.site.parse.document import Document, parse
from wearplan.site.parse.faults import ALL, NOTHING
from wearplan.site.parse.text import shown
from wearplan.site.records import ChainageEquation, Drive, Pace
from wearplan.site.records.clock import zone_of
from wearplan.site.records.site import FORMAT, SiteHead


def format_refused(data: dict[str, Any]) -> str | None:
    """Why a folder of this format cannot be read, before anything else in it is looked at."""
    version = data.get("format")
    if isinstance(version, int) and not isinstance(version, bool) and version > FORMAT:
        return (
            f"this folder has format {shown(version)}; this program reads format {FORMAT}: "
            "use a newer wearplan, nothing of the folder was read"
        )
    return None


def read_site(doc: Document) -> tuple[SiteHead | None, Drive | None]:
    """The head of the site, None where it cannot be told, and the drive for itself, to check other files by.

    Every fault here forbids all.
    """
    parsed = parse(doc, model_of(SiteHead), lambda loc: ALL)
    if parsed is None:
        return None, _drive_alone(doc)
    model = parsed.model
    drive = _drive(parsed.model.drive, parsed.model.chainage_equation, parsed.fault, doc)
    if drive is None:
        return None, None
    zone = model.time_zone
    try:
        zone_of(zone or "UTC")
    except ValueError as error:
        parsed.fault(("time_zone",), f"{shown(zone)} {error}; it is left out", code="time-zone", forbids=NOTHING)
        zone = None
    pace = made(Pace, model.pace, holidays=tuple(sorted(set(model.pace.holidays))))
    return made(SiteHead, model, drive=drive, pace=pace, time_zone=zone), drive


def _drive_alone(doc: Document) -> Drive | None:
    """The drive of a file that is wrong elsewhere; what is wrong with it has been named."""
    try:
        table = table_of(Drive).model_validate(doc.data.get("drive"))
        jumps = [table_of(ChainageEquation).model_validate(item) for item in doc.data.get("chainage_equation", [])]
    except (ValidationError, TypeError):
        return None
    return _drive(table, jumps, doc.fault, doc)


def _drive(table: Any, jumps: Sequence[Any], fault: Callable[..., None], doc: Document) -> Drive | None:
    if table.start_chainage_m == table.end_chainage_m:
        fault(("drive", "end_chainage_m"), "the drive has no length: start and end are the same", code="no-length")
        return None
    equations = tuple(
        made(ChainageEquation, item, origin=doc.origin("chainage_equation", index)) for index, item in enumerate(jumps)
    )
    drive = made(Drive, table, equations=equations)
    at = table.start_chainage_m
    for index, equation in enumerate(equations):
        if (equation.back_m - at) * drive.sign <= 0:
            fault(
                ("chainage_equation", index, "back_m"),
                f"{equation.back_m:.3f} m is not reached after {at:.3f} m on this drive: list the equations in the "
                "order of the drive and within it",
                code="equation-order",
            )
            return None
        at = equation.ahead_m
    if (table.end_chainage_m - at) * drive.sign <= 0:
        fault(
            ("drive", "end_chainage_m"),
            f"the end is not reached after the last chainage equation, which goes on from {at:.3f} m",
            code="equation-order",
        )
        return None
    if drive.length_m < table.ring_length_m:
        fault(("drive", "ring_length_m"), "the drive is shorter than one ring", code="no-length")
        return None
    return drive
