"""Rows appended to advance.csv, sensors.csv and events.csv.

A row goes out in one write and is synced before it counts. A row that an earlier crash left without its end is
completed if it is one of those now written, and closed off otherwise; a row that is there already is not added again.
Two programs may append at once: at worst a row stands twice, and doubled rows count once.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from wearplan.site.parse.safe_text import clean_line
from wearplan.site.records import Event, RingRow, SensorWord
from wearplan.site.records.key import columns
from wearplan.site.write.durable import (
    NotWritten,
    create_once,
    sync_file,
    sync_folder,
    told,
    within,
    write_all,
)

_NEEDED = ("start_chainage_m", "end_chainage_m", "revolutions_boring")


Row = Mapping[str, str]
Key = Callable[[Row], tuple[str, ...] | None]
"""What makes a row the same fact as another; None for a row that is not whole."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Appended:
    """What came of appending."""

    path: Path
    added: int
    already: int
    """Rows that were there before, by their own key; they were left as they are."""
    remarks: tuple[str, ...] = ()


def append_sensor_word(folder: Path, word: SensorWord) -> Appended:
    """Append what a sensor reported, or that its line was proved live."""
    said = "line proved" if word.reported_mm is None else f"reported {_text(float(word.reported_mm))}"
    row = {name: getattr(word, name, said) for name in columns(SensorWord)}
    return _append(folder, "sensors.csv", columns(SensorWord), [row], key=_whole)


def append_event(folder: Path, event: Event) -> Appended:
    """Append an event such as a boulder or a jump of torque."""
    row = {column: getattr(event, column) for column in columns(Event)}
    return _append(folder, "events.csv", columns(Event), [row], key=_whole)


def append_rings(folder: Path, rows: Sequence[RingRow]) -> Appended:
    """Append ring rows; a ring that has a sound row already is left as it is, and named where the two differ.

    Columns the file's header does not have are left out, and a remark names them: the header is a person's to change.
    A new file gets the columns that have values.
    """
    of_rings = columns(RingRow)
    extras = sorted({key for row in rows for key in row.extra})
    said = [
        {**{column: getattr(row, column) for column in of_rings}, **row.extra}
        for row in rows
    ]  # fmt: skip
    used = [
        column
        for place, column in enumerate(of_rings)
        if place < 6 or any(row[column] is not None for row in said)
    ]
    return _append(folder, "advance.csv", (*used, *extras), said, key=_ring_key)


def _ring_key(row: Row) -> tuple[str, ...] | None:
    """The ring's number, None where the row is no sound one."""
    try:
        float(row["start_chainage_m"]), float(row["end_chainage_m"])
        return (str(int(row["ring"])),)
    except (KeyError, ValueError):
        return None


def _whole(row: Row) -> tuple[str, ...] | None:
    return tuple(row.values())


def _append(
    folder: Path,
    name: str,
    columns: Sequence[str],
    rows: Sequence[Mapping[str, Any]],
    *,
    key: Key,
) -> Appended:
    path = within(folder, name)
    if not rows:
        return Appended(path=path, added=0, already=0)
    told_rows = [{column: _text(value) for column, value in row.items()} for row in rows]
    if not path.exists():
        fresh = list({key(row) or ("", str(place)): row for place, row in enumerate(told_rows)}.values())
        text = "".join(_line([row.get(column, "") for column in columns]) for row in fresh)
        try:
            create_once(path, (",".join(columns) + "\n" + text).encode("utf-8"))
            return Appended(path=path, added=len(fresh), already=len(rows) - len(fresh))
        except NotWritten as refusal:
            if refusal.fault.code != "exists":
                raise
    with told(path):
        return _append_to(path, columns, told_rows, key)


def _append_to(path: Path, columns: Sequence[str], rows: Sequence[Row], key: Key) -> Appended:
    content = path.read_bytes()
    end = "\r\n" if b"\r\n" in content[:4096] else "\n"
    whole, _, torn = content.rpartition(b"\n")
    lines = list(csv.reader(io.StringIO(whole.decode("utf-8-sig", "replace"), newline="")))
    if not lines:  # a header alone, without its end
        lines, torn = list(csv.reader([torn.decode("utf-8-sig", "replace")])), b""
    header = [cell.strip() for cell in lines[0]] if lines else list(columns)
    remarks = _left_out(path, header, columns, rows)
    known = _known_rows(header, lines[1:], key)
    last = next(csv.reader([torn.decode("utf-8", "replace")])) if torn else []
    if len(last) == len(header) and _stands_among(rows, whole_row := dict(zip(header, last, strict=True)), key):
        known.setdefault(key(whole_row) or (), whole_row)  # whole, only its line end is missing
    fresh, differing = _fresh(rows, header, known, key)
    out = [_line(cells, end).encode("utf-8") for cells in fresh]
    if differing:
        remarks.append(f"{path.name} has other values for {_few(differing)}: it was left as it is.")
    whole_but_open = bool(torn) and key(dict(zip(header, last, strict=False))) in known
    if out or whole_but_open:
        remarks.extend(_write_rows(path, content, torn, out, end))
    return Appended(path=path, added=len(out), already=len(rows) - len(out), remarks=tuple(remarks))


