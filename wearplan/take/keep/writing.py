"""What a take would do to a folder, and doing it: nothing twice, corrected cells as corrections, all withdrawable."""

from __future__ import annotations

import dataclasses
import secrets
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from wearplan.gate import Finding, acceptance
from wearplan.site import (
    append_event,
    append_rings,
    correct_inspection,
    load,
    new_folder,
    new_inspection_id,
    write_inspection,
)
from wearplan.site.records import Drive, Event, Fitting, Inspection, Measurement, RingRow, Site
from wearplan.site.records.key import columns
from wearplan.site.write.durable import NotWritten
from wearplan.site.write.outputs import write_output
from wearplan.take.asking import answers_toml
from wearplan.take.engine import Taken
from wearplan.take.keep.as_records import drive_of, inspections, ring_rows, waiting
from wearplan.take.keep.folder_text import ground_text, site_text, stores_text, wheel_text
from wearplan.take.keep.holding import Accepted, Gate

WITHDRAWN = "withdrawn: "


@dataclass(frozen=True, slots=True, kw_only=True)
class Correction:
    """A record that replaces one that stands, and what differs."""

    old_id: str
    inspection: Inspection
    reason: str


@dataclass(slots=True, kw_only=True)
class Proposal:
    """What would be written, and what would not and why."""

    take_id: str
    drive: Drive | None
    texts: dict[str, str] = field(default_factory=dict)
    """Files of a new folder by their path in it."""
    new: list[Inspection] = field(default_factory=list)
    corrections: list[Correction] = field(default_factory=list)
    same: int = 0
    rings: list[RingRow] = field(default_factory=list)
    differs: list[str] = field(default_factory=list)
    """Where the folder that stands says something else; it is left as it is."""
    waits: list[str] = field(default_factory=list)
    held: list[Finding] = field(default_factory=list)
    """What the folder contradicts: those records are not written, the others are."""
    found: list[Finding] = field(default_factory=list)
    """Everything the gate found, held back or accepted."""
    accepted_rings: list[Event] = field(default_factory=list)
    """For ring rows written although something was found: who accepted it and why."""

    def counts(self) -> dict[str, int]:
        """How many records of each sort would be written."""
        records = [*self.new, *(correction.inspection for correction in self.corrections)]
        readings = [m for i in records for m in i.measurements]
        fittings = [f for i in records for f in i.fittings]
        return {
            "files_of_a_new_folder": len(self.texts),
            "rings": len(self.rings),
            "stops": len(self.new),
            "corrections": len(self.corrections),
            "stops_as_on_record": self.same,
            "readings": sum(m.not_read is None for m in readings),
            "bounds": sum(m.wear_below_mm is not None or m.wear_above_mm is not None for m in readings),
            "reasons_for_not_reading": sum(m.not_read is not None for m in readings),
            "changes": len(fittings),
            "serials": len({s for f in fittings for s in (f.old_serial, f.new_serial) if s}),
        }

    @property
    def empty(self) -> bool:
        return not (self.texts or self.new or self.corrections or self.rings)


def propose(
    taken: Taken, folder: Path, site: Site | None, now: datetime, accepted: Accepted | None = None
) -> Proposal:
    """Hold what was taken against the folder; what that contradicts is held back unless it is accepted by name."""
    out = _proposed(taken, folder, site, now)
    standing = site if site is not None else _site_to_be(out.texts)
    if standing is None:
        return out
    gate = Gate(standing, now, accepted or Accepted())
    out.rings, told = gate.rings(out.rings)
    out.accepted_rings = [acceptance(standing, words, row, now=now) for row, words in told]
    new = [gate.stop(one) for one in sorted(out.new, key=lambda one: (one.driven_m, one.started_at))]
    out.new = [one for one in new if one is not None]
    corrections = [(one, gate.stop(one.inspection, one.old_id)) for one in out.corrections]
    out.corrections = [dataclasses.replace(one, inspection=kept) for one, kept in corrections if kept is not None]
    out.held, out.found = gate.held, gate.found
    return out


def _site_to_be(texts: Mapping[str, str]) -> Site | None:
    """The new folder of these texts, still without rings and stops; None where no site can be made of them."""
    if not texts:
        return None
    with tempfile.TemporaryDirectory() as home:
        folder = Path(home) / "site"
        _write_folder(texts, folder)
        return load(folder).site


