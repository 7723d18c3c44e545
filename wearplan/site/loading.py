"""Reads a site folder: one immutable site, as far as it can be built, and every fault at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from wearplan.site.parse.document import Document, forbidden_by, open_document
from wearplan.site.parse.faults import ALL, NOTHING, FaultLog
from wearplan.site.parse.files import Folder
from wearplan.site.parse.text import clean, nearest, shown
from wearplan.site.read.ground import known_on, read_ground
from wearplan.site.read.left_out import LeftOut, left_out_of
from wearplan.site.read.ring_sequence import check_sequence
from wearplan.site.read.rings import read_rings, unknown_factors
from wearplan.site.read.site_head import format_refused, read_site
from wearplan.site.read.stops import read_stops
from wearplan.site.read.stores import read_stores
from wearplan.site.read.wheel import read_wheel
from wearplan.site.read.wishes import read_wishes
from wearplan.site.read.words import read_events, read_sensor_words
from wearplan.site.records import (
    ANSWERS,
    PLANNED_MODES,
    Drive,
    Event,
    Fault,
    Ground,
    Inspection,
    Loaded,
    RingRow,
    SensorWord,
    Site,
    Stops,
    Stores,
    Wheel,
)
from wearplan.site.records.key import described
from wearplan.site.records.site import SiteHead
from wearplan.site.stopbook.corrections import Standing
from wearplan.site.stopbook.known import Known
from wearplan.site.stopbook.stopbook import read_stopbook

_TOML = ("site.toml", "wheel.toml", "stops.toml", "stores.toml", "wishes.toml")
_FILES = (*_TOML, "advance.csv", "sensors.csv", "events.csv")


def load(folder: Path | str) -> Loaded:
    """Read a site folder.

    Parameters
    ----------
    folder
        The folder; nothing outside it is read, whatever it holds.

    Returns
    -------
    Loaded
        ``site`` is None only where none can be built: no readable site.toml or wheel.toml, a newer format, no folder.
        Optional parts that are faulty are left out; ``forbids`` of their faults says which answers fall with them.
        Nothing is raised for what is in the folder.
    """
    folder = Path(folder)
    refused = _refused(folder)
    if refused is not None:
        return Loaded(site=None, faults=(refused,))
    log = FaultLog()
    return _Reading(Folder(folder, log), log).loaded(folder)


def _refused(folder: Path) -> Fault | None:
    """The one fault of what is no site folder at all."""
    name = clean(str(folder))[:200]

    def fault(code: str, what: str) -> Fault:
        return Fault(file=name, line=1, place="", what=what, code=code, forbids=ANSWERS)

    try:
        if not folder.exists():
            return fault("no-folder", "there is no such folder; name a site folder, or start one with `wearplan new`")
        if not folder.is_dir():
            return fault("not-a-folder", "is a file; name the folder it stands in")
        if not any(True for _ in folder.iterdir()):
            return fault("empty-folder", "is empty; `wearplan new` writes a folder to start from")
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        return fault("unreadable", f"cannot be read ({why})")
    return None


class _Reading:
    """One reading of a folder, file by file."""

    def __init__(self, folder: Folder, log: FaultLog) -> None:
        self.folder = folder
        self.log = log

    def document(self, name: str, *, absent: str = "", forbids: Iterable[str] = ALL) -> Document | None:
        """A TOML file; None with a fault where it cannot be read (``absent`` says what that means; empty: nothing)."""
        before = self.log.count
        text = self.folder.text(name)
        if text is None:
            if absent and self.log.count == before:
                self.log.add(name, 1, "", absent, code="missing-file", forbids=forbids)
            return None
        return open_document(name, text, self.log, forbids)

    def loaded(self, path: Path) -> Loaded:
        names = self.folder.names()
        self._name_strangers(names)
        site_doc = self.document(
            "site.toml", absent="is missing; it says what drive this is, `wearplan new` writes one"
        )
        newer = format_refused(site_doc.data) if site_doc else None
        if newer:
            self.log.add("site.toml", site_doc.line(("format",)) if site_doc else 1, "format", newer,
                         code="newer-format", forbids=ALL)  # fmt: skip
            return Loaded(site=None, faults=self.log.faults())
        head, drive = read_site(site_doc) if site_doc else (None, None)
        wheel_doc = self.document("wheel.toml", absent="is missing; it says what stands where on the wheel")
        wheel = read_wheel(wheel_doc, drive) if wheel_doc else None
        grounds = self._grounds(drive)
        stops = self._stops(drive)
        left_out = left_out_of(wheel_doc, wheel) if wheel_doc and wheel else LeftOut()
        stores = self._stores(wheel, left_out)
        wishes_doc = self.document("wishes.toml", forbids=forbidden_by("stops.toml"))
        wishes = read_wishes(wishes_doc, drive, stops) if wishes_doc else None
        rings: tuple[RingRow, ...] = ()
        logs: tuple[tuple[SensorWord, ...], tuple[Event, ...]] = ((), ())
        book = Standing((), (), ())
        if drive:
            rings, wheel = self._rings(drive, wheel)
        if drive and wheel and wheel_doc:
            known = Known.of(drive, wheel, rings, left_out)
            book = read_stopbook(self.folder, self._toml_names("inspections"), known, self.log)
            logs = self._logs(drive, wheel, left_out)
        if stops and wheel:
            self._name_missing_hours(stops, wheel)
        if head is None or wheel is None:
            return Loaded(site=None, faults=self.log.faults())
        self._name_state(head.drive, rings, book.in_force)
        faults = self.log.faults()
        site = Site(
            **{key.name: getattr(head, key.name) for key in described(SiteHead)},
            wheel=wheel, grounds=grounds, stops=stops, stores=stores, wishes=wishes, rings=rings,
            inspections=book.in_force, corrected=book.corrected, sensor_words=logs[0], events=logs[1], faults=faults,
            folder=path, inputs_sha256=self.folder.sha256(),
        )  # fmt: skip
        return Loaded(site=site, faults=faults)

    def _name_strangers(self, names: Iterable[str]) -> None:
        """Files of the folder that look meant for the program, but have no name it knows."""
        known = (*_FILES, "take.toml", "ground", "inspections")
        for name in names:
            if name in known or not name.lower().endswith((".toml", ".csv")):
                continue
            near = nearest(name, known)
            hint = f'; did you mean "{near}"?' if near else ""
            self.log.add(name, 1, "", f"is no file of the site format and is not read{hint}", code="unknown-file",
                         forbids=NOTHING)  # fmt: skip

    def _grounds(self, drive: Drive | None) -> tuple[Ground, ...]:
        docs: list[Document] = []
        before = self.log.count
        for name in self._toml_names("ground"):
            doc = self.document(name, absent="went away while the folder was read; read it again")
            if doc is not None:
                docs.append(doc)
        if not docs and self.log.count == before:
            self.log.add("ground/", 1, "", "holds no description of the ground; write one, such as "
            "ground/0001-tender.toml",
                         code="missing-file", forbids=ALL)  # fmt: skip
        dates = {doc.file: known_on(doc) for doc in docs}
        newest = max((known for known in dates.values() if known is not None), default=None)
        grounds = []
        for doc in docs:
            known = dates[doc.file]
            # a faulty older revision is wanted only where the past is asked
            older = known is not None and newest is not None and known < newest
            ground = read_ground(doc, drive, ("backtest",) if older else ALL)
            if ground is not None:
                grounds.append(ground)
        return tuple(sorted(grounds, key=lambda ground: (ground.known_on, ground.origin.file)))

    def _toml_names(self, sub: str) -> list[str]:
        found = []
        for name in self.folder.names(sub):
            if name.endswith(".toml"):
                found.append(f"{sub}/{name}")
            else:
                self.log.add(f"{sub}/{name}", 1, "", "is not read: records here are files ending in .toml",
                             code="unknown-file", forbids=NOTHING)  # fmt: skip
        return found

    def _stops(self, drive: Drive | None) -> Stops | None:
        forbids = forbidden_by("stops.toml")
        doc = self.document("stops.toml", absent="is missing; without it there is no plan", forbids=forbids)
        return read_stops(doc, drive) if doc else None

    def _stores(self, wheel: Wheel | None, left_out: LeftOut) -> Stores | None:
        forbids = forbidden_by("stores.toml")
        doc = self.document("stores.toml", absent="is missing; without it no order can be reckoned", forbids=forbids)
        return read_stores(doc, wheel, left_out) if doc else None

    def _rings(self, drive: Drive, wheel: Wheel | None) -> tuple[tuple[RingRow, ...], Wheel | None]:
        before = self.log.count
        text = self.folder.text("advance.csv")
        if text is None:
            if self.log.count == before:
                begun = bool(self.folder.names("inspections"))
                what = "is missing although there are inspections; copy it back" if begun else (
                    "is not there yet: the drive counts as not begun"
                )  # fmt: skip
                self.log.add("advance.csv", 1, "", what, code="missing-file", forbids=ALL if begun else NOTHING)
            return (), wheel
        rings, extra = read_rings(text, drive, self.log)
        check_sequence(rings, drive, self.log)
        if wheel:
            for name in unknown_factors(wheel.factors, extra, bool(rings)):
                self.log.add("wheel.toml", 1, "[wheel] factors", f"{shown(name)} is no column of advance.csv; it is "
                f"not tried",
                             code="unknown-factor", forbids=NOTHING)  # fmt: skip
                wheel = replace(wheel, factors=tuple(factor for factor in wheel.factors if factor != name))
        return rings, wheel

    def _logs(self, drive: Drive, wheel: Wheel, left_out: LeftOut) -> tuple[tuple[SensorWord, ...], tuple[Event, ...]]:
        sensors, events = self.folder.text("sensors.csv"), self.folder.text("events.csv")
        return (
            read_sensor_words(sensors, drive, wheel, self.log, left_out) if sensors is not None else (),
            read_events(events, drive, self.log) if events is not None else (),
        )

    def _name_missing_hours(self, stops: Stops, wheel: Wheel) -> None:
        """Tool types that no hours are given for to change them in a mode the windows have."""
        used = {position.tool_type for position in wheel.positions}
        modes = {window.mode for window in stops.windows} & set(PLANNED_MODES)
        for tool_type in wheel.tool_types:
            missing = [mode for mode in PLANNED_MODES if mode in modes and mode not in tool_type.change_hours]
            if missing and tool_type.code in used:
                what = f"{shown(tool_type.code)} has no hours for {' and '.join(missing)}: it cannot be changed in "
                "such windows"
                origin = tool_type.origin
                self.log.add(origin.file, origin.line, "[[tool_type]] change_hours", what, code="no-change-hours")

    def _name_state(self, drive: Drive, rings: tuple[RingRow, ...], inspections: tuple[Inspection, ...]) -> None:
        """What is no fault of a file, and yet to be known before reading any answer."""
        ends = [row.end_m for row in rings if row.end_m is not None and not row.damaged]
        if ends and max(ends) >= drive.length_m - 0.001:
            what = "the rings reach the end of the drive: it is finished, there is nothing left to plan"
            line = rings[-1].origin.line
            self.log.add("advance.csv", line, "", what, code="drive-finished", forbids=NOTHING)
        if rings and not inspections and not self.log.forbidding("rates"):
            self.log.add("inspections/", 1, "", "holds no record yet: every rate rests on expectation, with wide doubt",
                         code="no-inspections", forbids=NOTHING)  # fmt: skip


__all__ = ["load"]
