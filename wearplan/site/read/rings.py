"""advance.csv: one row a ring. Whatever is wrong with a row is named; its ring still counts its advance."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from types import MappingProxyType

from wearplan.site.parse.cells import BadCell, Rows, has_no_offset, moment, number, whole
from wearplan.site.parse.faults import ALL, NOTHING, FaultLog
from wearplan.site.parse.text import clean, nearest
from wearplan.site.records import Drive, Origin, RingRow
from wearplan.site.records.key import columns, limits, needed

FILE = "advance.csv"
IN_PLACE_OF_TURNS = {"rotation_rpm": (0.0, 60.0), "boring_minutes": (0.0, 1e6)}
"""Columns that give the revolutions where nobody counted them, and what can stand there."""
NEEDED = needed(RingRow)
OPTIONAL = tuple(name for name in (*columns(RingRow), *IN_PLACE_OF_TURNS) if name not in NEEDED)
RANGES = {**limits(RingRow), **IN_PLACE_OF_TURNS}
RINGS_AT_MOST = 3.0
"""A row longer than so many ring lengths is no ring."""


def read_rings(text: str, drive: Drive, log: FaultLog) -> tuple[tuple[RingRow, ...], tuple[str, ...]]:
    """The rows as written, in file order, and the names of the further columns."""
    rows = Rows(FILE, text, log, needed=NEEDED, forbids=ALL)
    if not rows.usable:
        return (), ()
    if "revolutions_boring" not in rows.columns and not {"rotation_rpm", "boring_minutes"} <= set(rows.columns):
        log.add(
            FILE, 1, "header", "revolutions_boring is missing (or rotation_rpm with boring_minutes in its place); "
            "add it",
            code="bad-header", forbids=ALL,
        )  # fmt: skip
        return (), ()
    extra = tuple(name for name in rows.columns if name not in NEEDED and name not in OPTIONAL)
    for name in extra:
        near = nearest(name, OPTIONAL)
        if near is not None and near not in rows.columns:
            log.add(
                FILE, 1, name, f"is kept as a further column; did you mean {near}?", code="column-name", forbids=NOTHING
            )
    return tuple(_ring_rows(rows, drive, log, extra)), extra


def _ring_rows(rows: Rows, drive: Drive, log: FaultLog, extra: tuple[str, ...]) -> Iterator[RingRow]:
    near_m = 0.0
    naive_named = False
    places = rows.columns
    for line, cells, why in rows:
        reader = _RowReader(places, cells, log, line)
        try:
            ring = whole(cells[places["ring"]], *map(int, RANGES["ring"]))
        except BadCell as error:
            ring, why = None, why or str(error)
        if ring is None:
            what = f"the row is left out: {why or 'it has no ring number'}; its advance still counts"
            log.add(FILE, line, "ring", what, code="ring-row-left-out", forbids=NOTHING)
            continue
        values = reader.values()
        damaged = why or reader.damaged
        start, end = values.pop("start_chainage_m"), values.pop("end_chainage_m")
        start_m = end_m = None
        if start is not None:
            start_m = drive.driven_m(start, near_m=near_m)
        if end is not None:
            end_m = drive.driven_m(end, near_m=near_m if start_m is None else start_m)
        damaged = damaged or _place_fault(drive, start_m, end_m)
        if damaged is None and values["revolutions_boring"] is None:
            damaged = "its revolutions are missing"
        if damaged:
            what = (
                f"ring {ring}: {damaged}; its advance still counts, with revolutions from its neighbours and more doubt"
            )
            log.add(FILE, line, reader.column, what, code="ring-damaged", forbids=NOTHING)
        elif end_m is not None:
            near_m = end_m
        if not naive_named and "finished_at" in places and has_no_offset(cells[places["finished_at"]]):
            naive_named = True
            what = "has no offset from UTC, here and perhaps below; such times are taken as UTC"
            log.add(FILE, line, "finished_at", what, code="no-offset", forbids=NOTHING)
        yield RingRow(
            ring=ring,
            start_chainage_m=start,
            end_chainage_m=end,
            start_m=start_m,
            end_m=end_m,
            finished_at=reader.moment("finished_at"),
            regime=clean(reader.text("regime"))[:120] or None,
            extra=MappingProxyType({name: cells[places[name]].strip()[:400] for name in extra}),
            damaged=damaged,
            origin=Origin(FILE, line),
            **values,
        )


def _place_fault(drive: Drive, start_m: float | None, end_m: float | None) -> str | None:
    if start_m is None or end_m is None:
        return "its chainage is missing"
    advance = end_m - start_m
    if advance <= 0:
        return f"it runs against the drive, by {-advance:.3f} m" if advance else "it has no length"
    if advance > RINGS_AT_MOST * drive.ring_length_m:
        return f"{advance:.3f} m are too long for one ring of {drive.ring_length_m:g} m"
    slack = RINGS_AT_MOST * drive.ring_length_m
    if start_m < -slack or end_m > drive.length_m + slack:
        return "it lies outside the drive of site.toml"
    return None


class _RowReader:
    """The cells of one row as values. What exposure rests on damages the row when bad; the rest is only named."""

    RESTS_ON = (
        "start_chainage_m", "end_chainage_m", "revolutions_boring", "revolutions_idle", "revolutions_ccw_share",
    )  # fmt: skip

    def __init__(self, columns: dict[str, int], cells: list[str], log: FaultLog, line: int) -> None:
        self._columns = columns
        self._cells = cells
        self._log = log
        self._line = line
        self.damaged: str | None = None
        self.column = ""

    def text(self, name: str) -> str:
        at = self._columns.get(name)
        return self._cells[at].strip() if at is not None else ""

    def moment(self, name: str) -> datetime | None:
        try:
            return moment(self.text(name))
        except BadCell as error:
            self._named(name, str(error))
            return None

    def _named(self, name: str, what: str) -> None:
        self._log.add(FILE, self._line, name, f"{what}; it is left out", code="bad-cell", forbids=NOTHING)

    def _number(self, name: str) -> float | None:
        try:
            return number(self.text(name), *RANGES[name])
        except BadCell as error:
            if name in self.RESTS_ON or name in IN_PLACE_OF_TURNS:
                self.damaged = self.damaged or f"{name}: {error}"
                self.column = self.column or name
            else:
                self._named(name, str(error))
            return None

    def values(self) -> dict[str, float | None]:
        names = (*self.RESTS_ON, "thrust_kn", "torque_knm", "face_pressure_bar")
        values = {name: self._number(name) for name in names}
        if values["revolutions_boring"] is None and "rotation_rpm" in self._columns:
            rpm, minutes = self._number("rotation_rpm"), self._number("boring_minutes")
            if rpm is not None and minutes is not None:
                values["revolutions_boring"] = rpm * minutes
        return values


def unknown_factors(factors: tuple[str, ...], extra: tuple[str, ...], columns_known: bool) -> tuple[str, ...]:
    """Those factors of the wheel that name no column of advance.csv."""
    known = {"regime", "penetration", "thrust_kn", "torque_knm", "face_pressure_bar", *extra}
    return tuple(name for name in factors if columns_known and name not in known)


__all__ = ["FILE", "NEEDED", "OPTIONAL", "read_rings", "unknown_factors"]
