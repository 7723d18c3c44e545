"""New facts into the folder: each a new file, written once and never edited.

Nothing here needs a lock. A file's name carries a time and a random part, so that two programs, two laptops or two
merged copies never take the same one; a clock that runs back changes a name and nothing else, for order is by ring and
chainage.
"""

from __future__ import annotations

import dataclasses
import re
import tomllib
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from wearplan.site.parse.conforming import faults_in
from wearplan.site.parse.safe_text import clean_text, file_word
from wearplan.site.records import Ground, Inspection
from wearplan.site.records.naming import INSPECTION_ID, new_inspection_id, random_part
from wearplan.site.write.durable import NotWritten, create_once, make_folder, within
from wearplan.site.write.record_toml import NotSayable, ground_toml, inspection_toml, toml_text

_GROUND_NUMBER = re.compile(r"(\d+)-.*\.toml\Z")


def write_inspection(folder: Path, inspection: Inspection) -> Path:
    """Write one inspection as a new file; when this returns, it is on the disk.

    Writing the very same inspection again (after a crash or an unclear answer of a network disk) changes nothing and
    gives the same path.

    Raises
    ------
    NotWritten
        With the cause and the way out. Code ``exists`` if the id is taken by another inspection.
    """
    if inspection.corrects is not None and not (inspection.reason or "").strip():
        raise NotWritten(folder, "not-writable-value", "a correction needs its reason.", place="reason")
    text = _sayable(folder, f"inspections/{inspection.id}.toml", lambda: inspection_toml(inspection))
    return _write_inspection_text(folder, inspection.id, text)


def _write_inspection_text(folder: Path, inspection_id: str, text: str) -> Path:
    path = within(folder, "inspections", f"{inspection_id}.toml")
    make_folder(path.parent)
    create_once(path, text.encode("utf-8"))
    return path


def correct_inspection(
    folder: Path, old_id: str, new_inspection: Inspection, reason: str, *, now: datetime | None = None
) -> Path:
    """Write an inspection that replaces an earlier one; the earlier one stays as it is.

    Parameters
    ----------
    old_id : str
        The inspection to replace. If it was replaced already, its replacement must be named.
    new_inspection : Inspection
        The whole inspection as it should have been. If its id is ``old_id`` it gets one of its own.
    reason : str
        Why; one cannot do without.
    now : datetime, optional
        For the new id; the computer's clock by default.
    """
    _may_be_corrected(folder, old_id, but_for=new_inspection.id)
    new_id = new_inspection.id
    if new_id in ("", old_id):
        new_id = new_inspection_id(now or datetime.now().astimezone())
    return write_inspection(
        folder, dataclasses.replace(new_inspection, id=new_id, corrects=old_id, reason=clean_text(reason))
    )


def undo_correction(
    folder: Path, correction_id: str, reason: str, *, now: datetime, note: str | None = None
) -> Path:
    """Take a record back by a further one: it says again what the corrected record said, or for an original nothing.

    Parameters
    ----------
    note : str, optional
        A line more for the note of the new record.
    """
    data = _inspection_data(folder, correction_id)
    earlier_id = data.get("corrects")
    _may_be_corrected(folder, correction_id)
    if not clean_text(reason):
        raise NotWritten(folder, "not-writable-value", "a correction needs its reason.", place="reason")
    earlier = _inspection_data(folder, earlier_id) if isinstance(earlier_id, str) else _head_only(data)
    new_id = new_inspection_id(now)
    head = {key: value for key, value in earlier.items() if not _is_tables(value)}
    head |= {"id": new_id, "corrects": correction_id, "reason": clean_text(reason)}
    if note:
        head["note"] = "\n".join(part for part in (head.get("note"), clean_text(note)) if part)
    tables = {key: value for key, value in earlier.items() if _is_tables(value)}
    text = _sayable(folder, f"inspections/{new_id}.toml", lambda: toml_text(head, tables))
    return _write_inspection_text(folder, new_id, text)


def _head_only(data: dict[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in data.items() if not isinstance(value, list)}


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(row, dict) for row in value)


def _may_be_corrected(folder: Path, old_id: str, *, but_for: str = "") -> None:
    path = _inspection_path(folder, old_id)
    if not path.is_file():
        raise NotWritten(path, "unknown-record", f"there is no inspection {old_id} to correct.")
    for other_id, data in _inspections(folder):
        if data.get("corrects") == old_id and other_id != but_for:
            raise NotWritten(path, "unknown-record", f"was corrected already by {other_id}; correct that one.")


def _inspections(folder: Path) -> Iterator[tuple[str, dict[str, Any]]]:
    for path in sorted((folder / "inspections").glob("[!.]*.toml")):
        try:
            yield path.stem, tomllib.loads(path.read_text("utf-8"))
        except (OSError, ValueError):  # `check` names what cannot be read; it cannot name a correction either
            continue


def _inspection_path(folder: Path, inspection_id: str) -> Path:
    if not INSPECTION_ID.match(inspection_id):
        raise NotWritten(folder, "unknown-record", f"{inspection_id!r} is no name of an inspection.")
    return within(folder, "inspections", f"{inspection_id}.toml")


def _inspection_data(folder: Path, inspection_id: str) -> dict[str, Any]:
    path = _inspection_path(folder, inspection_id)
    try:
        return tomllib.loads(path.read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise NotWritten(path, "unknown-record", f"cannot be read ({error}), so it cannot be repeated.") from error


def write_ground(folder: Path, ground: Ground) -> Path:
    """Write the ground as now known, whole, as a new dated file; the earlier ones stay."""
    text = _sayable(folder, "ground/new.toml", lambda: ground_toml(ground))
    home = within(folder, "ground")
    make_folder(home)
    numbers = [int(found[1]) for path in home.iterdir() if (found := _GROUND_NUMBER.match(path.name))]
    parts = (f"{max(numbers, default=0) + 1:04d}", f"{ground.known_on:%Y%m%d}", file_word(ground.source))
    name = "-".join(part for part in (*parts, random_part(4)) if part)
    path = within(folder, "ground", f"{name}.toml")
    create_once(path, text.encode("utf-8"))
    return path


def _sayable(folder: Path, name: str, made: Callable[[], str]) -> str:
    """The text of a new file, if the format can say it and would take it back without a fault."""
    try:
        text = made()
    except NotSayable as error:
        key, _, what = str(error).partition(": ")
        raise NotWritten(folder, "not-writable-value", f"{what or key}. Nothing was written.", place=key) from error
    except UnicodeEncodeError as error:
        raise NotWritten(folder, "not-writable-value", f"holds text that is none ({error}).") from error
    faults = faults_in(name, text)
    if faults:
        raise NotWritten(folder, "not-writable-value", f"{faults[0].what}. Nothing was written.", place=faults[0].place)
    return text