def _left_out(path: Path, header: Sequence[str], columns: Sequence[str], rows: Sequence[Row]) -> list[str]:
    """A remark on columns the file lacks; `NotWritten` where a row is nothing without them."""
    missing = [column for column in columns if column not in header and any(row.get(column) for row in rows)]
    needed = [column for column in missing if column in _NEEDED]
    if needed:
        raise NotWritten(
            path,
            "not-writable-value",
            f"its header has no column {', '.join(needed)}. Add what is missing to its first line, then write again.",
            line=1,
        )
    if not missing:
        return []
    return [
        f"{path.name} has no column {', '.join(missing)} in its header: these values were left out. "
        "Add the names to its first line and write again to keep them."
    ]


def _fresh(
    rows: Sequence[Row], header: Sequence[str], known: dict[tuple[str, ...], Row], key: Key
) -> tuple[list[list[str]], list[str]]:
    """The cells of the rows that are not there yet, and the names of those that are there with other values."""
    fresh, differing = [], []
    for row in rows:
        cells = [row.get(column, "") for column in header]
        kept = dict(zip(header, cells, strict=True))
        found = key(kept)
        there = known.get(found) if found is not None else None
        if there is None:
            fresh.append(cells)
            if found is not None:
                known[found] = kept
        elif found and any(_differ(there.get(column, ""), cell) for column, cell in kept.items() if cell):
            differing.append(found[0])
    return fresh, differing


def _few(names: Sequence[str]) -> str:
    return ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")


def _known_rows(header: Sequence[str], lines: Sequence[Sequence[str]], key: Key) -> dict[tuple[str, ...], Row]:
    """The whole rows of the file by their key; of doubled ones the first."""
    known: dict[tuple[str, ...], Row] = {}
    for cells in lines:
        if len(cells) == len(header):
            row = dict(zip(header, cells, strict=True))
            found = key(row)
            if found is not None:
                known.setdefault(found, row)
    return known


def _stands_among(rows: Sequence[Row], last: Row, key: Key) -> bool:
    found = key(last)
    return found is not None and any(
        key({column: row.get(column, "") for column in last}) == found
        and not any(_differ(cell, row.get(column, "")) for column, cell in last.items())
        for row in rows
    )


def _write_rows(path: Path, content: bytes, torn: bytes, out: list[bytes], end: str) -> list[str]:
    """Append the rows in one write, first closing what an earlier crash left open."""
    remarks = []
    start = b""
    if not content:
        raise NotWritten(path, "write-failed", "is empty: give it its header line, or take it away.")
    if not content.endswith(b"\n"):
        row = next((row for row in out if torn and row.rstrip(b"\r\n").startswith(torn)), None)
        if row is not None:
            out = [row[len(torn) :], *(other for other in out if other is not row)]
            remarks.append(f"a row of {path.name} that an earlier write left unfinished was completed.")
        else:
            start = end.encode()
            if torn and out:
                remarks.append(f"the last row of {path.name} had no line end; it got one. See that the row is whole.")
    payload = start + b"".join(out)
    handle = os.open(path, os.O_WRONLY | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0))
    try:
        before = os.fstat(handle).st_size
        try:
            write_all(handle, payload)
            sync_file(handle)
        except OSError:
            _take_back(handle, before, payload)
            raise
    finally:
        os.close(handle)
    sync_folder(path.parent)
    if payload not in path.read_bytes():  # a network share that does not append in one step
        raise NotWritten(path, "changed-meanwhile", "another program wrote here at the same time. Write again.")
    return remarks


def _take_back(handle: int, before: int, payload: bytes) -> None:
    """Cut off a part of our own rows after a failed write, if nobody else has written after it."""
    try:
        size = os.fstat(handle).st_size
        if before < size <= before + len(payload) and os.lseek(handle, 0, os.SEEK_CUR) == size:
            os.ftruncate(handle, before)
    except OSError:
        pass


def _differ(one: str, other: str) -> bool:
    if one.strip() == other.strip():
        return False
    try:
        return abs(float(one) - float(other)) > 1e-9 * max(abs(float(one)), 1.0)
    except ValueError:
        pass
    try:
        return datetime.fromisoformat(one.strip()) != datetime.fromisoformat(other)
    except (ValueError, TypeError):
        return True


def _text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, float):
        return f"{value:.10g}" if value != int(value) or abs(value) > 1e15 else f"{value:.1f}"
    return clean_line(str(value))


def _line(cells: Sequence[str], end: str = "\n") -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator=end).writerow(cells)
    return out.getvalue()
