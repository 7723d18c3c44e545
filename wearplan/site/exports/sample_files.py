"""Raw samples of a machine, a row a second, read fast: millions of rows in seconds, in pieces."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from wearplan.site.exports.mapping import MappingFile, SampleColumns, Source
from wearplan.site.exports.table import Export, placed_export
from wearplan.site.parse.delimited import OFFSET, decoded, moment, number, rows_of, separator_of
from wearplan.site.parse.faults import FaultLog
from wearplan.site.parse.text import clean

Floats = NDArray[np.float64]
_PIECE = 16 * 1024 * 1024
_BLOCK = 4096
_TIME_WIDTH = 35
_FIXED = {"%Y": 4, "%m": 2, "%d": 2, "%H": 2, "%M": 2, "%S": 2, "%y": 2}


@dataclass(frozen=True, slots=True)
class Samples:
    """Samples in the order of the files; NaN where a cell was empty or bad."""

    time_s: Floats
    """Since 1970, as the clock showed it."""
    columns: Mapping[str, Floats]
    offset: str | None
    """Of the clock from UTC, where the file or the mapping says it."""

    def __len__(self) -> int:
        return len(self.time_s)


def read_sample_files(
    paths: Sequence[Path],
    mapping: MappingFile,
    log: FaultLog,
    progress: Callable[[int], None] | None = None,
) -> Samples | None:
    """Read sample files of one form; None with faults where a file cannot be used.

    Parameters
    ----------
    progress : callable, optional
        Is told the number of rows read so far.

    Notes
    -----
    Some 50 bytes of memory a row. Cells that are no number become NaN and are counted in one fault a column and file.
    """
    assert mapping.samples is not None
    sources = {
        name: source for name in SampleColumns.model_fields if (source := getattr(mapping.samples, name)) is not None
    }
    pieces: list[tuple[float, Floats, dict[str, Floats]]] = []
    offset = mapping.time.offset
    count = 0
    for path in paths:
        reader = _open(path, sources, mapping, log)
        if reader is None:
            return None
        try:
            parts = []
            for time_s, values in reader.pieces(path):
                parts.append((time_s, values))
                count += len(time_s)
                if progress is not None:
                    progress(count)
        except OSError as error:
            log.add(path.name, 1, "", f"cannot be read ({clean(str(error))[:200]})", code="unreadable")
            return None
        reader.tell(log)
        offset = reader.offset or offset
        if parts:
            begins = float(parts[0][0][0]) if len(parts[0][0]) else 0.0
            pieces.extend((begins, *part) for part in parts)
    pieces.sort(key=lambda piece: piece[0])  # by the files' first time; the order within a file is kept
    names = [name for name in sources if name not in _OF_TIME]
    empty: list[Floats] = [np.empty(0)]
    return Samples(
        time_s=np.concatenate([piece[1] for piece in pieces] or empty),
        columns={name: np.concatenate([piece[2][name] for piece in pieces] or empty) for name in names},
        offset=offset,
    )


def _open(path: Path, sources: Mapping[str, Source], mapping: MappingFile, log: FaultLog) -> _Reader | None:
    """Find the header in the first lines and make a reader for what follows."""
    try:
        with path.open("rb") as file:
            start = file.read(256 * 1024)
        if start.startswith((b"\xff\xfe", b"\xfe\xff")):
            log.add(path.name, 1, "", "is UTF-16; save it as UTF-8 or plain text", code="not-utf-8")
            return None
        text = decoded(start[: start.rfind(b"\n") + 1] or start, mapping.file.encoding)
    except (OSError, ValueError) as error:
        log.add(path.name, 1, "", f"cannot be read ({clean(str(error))[:200]})", code="unreadable")
        return None
    separator = "\t" if mapping.file.separator == "tab" else mapping.file.separator or separator_of(text)
    rows = rows_of(text, separator)
    export = placed_export(path.name, rows, sources, mapping, separator, log)
    if export is not None and any(export.too_wide(row) for row in export.rows[:1000]):
        what = f"has rows of more cells than the {export.width} of the header; decimal commas need quotes among commas"
        log.add(path.name, export.rows[0].line, "", what, code="too-many-cells")
        return None
    return _Reader(export) if export is not None else None


_OF_TIME = ("time", "date")


class _Reader:
    """Reads the body of one file of samples."""

    def __init__(self, export: Export) -> None:
        self._export = export
        self._places = [placed.place for placed in export.columns.values()]
        self._names = list(export.columns)
        self._first_line = export.rows[0].line if export.rows else 1
        self._bad: dict[str, tuple[int, int]] = {}
        self.offset: str | None = None

    def pieces(self, path: Path) -> Iterator[tuple[Floats, dict[str, Floats]]]:
        """Yield (times, values by name), piece by piece."""
        line = 1
        with path.open("rb") as file:
            while line < self._first_line:
                line += 1
                file.readline()
            rest = b""
            while True:
                read = file.read(_PIECE)
                body = rest + read
                cut = body.rfind(b"\n") + 1 if read else len(body)
                body, rest = body[:cut], body[cut:]
                if body.strip():
                    yield self._piece(body, line)
                line += body.count(b"\n")
                if not read:
                    return

    def tell(self, log: FaultLog) -> None:
        """Name what could not be read, once a column."""
        for name, (count, line) in self._bad.items():
            head = self._export.columns[name].head
            what = f"{count} {'cell' if count == 1 else 'cells'} could not be read, the first here"
            log.add(self._export.file, line, head, what, code="bad-cell")

    def _piece(self, body: bytes, line: int) -> tuple[Floats, dict[str, Floats]]:
        body = body.replace(b"\r", b"").replace(b'"', b"")
        if self._export.decimal == "," and self._export.separator != ",":
            body = body.replace(b",", b".")
        lines = body.decode("latin-1").split("\n")
        tables = self._tables(lines, line)
        times = np.concatenate([table["time"] for table in tables])
        if "date" in self._names:
            times = np.char.add(np.char.add(np.concatenate([table["date"] for table in tables]), b" "), times)
        numbers = [name for name in self._names if name not in _OF_TIME]
        values = {name: np.concatenate([table[name] for table in tables]) for name in numbers}
        time_s = self._seconds(times, line)
        keep = np.isfinite(time_s)
        scaled = {}
        for name, column in values.items():
            placed = self._export.columns[name]
            column = column * placed.factor + placed.add
            scaled[name] = np.where(np.isfinite(column), column, np.nan)[keep]
        return time_s[keep], scaled

    def _tables(self, lines: list[str], line: int) -> list[np.ndarray]:
        if not any(text.strip() for text in lines):
            return [np.empty(0, dtype=self._dtype())]
        try:
            return [self._fast(lines)]
        except ValueError:
            pass
        tables = []
        for start in range(0, len(lines), _BLOCK):
            block = lines[start : start + _BLOCK]
            if not any(text.strip() for text in block):
                continue
            try:
                tables.append(self._fast(block))
            except ValueError:
                tables.append(self._slow(block, line + start))
        return tables

    def _dtype(self) -> np.dtype:
        return np.dtype([(name, f"S{_TIME_WIDTH}" if name in _OF_TIME else "f8") for name in self._names])

    def _fast(self, lines: list[str]) -> np.ndarray:
        order = np.argsort(self._places, kind="stable")
        names = [self._names[at] for at in order]
        return np.loadtxt(
            lines,
            delimiter=self._export.separator,
            usecols=[self._places[at] for at in order],
            dtype=np.dtype([(name, self._dtype()[name]) for name in names]),
            comments=None,
            ndmin=1,
        )

    def _slow(self, lines: list[str], line: int) -> np.ndarray:
        """Column by column, for a block in which some cell is no plain number."""
        rows = [line.split(self._export.separator) for line in lines]
        width = max(self._places) + 1
        if any(len(row) < width for row in rows):
            rows = [row + [""] * (width - len(row)) for row in rows]
        table = np.empty(len(lines), dtype=self._dtype())
        for name, place in zip(self._names, self._places, strict=True):
            cells = [row[place] for row in rows]
            if name in _OF_TIME:
                table[name] = [cell.strip().encode("latin-1") for cell in cells]
                continue
            try:
                table[name] = np.array(cells, dtype=np.float64)
            except ValueError:
                table[name] = [self._number(name, cell, line + at) for at, cell in enumerate(cells)]
        return table

    def _number(self, name: str, text: str, line: int) -> float:
        try:
            return float(text)
        except ValueError:
            text = text.strip()
        try:
            return number(text, ".")
        except ValueError:
            if text.casefold() not in ("", "-", "--", "---", "n/a", "null"):
                count, first = self._bad.get(name, (0, line))
                self._bad[name] = (count + 1, first)
            return float("nan")

    def _seconds(self, times: np.ndarray, line: int) -> Floats:
        """Seconds since 1970 on the clock's own face; NaN where the cell is no time."""
        form = self._export.forms[0] if self._export.forms else None
        seconds = seconds_by_form(times, form) if form else seconds_by_iso(times)
        if self.offset is None and not form and len(times):
            found = OFFSET.search(times[0].decode("latin-1").strip())
            self.offset = found[0] if found else ("Z" if times[0].strip().endswith(b"Z") else None)
        bad = np.flatnonzero(~np.isfinite(seconds) & (times != b""))
        for at in bad:
            try:
                found_at = moment(times[at].decode("latin-1"), self._export.forms)
                seconds[at] = (
                    np.datetime64(found_at.replace(tzinfo=None), "us") - np.datetime64(0, "us")
                ) / np.timedelta64(1, "s")
            except (ValueError, OverflowError):
                count, first = self._bad.get("time", (0, line + int(at)))
                self._bad["time"] = (count + 1, first)
        return seconds