def _proposed(taken: Taken, folder: Path, site: Site | None, now: datetime) -> Proposal:
    take_id = f"take-{now:%Y%m%dT%H%M%S}-{secrets.token_hex(2)}"
    drive = drive_of(taken, site)
    out = Proposal(take_id=take_id, drive=drive)
    if taken.other_drive:
        out.waits.append("these files are of another drive by their rings: nothing of them is written here")
        return out
    fresh = site is None and not (folder / "site.toml").exists()
    if fresh:
        _new_folder(out, taken, drive)
    elif site is not None:
        out.differs = differences(taken, site)
    if drive is None:
        out.waits.append("no ring log and no folder: stops have no place yet")
        return out
    if taken.held("rings"):
        out.waits.append("ring rows wait for the open questions about the ring log")
    else:
        known = {row.ring: row for row in site.rings} if site is not None else {}
        rows = ring_rows(taken, drive)
        other = [row.ring for row in rows if row.ring in known and _ring_differs(row, known[row.ring])]
        if other:
            out.differs.append(
                f"{len(other)} rings of the log say otherwise than advance.csv, first {other[0]}: they are left"
            )
        out.rings = [row for row in rows if row.ring not in known]
    if taken.held("stops"):
        out.waits.append("readings and changes wait for the open questions about them")
        return out
    out.waits += waiting(taken)
    for found in inspections(taken, drive, take_id, now):
        _place(out, found, site)
    return out


def _ring_differs(row: RingRow, there: RingRow) -> bool:
    """Whether a ring on record lies elsewhere or turned otherwise than the file says."""
    for key, slack in (("end_chainage_m", 0.05), ("revolutions_boring", 0.05)):
        ours, theirs = getattr(there, key), getattr(row, key)
        if ours is not None and theirs is not None and abs(ours - theirs) > slack:
            return True
    return False


def _new_folder(out: Proposal, taken: Taken, drive: Drive | None) -> None:
    facts = taken.site_facts
    out.texts["site.toml"] = site_text(taken, drive, facts)
    if taken.held("layout"):
        out.waits.append("the layout waits for the open questions about it")
    elif taken.wheel.places:
        out.texts["wheel.toml"] = wheel_text(taken, facts)
    if taken.held("ground"):
        out.waits.append("the ground waits for the open questions about it")
    elif taken.ground.units or taken.ground.sections:
        out.texts["ground/0001-first.toml"] = ground_text(taken.ground, facts)
    if taken.stock:
        out.texts["stores.toml"] = stores_text(taken, facts)


def _place(out: Proposal, found: Inspection, site: Site | None) -> None:
    """New, the same as one on record, a correction of one taken earlier, or different from one that was typed."""
    standing = [i for i in (site.inspections if site is not None else ()) if i.ring == found.ring]
    if not standing:
        out.new.append(found)
        return
    old = next((i for i in standing if i.taken_from), standing[0])
    changed = _changes(old, found)
    if not changed:
        out.same += 1
    elif old.taken_from:
        merged = dataclasses.replace(found, structure=old.structure)
        out.corrections.append(
            Correction(
                old_id=old.id, inspection=merged, reason="the file says otherwise now: " + "; ".join(changed)[:900]
            )
        )
    else:
        out.differs.append(
            f"{old.id} of ring {old.ring} was typed and says otherwise ({'; '.join(changed[:4])}): it "
            "is left; correct it by hand if the file is right"
        )


def _changes(old: Inspection, new: Inspection) -> list[str]:
    """What differs between two records, places by number, whatever file and id they carry."""
    lines = []
    for key in ("chainage_m", "mode", "pressure_bar", "number"):
        if getattr(old, key) != getattr(new, key):
            lines.append(f"{key} {getattr(old, key)} -> {getattr(new, key)}")
    if old.started_at != new.started_at:
        lines.append(f"started {old.started_at:%Y-%m-%d %H:%M} -> {new.started_at:%Y-%m-%d %H:%M}")
    lines += _rows_changed(
        "place", {m.position: m for m in old.measurements}, {m.position: m for m in new.measurements}
    )
    lines += _rows_changed(
        "fitting at place", {f.position: f for f in old.fittings}, {f.position: f for f in new.fittings}
    )
    return lines


def _rows_changed(
    what: str, old: Mapping[int, Measurement | Fitting], new: Mapping[int, Measurement | Fitting]
) -> list[str]:
    lines = []
    for position in sorted({*old, *new}):
        one, other = old.get(position), new.get(position)
        if (one is None) != (other is None) or (one is not None and other is not None and _bare(one) != _bare(other)):
            cell = (other or one).taken_from if (other or one) is not None else None  # type: ignore[union-attr]
            where = f" ({cell.split(' | ')[1]})" if cell and " | " in cell else ""
            lines.append(f"{what} {position}{where}")
    return lines


def _bare(record: Measurement | Fitting) -> tuple[Any, ...]:
    return tuple(
        getattr(record, f.name) for f in dataclasses.fields(record) if f.name not in ("origin", "taken_from", "damaged")
    )


