"""Files that are there whole or not at all.

Nothing here takes a lock to be correct: two programs on a network share, or two laptops whose folders are merged later,
never overwrite one another. A file counts as written once its bytes and its name are on the disk.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import secrets
import stat
import sys
import time
from collections.abc import Iterator
from pathlib import Path

from wearplan.site.records import Fault

PART = ".part"
"""Ending of a file that is still being written; its name begins with a dot."""
_FORGOTTEN_AFTER_S = 86400.0
_CLAIM_TRIES, _CLAIM_WAIT_S = 20, 0.1

_CAUSES = {
    errno.ENOSPC: ("disk-full", "the disk is full. Make room, then write again; what you typed is still here"),
    errno.EDQUOT: ("disk-full", "the quota of this disk is used up. Make room, then write again"),
    errno.EROFS: ("read-only", "the folder cannot be written. Copy it to where you may write, or ask for the right to"),
    errno.EACCES: ("read-only", "you may not write here. Copy the folder to where you may, or ask for the right to"),
    errno.EPERM: ("read-only", "you may not write here. Copy the folder to where you may, or ask for the right to"),
    errno.ENOENT: (
        "folder-gone",
        "the folder is not here any more (renamed, moved, unmounted). Open it where it is now",
    ),
    errno.ENOTDIR: (
        "folder-gone",
        "the folder is not here any more (renamed, moved, unmounted). Open it where it is now",
    ),
    errno.ESTALE: ("folder-gone", "the network folder was lost. Connect it again, then write again"),
    errno.ELOOP: ("leads-outside", "is a link. Put a plain file or folder in its place"),
}


class NotWritten(Exception):
    """What was asked could not be written; ``fault`` says where, why and what to do.

    Codes: ``disk-full``, ``read-only``, ``folder-gone``, ``leads-outside``, ``exists``, ``changed-meanwhile``,
    ``not-writable-value``, ``unknown-record``, ``write-failed``.
    """

    def __init__(self, path: Path | str, code: str, what: str, *, place: str = "", line: int = 0) -> None:
        self.fault = Fault(file=str(path), line=line, place=place, what=what, code=code)
        super().__init__(str(self.fault) if line else f"{path}:{f' {place}:' if place else ''} {what}")


@contextlib.contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn an `OSError` inside into `NotWritten` with the cause in plain words."""
    try:
        yield
    except OSError as error:
        code, what = _CAUSES.get(error.errno or 0, ("write-failed", f"could not be written: {error.strerror or error}"))
        raise NotWritten(path, code, f"{what}.") from error


def within(folder: Path, *parts: str) -> Path:
    """A path below ``folder`` of which no part below it is a link.

    Raises
    ------
    NotWritten
        If ``folder`` is no site folder (any more), or a part would lead out of it.
    """
    if not (folder / "site.toml").is_file():
        raise NotWritten(
            folder, "folder-gone", "holds no site.toml: no site folder, or it was renamed. Open it where it is now."
        )
    path = folder
    for part in parts:
        if part in ("", ".", "..") or "/" in part or "\\" in part or "\0" in part:
            raise NotWritten(folder, "leads-outside", f"{part!r} is no name for a file of this folder.")
        path = path / part
        if path.is_symlink():
            raise NotWritten(path, "leads-outside", "is a link. Put a plain file or folder in its place.")
    return path


def make_folder(path: Path) -> None:
    """Make one folder durably; its parent must be there."""
    with told(path), contextlib.suppress(FileExistsError):
        path.mkdir()
        sync_folder(path.parent)


def sync_file(handle: int) -> None:
    """Have the bytes of an open file on the disk."""
    if sys.platform == "darwin":  # there fsync alone stops at the drive's own cache
        import fcntl

        with contextlib.suppress(OSError):
            fcntl.fcntl(handle, fcntl.F_FULLFSYNC)
            return
    os.fsync(handle)


def sync_folder(path: Path) -> None:
    """Have the names in a folder on the disk; where a system cannot do that it has no need to be asked."""
    if os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_DIRECTORY", 0))
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP, errno.EBADF):  # some network shares
            raise
    finally:
        os.close(handle)


def write_all(handle: int, content: bytes) -> None:
    """Write every byte; a short write is followed by the error that caused it."""
    view = memoryview(content)
    while view:
        view = view[os.write(handle, view) :]


@contextlib.contextmanager
def _part_file(path: Path, content: bytes, mode: int) -> Iterator[Path]:
    """A synced temporary file beside ``path``, gone afterwards."""
    part = path.with_name(f".{path.name}.{secrets.token_hex(6)}{PART}")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
    try:
        try:
            write_all(handle, content)
            sync_file(handle)
        finally:
            os.close(handle)
        yield part
    finally:
        with contextlib.suppress(OSError):
            part.unlink()


def create_once(path: Path, content: bytes) -> bool:
    """Write a new file whole, and never over another one.

    Returns
    -------
    bool
        True if it is new; False if it was there already with the same bytes (an earlier try that had succeeded).

    Raises
    ------
    NotWritten
        Code ``exists`` if another file has the name; otherwise why the disk refused.
    """
    with told(path):
        sweep(path.parent)
        with _part_file(path, content, 0o666) as part:
            new = _name_once(part, path)
        if not new and _bytes_at(path) != content:
            raise NotWritten(path, "exists", "is there already and says something else; it was left as it is.")
        sync_folder(path.parent)
        if _bytes_at(path) != content:  # the folder was renamed between the steps
            raise FileNotFoundError(errno.ENOENT, "renamed", str(path))
    return new


def _name_once(part: Path, path: Path) -> bool:
    """Give the finished file its name unless that is taken; one step, even among several programs."""
    try:
        os.link(part, path)
        return True
    except FileExistsError:
        return False
    except OSError as error:
        if error.errno not in (errno.EPERM, errno.ENOTSUP, errno.ENOSYS, errno.EMLINK, errno.EINVAL, errno.EACCES):
            raise
    return _name_by_claim(part, path)


def _name_by_claim(part: Path, path: Path) -> bool:
    """The same where a disk knows no links: who makes the claim owns the name, for the moment a rename takes."""
    claim = path.with_name(f".{path.name}.claim")
    for _ in range(_CLAIM_TRIES):
        try:
            os.close(os.open(claim, os.O_WRONLY | os.O_CREAT | os.O_EXCL))
            break
        except FileExistsError:
            if path.exists():
                return False
            time.sleep(_CLAIM_WAIT_S)  # else its owner died between claim and rename: the name is free again
    try:
        if path.exists():
            return False
        part.rename(path)
        return True
    finally:
        with contextlib.suppress(OSError):
            claim.unlink()


def _bytes_at(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None


def replace_whole(path: Path, content: bytes) -> None:
    """Put new bytes in the place of a file in one step, keeping its rights."""
    with told(path):
        try:
            mode = stat.S_IMODE(path.stat().st_mode)
        except FileNotFoundError:
            mode = 0o666
        with _part_file(path, content, mode) as part:
            if mode != 0o666:
                part.chmod(mode)
            part.replace(path)
        sync_folder(path.parent)


def sweep(folder: Path) -> None:
    """Remove what crashed writers left in a folder more than a day ago."""
    now = time.time()
    with contextlib.suppress(OSError):
        for part in folder.glob(f".*{PART}"):
            with contextlib.suppress(OSError):
                if now - part.lstat().st_mtime > _FORGOTTEN_AFTER_S:
                    part.unlink()


def sha256_of(content: bytes) -> str:
    """The SHA-256 of bytes, in hexadecimal."""
    return hashlib.sha256(content).hexdigest()