def seconds_by_iso(times: np.ndarray) -> Floats:
    """Seconds since 1970 of times like ``2025-11-17T22:10:00``, with a fraction or not; offsets are passed over."""
    seconds = seconds_by_form(times, "%Y-%m-%d?%H:%M:%S")
    chars = _chars(times)
    if chars.shape[1] > 20:
        with_fraction = np.flatnonzero((chars[:, 19] == ord(".")) & np.isfinite(seconds))
        scale = 0.1
        going = np.ones(len(with_fraction), dtype=bool)
        for place in range(20, min(26, chars.shape[1])):
            digit = chars[with_fraction, place].astype(np.int64) - 48
            going &= (digit >= 0) & (digit <= 9)
            seconds[with_fraction] += np.where(going, digit * scale, 0.0)
            scale /= 10
    return seconds


def seconds_by_form(times: np.ndarray, form: str) -> Floats:
    """Seconds since 1970 by a form of fixed width (``?`` stands for any sign); NaN where a time does not fit it."""
    chars = _chars(times)
    fine = np.ones(len(chars), dtype=bool)
    parts: dict[str, NDArray[np.int64]] = {}
    place = 0
    for piece in re.findall(r"%.|.", form, re.DOTALL):
        width = _FIXED.get(piece, 1)
        if place + width > chars.shape[1] or (piece.startswith("%") and piece not in _FIXED):
            return np.full(len(chars), np.nan)
        if piece in _FIXED:
            digits = chars[:, place : place + width].astype(np.int64) - 48
            fine &= ((digits >= 0) & (digits <= 9)).all(axis=1)
            parts[piece] = digits @ (10 ** np.arange(width - 1, -1, -1))
        elif piece != "?":
            fine &= chars[:, place] == ord(piece)
        place += width
    if place < chars.shape[1] and "?" not in form:
        fine &= chars[:, place] == 0
    year = parts.get("%Y", 2000 + parts["%y"] if "%y" in parts else np.full(len(chars), 1970))
    month, day = parts.get("%m", np.ones_like(year)), parts.get("%d", np.ones_like(year))
    hour, minute, second = (parts.get(key, np.zeros_like(year)) for key in ("%H", "%M", "%S"))
    fine &= (month >= 1) & (month <= 12) & (day >= 1) & (hour < 24) & (minute < 60) & (second < 61)
    month = np.where(fine, month, 1)
    months = (np.where(fine, year, 1970) - 1970).astype("M8[Y]").astype("M8[M]") + (month - 1)
    days = months.astype("M8[D]").astype(np.int64) + np.where(fine, day - 1, 0)
    fine &= (months + 1).astype("M8[D]").astype(np.int64) > days
    return np.where(fine, days * 86400.0 + hour * 3600 + minute * 60 + second, np.nan)


def _chars(times: np.ndarray) -> NDArray[np.uint8]:
    flat = np.ascontiguousarray(times)
    return flat.view(np.uint8).reshape(len(flat), flat.dtype.itemsize)
