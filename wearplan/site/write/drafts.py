"""What is being typed, kept from the first key on, and offered again after a crash.

A draft lies in ``.wearplan/drafts`` of its site folder, or in the user's state folder when the site cannot be written.
Each has two files that are written in turn, each with a number and a checksum: whatever a power cut does to the one
being written, the other still holds the state before it.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any

from wearplan.site.parse.safe_text import clean_line
from wearplan.site.write.durable import NotWritten, create_once, make_folder, replace_whole, told, within
from wearplan.site.write.state_home import state_root

_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}\Z")
_HALVES = ("a", "b")
_HIDDEN = ".wearplan"


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A form half filled in.

    ``id`` is that of the record it will become (`new_inspection_id`), so that a crash between writing the record and
    dropping the draft cannot double it.
    """

    id: str
    what: str
    """Such as ``inspection``, ``ground`` or ``correction of 20251118T0640-k3f9``."""
    who: str
    begun_at: datetime
    saved_at: datetime | None = None
    values: Mapping[str, Any] = field(default_factory=lambda: MappingProxyType({}))
    """What was typed, and only that: nothing prefilled. Whatever JSON can hold."""
    site_name: str = ""
    folder: Path | None = None
    """The site folder it belongs to."""
    kept_at: Path | None = None
    """Where it lies; None before it was saved."""
    turn: int = 0
    """How often it was saved."""


def save_draft(folder: Path, draft: Draft, *, now: datetime) -> Draft:
    """Keep a draft; when this returns, it is on the disk.

    Returns
    -------
    Draft
        The same with ``saved_at``, ``kept_at`` and ``turn`` as they are now; hand it to the next call.

    Raises
    ------
    NotWritten
        If neither the site folder nor the user's state folder can be written. The draft saved before stays whole.
    """
    if not _ID.match(draft.id):
        raise NotWritten(folder, "not-writable-value", f"{draft.id!r} is no name for a draft.", place="id")
    draft = replace(draft, folder=folder.resolve(), saved_at=now, turn=draft.turn + 1)
    first_refusal: NotWritten | None = None
    for home in (_site_home, _state_home):
        try:
            return _save_into(home(folder, make=True), draft)
        except NotWritten as refusal:
            first_refusal = first_refusal or refusal
    assert first_refusal is not None
    raise first_refusal


def load_drafts(folder: Path, *, site_name: str = "") -> tuple[Draft, ...]:
    """The drafts of a site folder, last saved first. Those that became records are left out.

    With ``site_name``, drafts kept in the state folder for a site of that name whose folder is no longer where it was
    are offered too.
    """
    found: dict[str, Draft] = {}
    for home in _homes(folder, site_name):
        for path in sorted(home.glob("*.json")):
            draft = _read_half(path)
            if draft is None or path.stem.rpartition(".")[0] != draft.id:
                continue
            known = found.get(draft.id)
            if known is None or draft.turn > known.turn:
                found[draft.id] = draft
    drafts = [draft for draft in found.values() if not (folder / "inspections" / f"{draft.id}.toml").exists()]
    return tuple(sorted(drafts, key=lambda draft: (_clock(draft.saved_at), draft.id), reverse=True))


def drop_draft(folder: Path, draft: Draft) -> None:
    """Forget a draft: after its record is written, or because the user says so."""
    for home in _homes(folder, draft.site_name):
        for half in _HALVES:
            path = home / f"{draft.id}.{half}.json"
            with told(path), contextlib.suppress(FileNotFoundError):
                path.unlink()


def _save_into(home: Path, draft: Draft) -> Draft:
    other = _read_half(home / f"{draft.id}.{_HALVES[1 - draft.turn % 2]}.json")
    if other is not None and other.turn >= draft.turn:  # begun again from an older state: never behind what is kept
        draft = replace(draft, turn=other.turn + 1)
    path = home / f"{draft.id}.{_HALVES[draft.turn % 2]}.json"
    draft = replace(draft, kept_at=home)
    try:
        body = json.dumps(_as_dict(draft), ensure_ascii=False, allow_nan=False)
        content = body.encode("utf-8", "backslashreplace")
    except (TypeError, ValueError) as error:
        raise NotWritten(path, "not-writable-value", f"the draft holds what cannot be kept: {error}.") from error
    replace_whole(path, hashlib.sha256(content).hexdigest().encode() + b"\n" + content + b"\n")
    return draft


def _as_dict(draft: Draft) -> dict[str, Any]:
    return {
        "id": draft.id,
        "turn": draft.turn,
        "what": clean_line(draft.what),
        "who": clean_line(draft.who),
        "begun_at": draft.begun_at.isoformat(),
        "saved_at": draft.saved_at.isoformat() if draft.saved_at else None,
        "site_name": draft.site_name,
        "folder": str(draft.folder),
        "values": dict(draft.values),
    }


def _read_half(path: Path) -> Draft | None:
    """One file of a draft; None if it is not there or not whole."""
    try:
        if path.is_symlink():
            return None
        checksum, _, body = path.read_bytes().partition(b"\n")
        content = body[:-1]
        if body[-1:] != b"\n" or hashlib.sha256(content).hexdigest().encode() != checksum:
            return None
        said = json.loads(content)
        return Draft(
            id=str(said["id"]),
            turn=int(said["turn"]),
            what=clean_line(str(said["what"])),
            who=clean_line(str(said["who"])),
            begun_at=datetime.fromisoformat(said["begun_at"]),
            saved_at=datetime.fromisoformat(said["saved_at"]) if said["saved_at"] else None,
            site_name=str(said["site_name"]),
            folder=Path(said["folder"]),
            values=MappingProxyType(dict(said["values"])),
            kept_at=path.parent,
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


def _clock(moment: datetime | None) -> float:
    return moment.timestamp() if moment is not None else 0.0


def _site_home(folder: Path, *, make: bool = False) -> Path:
    home = within(folder, _HIDDEN, "drafts")
    if make and not home.is_dir():
        make_folder(home.parent)
        make_folder(home)
        with contextlib.suppress(NotWritten):
            create_once(home.parent / ".gitignore", b"*\n")
    return home


def _state_home(folder: Path, *, make: bool = False) -> Path:
    resolved = folder.resolve()
    home = state_root() / "drafts" / hashlib.sha256(os.fsencode(resolved)).hexdigest()[:16]
    if make:
        with told(home):
            home.mkdir(parents=True, exist_ok=True, mode=0o700)
    return home


def _homes(folder: Path, site_name: str) -> Iterator[Path]:
    with contextlib.suppress(NotWritten):
        yield _site_home(folder)
    here = _state_home(folder)
    yield here
    if not site_name:
        return
    with contextlib.suppress(OSError):
        for home in sorted((state_root() / "drafts").iterdir()):
            drafts = [draft for path in sorted(home.glob("*.json")) if (draft := _read_half(path)) is not None]
            if home != here and any(
                draft.site_name == site_name and draft.folder and not (draft.folder / "site.toml").exists()
                for draft in drafts
            ):
                yield home
