"""What was known at a point of the past, for backtests."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime

from wearplan.history.lives import in_order
from wearplan.site.records import Inspection, RingRow, Site

_STAMP = re.compile(r"^(\d{8}T\d{4,6})Z?(?:-|$)")


def written_at(inspection: Inspection) -> datetime:
    """When a record was written: by the time in its id, else when the stop ended. Times without a zone count as UTC."""
    match = _STAMP.match(inspection.id)
    if match:
        text = match[1]
        try:
            return datetime.strptime(text, "%Y%m%dT%H%M" if len(text) == 13 else "%Y%m%dT%H%M%S").replace(tzinfo=UTC)
        except ValueError:
            pass
    at = inspection.ended_at or inspection.started_at
    return at if at.tzinfo else at.replace(tzinfo=UTC)


def as_of(site: Site, at: str | float, on: date | None = None) -> Site:
    """The site as it was known when an inspection was done, or when the face had come so far.

    Readings, rings, sensor words and events up to there; the ground known on that date (none, if none was). A record
    that was corrected later stands as it was first written.

    Parameters
    ----------
    at
        Id of an inspection, or driven metres.
    on
        The date; by default that of the inspection, or of the last one up to there.

    Raises
    ------
    KeyError
        If there is no inspection of that id.
    """
    driven_m, upto = _upto(in_order((*site.inspections, *site.corrected)), at)
    here = upto[-1] if upto else None
    if on is None and here is not None:
        on = (here.ended_at or here.started_at).date()
    known = _standing(upto, here, on)
    last = max((inspection.ring for inspection in known), default=0)

    def driven(row: RingRow) -> bool:
        return row.end_m <= driven_m + 1e-3 if row.end_m is not None else row.ring <= last

    return replace(
        site,
        inspections=tuple(known),
        corrected=(),
        rings=tuple(row for row in site.rings if driven(row)),
        sensor_words=tuple(word for word in site.sensor_words if word.driven_m <= driven_m + 1e-6),
        events=tuple(event for event in site.events if event.driven_m <= driven_m + 1e-6),
        grounds=tuple(ground for ground in site.grounds if on is None or ground.known_on <= on),
    )


def _upto(everything: Sequence[Inspection], at: str | float) -> tuple[float, list[Inspection]]:
    """Where the face was, and the inspections written until then, the one asked for last."""
    if isinstance(at, str):
        ids = [inspection.id for inspection in everything]
        if at not in ids:
            raise KeyError(at)
        here = ids.index(at)
        return everything[here].driven_m, list(everything[: here + 1])
    driven_m = float(at)
    return driven_m, [inspection for inspection in everything if inspection.driven_m <= driven_m + 1e-6]


def _standing(upto: list[Inspection], here: Inspection | None, on: date | None) -> list[Inspection]:
    """Those written by then that nothing written by then had replaced."""
    if on is not None:
        written = [each for each in upto if each is here or written_at(each).date() <= on or each.corrects is None]
    else:
        written = upto
    replaced = {each.corrects for each in written if each.corrects}
    return [each for each in written if each.id not in replaced and not each.withdraws]
