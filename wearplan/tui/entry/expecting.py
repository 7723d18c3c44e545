"""What is known of each place before its value is typed: the same for the check while typing and for the one at F10."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from wearplan.gate import as_before
from wearplan.history.gauging import allowed_fall_mm, gauging_of
from wearplan.report.preview import expected_band
from wearplan.site.records import Inspection, Site
from wearplan.tui.display import Display
from wearplan.tui.entry.sheet import Sheet
from wearplan.tui.entry.words import Wear
from wearplan.tui.state import Snapshot, why_missing

if TYPE_CHECKING:
    from wearplan.history import Life, Reading
    from wearplan.tui.rooms import Rooms
    from wearplan.wear import Outlook
    from wearplan.wheel import Layout


@dataclass(frozen=True, slots=True, kw_only=True)
class Basis:
    """What readings are held against."""

    site: Site
    layout: Layout
    current: Mapping[int, Life] = field(default_factory=dict)
    outlook: Outlook | None = None
    why_off: str = ""
    """Why there is no outlook to hold readings against."""


def basis_of(snapshot: Snapshot) -> Basis:
    """The folder as it is known now."""
    assert snapshot.site is not None
    assert snapshot.history is not None
    why = "" if snapshot.outlook is not None else why_missing(snapshot, "outlook")
    return Basis(
        site=snapshot.site, layout=snapshot.history.layout, current=snapshot.history.current,
        outlook=snapshot.outlook, why_off=why,
    )  # fmt: skip


def waiting_basis(snapshot: Snapshot) -> Basis:
    """For a correction, until the folder without the record it replaces is worked out."""
    assert snapshot.site is not None
    assert snapshot.history is not None
    why = "the folder without the corrected record is being worked out …"
    return Basis(site=snapshot.site, layout=snapshot.history.layout, why_off=why)


def basis_before(snapshot: Snapshot, record: Inspection, rooms: Rooms) -> Basis:
    """The folder as it stood before the stop of a record, which takes seconds: for a worker thread."""
    site = snapshot.site
    assert site is not None
    earlier = Snapshot(folder=snapshot.folder, site=as_before(site, record))

    def quiet(*words: object, **more: object) -> None:
        """Progress that nobody watches."""

    why = ""
    try:
        for step in (rooms.history, rooms.rates, rooms.outlook):
            earlier = earlier.having(**step(earlier, quiet, lambda: False))
    except Exception as error:  # whatever it is, the sheet goes on without the check and says so
        why = str(error) or type(error).__name__
    assert earlier.site is not None
    history = earlier.history or snapshot.history
    assert history is not None
    current = earlier.history.current if earlier.history is not None else {}
    return Basis(site=earlier.site, layout=history.layout, current=current, outlook=earlier.outlook, why_off=why)


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What is known of a place before its value is typed; the band is shown only afterwards."""

    last_mm: float | None
    last_chainage_m: float | None
    limit_mm: float
    low_mm: float | None = None
    high_mm: float | None = None
    fall_mm: float = 1.0
    """By how much a reading may lie under the one before through the gauge alone."""


class Expectations(Mapping[int, Expected]):
    """Last reading, limit and the 99 % band of a reading by place, each worked out when it is first asked for.

    The band is that of the method the place is read with: its own on the sheet, else that of the stop.
    """

    def __init__(self, basis: Basis, sheet: Sheet, at_m: float, method: str | None = None) -> None:
        self.basis, self._sheet, self._at_m, self._method = basis, sheet, at_m, method
        self._known: dict[tuple[int, str | None], Expected] = {}
        self._index = {int(n): i for i, n in enumerate(basis.layout.numbers)}

    def __iter__(self) -> Iterator[int]:
        return iter(self._index)

    def __len__(self) -> int:
        return len(self._index)

    def __getitem__(self, number: int) -> Expected:
        method = self._sheet.line(number).method or self._method
        if (number, method) not in self._known:
            self._known[number, method] = self._work_out(number, method)
        return self._known[number, method]

    def _work_out(self, number: int, method: str | None) -> Expected:
        basis = self.basis
        last = last_reading(basis.current.get(number), self._at_m)
        band = expected_band(basis.site, basis.outlook, number, method) if basis.outlook is not None else None
        gauges = (gauging_of(basis.site.wheel, last.method if last else None), gauging_of(basis.site.wheel, method))
        return Expected(
            last_mm=last.wear_mm if last else None,
            last_chainage_m=basis.site.drive.chainage_m(last.driven_m) if last else None,
            limit_mm=float(basis.layout.limit_mm[self._index[number]]),
            low_mm=band[0] if band else None,
            high_mm=band[1] if band else None,
            fall_mm=allowed_fall_mm(*gauges),
        )


def last_reading(life: Life | None, at_m: float) -> Reading | None:
    """The last value read of a life up to a place."""
    readings = [r for r in (life.readings if life else ()) if r.wear_mm is not None and r.driven_m <= at_m + 1e-6]
    return readings[-1] if readings else None


def odd(wear: Wear, expected: Expected, display: Display) -> str | None:
    """A sentence where a value asks for a second look; None where it does not."""
    worst, middle = wear.worst_mm, wear.middle_mm
    if middle is not None and expected.last_mm is not None and middle < expected.last_mm - expected.fall_mm:
        return f"{display.wear(middle)} is less than the {display.wear(expected.last_mm)} read before"
    if expected.low_mm is None or expected.high_mm is None:
        return None
    band = f"{display.wear(expected.low_mm)} to {display.wear(expected.high_mm)}"
    if middle is not None and not expected.low_mm <= middle <= expected.high_mm:
        return f"{display.wear(middle)} lies outside {band} expected (99 in 100)"
    if wear.above_mm is not None and wear.above_mm > expected.high_mm:
        return f"over {display.wear(worst)} lies outside {band} expected (99 in 100)"
    if wear.below_mm is not None and wear.below_mm < expected.low_mm:
        return f"under {display.wear(wear.below_mm)} lies outside {band} expected (99 in 100)"
    return None