def differences(taken: Taken, site: Site) -> list[str]:
    """Where the files' layout, tool types and ground say something else than the folder."""
    lines = _layout_differences(taken, site) if taken.wheel.from_files else []
    ground = site.ground()
    if ground is not None and taken.ground.sections:
        ours_s = [(round(s.from_chainage_m, 1), round(s.to_chainage_m, 1)) for s in ground.sections]
        theirs_s = [(round(s.from_m, 1), round(s.to_m, 1)) for s in taken.ground.sections]
        if ours_s != theirs_s:
            lines.append(
                f"the ground's stretches differ: {len(ours_s)} in the folder, {len(theirs_s)} in the "
                "files; write a new file in ground/ if they are newer"
            )
    if site.stores is not None:
        stock = {s.tool_type: s for s in site.stores.stock}
        for line in taken.stock:
            known = stock.get(line.tool_type)
            if known is None or known.on_hand != line.on_hand:
                lines.append(
                    f"stock of {line.tool_type}: {known.on_hand if known else 'none'} in stores.toml, "
                    f"{line.on_hand} in {line.source}"
                )
    return lines


def _layout_differences(taken: Taken, site: Site) -> list[str]:
    lines = []
    standing = {p.number: p for p in site.wheel.positions}
    for place in taken.wheel.places:
        there = standing.pop(place.number, None)
        if there is None:
            lines.append(f"position {place.number} ({place.name}, {place.source}) is not in wheel.toml")
            continue
        for key in ("track_radius_mm", "angle_deg", "zone", "tool_type"):
            ours, theirs = getattr(there, key), getattr(place, key)
            same = theirs is None or ours == theirs or (isinstance(ours, float) and abs(ours - theirs) < 0.05)
            if not same:
                lines.append(f"position {place.number} {key}: {ours} in wheel.toml, {theirs} in {place.source}")
    return [*lines, *(f"position {number} of wheel.toml is in no layout of the files" for number in standing)]


def write(proposal: Proposal, folder: Path) -> list[str]:
    """Write what was proposed; what was written, in sentences.

    Raises
    ------
    NotWritten
        If a record cannot be written; what was written before it stands and is found again by the next take.
    """
    lines = []
    if proposal.texts:
        lines += _write_folder(proposal.texts, folder)
    for event in proposal.accepted_rings:
        append_event(folder, event)
    if proposal.rings:
        done = append_rings(folder, proposal.rings)
        lines.append(f"{done.path}: {done.added} rings added, {done.already} there already")
        lines += done.remarks
    for found in proposal.new:
        lines.append(str(write_inspection(folder, found)))
    for correction in proposal.corrections:
        path = correct_inspection(folder, correction.old_id, correction.inspection, correction.reason)
        lines.append(f"{path} corrects {correction.old_id}: {correction.reason}")
    return lines


def _write_folder(texts: Mapping[str, str], folder: Path) -> list[str]:
    """The commented folder of `new`, with the files' own texts in place of its open ones."""
    keep = folder / "take.toml"
    kept = keep.read_bytes() if keep.is_file() else None
    if kept is not None:
        keep.unlink()
    try:
        written = new_folder(folder)
        header = ",".join((*columns(RingRow), "taken_from")) + "\n"
        (folder / "advance.csv").write_text(header, encoding="utf-8", newline="\n")
        for name, text in texts.items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
    finally:
        if kept is not None:
            folder.mkdir(parents=True, exist_ok=True)
            keep.write_bytes(kept)
    return [str(path) for path in written]


def withdraw(folder: Path, site: Site, take_id: str, reason: str, now: datetime) -> list[Path]:
    """Take a whole take back by further records: each of its inspections is replaced by what stood before, or by none.

    Ring rows stay: they are the machine's log, and each names the take's file in its own column.

    Raises
    ------
    NotWritten
        If there is no such take, or a record cannot be written.
    """
    found = [i for i in site.inspections if (i.taken_from or "").startswith(f"{take_id} |")]
    if not found:
        known = sorted({(i.taken_from or "").split(" | ")[0] for i in site.inspections if i.taken_from})
        raise NotWritten(
            folder,
            "unknown-record",
            f"no record in force is of {take_id}; takes on record: {', '.join(known) or 'none'}",
        )
    before = {i.id: i for i in site.corrected}
    paths = []
    for inspection in found:
        earlier = before.get(inspection.corrects or "")
        base = (
            earlier
            if earlier is not None
            else dataclasses.replace(inspection, measurements=(), fittings=(), structure=())
        )
        again = dataclasses.replace(
            base,
            id=new_inspection_id(now),
            corrects=None,
            taken_from=base.taken_from if earlier is not None else None,
            note=f"{WITHDRAWN}{take_id}",
        )
        paths.append(correct_inspection(folder, inspection.id, again, f"{WITHDRAWN}{reason}", now=now))
    return paths


def keep_answers(folder: Path, taken: Taken) -> None:
    """Keep the answers, and what next month's workbook alone could not tell: names of places, heights of new tools."""
    if taken.wheel.from_files and any(place.name != str(place.number) for place in taken.wheel.places):
        taken.answers.used["place numbers"] = {place.name: place.number for place in taken.wheel.places}
    for tool in taken.wheel.tools.values():
        if taken.wheel.from_files and tool.new_height_mm is not None:
            taken.answers.used[f"new height of {tool.code}"] = tool.new_height_mm
    text = answers_toml(taken.answers, taken.site_facts)
    write_output(folder / "take.toml", text)
