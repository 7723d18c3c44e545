"""People's work at the stops counted by mode and by band of pressure, beside the one sum.

The bands are the site's own ``[[entry]]`` rows, from pressures that have a source; a pressure without one is counted
apart, never put into a band by the water head. One sum of person-hours hides where the pressure is high: in a study of
slurry drives illness was recorded in 4 of 101 exposures at 3.0 to 3.4 bar, 3 of 180 at 2.5 to 2.9 and 3 of 1,762 below
(Rüegger, Bühlmann & Völlm, abstract at taylorfrancis.com 10.4324/9780203975084-28; its counts do not add up to its
totals). These are counts: no limit, and no measure of anybody's risk.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wearplan.site.records import EntryRow

if TYPE_CHECKING:
    from wearplan.plan.ahead.terms import Terms
    from wearplan.plan.records import Stop

NOT_APPROVED = "pressure not approved"
FREE_AIR = "free air"
EXPOSURE_NOTE = (
    "Counted by the site's own entry rows, from pressures with a source; hours in the chamber, locking in and out left "
    "out. A count: no limit, and no measure of anybody's risk."
)
INSIDE = "from inside, nobody in the chamber"


@dataclass(frozen=True, kw_only=True)
class Exposure:
    """What a plan asks of people in one band."""

    band: str
    mode: str
    stops: int
    entries: int
    person_hours: float
    """In the chamber, look and changes."""


def band_of(terms: Terms, rows: Sequence[EntryRow]) -> str:
    """The band a stop under these terms is counted in."""
    if terms.inside_only:
        return INSIDE
    if not terms.window.pressure_source:
        return f"{terms.mode}, {NOT_APPROVED}"
    if not terms.under_pressure or terms.row is None:
        return terms.mode
    top = terms.row.up_to_pressure_bar
    below = [r.up_to_pressure_bar for r in rows if r.mode == terms.mode and r.up_to_pressure_bar < top]
    return f"{terms.mode}, over {max(below):g} to {top:g} bar" if below else f"{terms.mode}, up to {top:g} bar"


def exposures(stops: Iterable[Stop]) -> tuple[Exposure, ...]:
    """The sums by band: free air first, then by pressure, what is not approved last."""
    bands: dict[str, list[Stop]] = {}
    for stop in stops:
        if stop.exposure_band and stop.exposure_band != INSIDE:
            bands.setdefault(stop.exposure_band, []).append(stop)

    def order(band: str) -> tuple[bool, bool, float]:
        return (bands[band][0].mode != FREE_AIR, band.endswith(NOT_APPROVED), max(s.pressure_bar for s in bands[band]))

    return tuple(
        Exposure(
            band=band, mode=bands[band][0].mode, stops=len(bands[band]), entries=sum(s.entries for s in bands[band]),
            person_hours=sum(s.person_hours for s in bands[band]),
        )
        for band in sorted(bands, key=order)
    )  # fmt: skip
