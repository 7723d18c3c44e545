"""Reads the files of a site folder: only regular files inside it, bounded in size and number.

A folder may come from a stranger. A link that leads out of the folder is refused and named, and so is whatever is
not a regular file (a pipe would wait for ever). Nothing is followed by a name written inside a file.
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from pathlib import Path

from wearplan.site.parse.faults import ALL, NOTHING, FaultLog
from wearplan.site.parse.text import clean

MEGABYTE = 1024 * 1024
LARGEST = {".toml": MEGABYTE, ".csv": 24 * MEGABYTE}
"""Largest size of one file, by ending. A drive of 10,000 rings with 40 columns needs some 4 MB."""
LARGEST_SUM = 64 * MEGABYTE
_MERGE_MARKS = re.compile(rb"^<{7}(?: |\r?$)", re.MULTILINE)
MOST_FILES = 5_000
"""Most files read in one sub-folder."""


class Folder:
    """A site folder while it is read: gives texts, notes faults, and sums up what was read."""

    def __init__(self, root: Path, log: FaultLog) -> None:
        self.root = Path(os.path.realpath(root))
        self.log = log
        self._sums: dict[str, str] = {}
        self._read = 0

    def names(self, sub: str = "") -> list[str]:
        """The names directly in the folder or a sub-folder, sorted; hidden ones left out; empty where absent."""
        where = self.root / sub if sub else self.root
        if sub and not os.path.lexists(where):
            return []
        if sub and not self._inside(where, f"{sub}/"):
            return []
        try:
            with os.scandir(where) as entries:
                found = []
                for entry in entries:
                    if entry.name.startswith("."):
                        continue
                    found.append(entry.name)
                    if len(found) > MOST_FILES and not sub:
                        break  # the files of the site are looked up by name
                    if len(found) > MOST_FILES:
                        self._fault(
                            f"{sub}/", f"holds more than {MOST_FILES} files; the rest is not read", "too-many-files"
                        )
                        break
        except NotADirectoryError:
            self._fault(sub, "is a file; it must be a folder", "not-a-folder")
            return []
        except OSError as error:
            self._fault(f"{sub}/", f"cannot be read ({error.strerror})", "unreadable")
            return []
        return sorted(found)

    def text(self, name: str) -> str | None:
        """The text of one file (relative name with ``/``); None where it is absent, or refused with a fault."""
        raw = self.raw(name)
        if raw is None:
            return None
        marks = _MERGE_MARKS.search(raw)
        if marks:
            what = (
                "holds the marks of a merge that was not finished (<<<<<<<, =======, >>>>>>>): keep the lines that are "
                "true, of rows those of both sides, and take the marks out"
            )
            forbids = NOTHING if name == "events.csv" else ALL
            line = raw.count(b"\n", 0, marks.start()) + 1
            self.log.add(name, line, "", what, code="merge-marks", forbids=forbids)
            if name.endswith(".toml"):
                return None
        try:
            return raw.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            line = raw.count(b"\n", 0, error.start) + 1
            if name.endswith(".csv") and b"\x00" not in raw[:1000]:
                # one bad byte costs its row, not the file: the mark that stands for it is no part of a number
                self.log.add(
                    name, line, "", "is not UTF-8 here; what cannot be read is shown as \ufffd; save the file as UTF-8",
                    code="not-utf-8",
                )  # fmt: skip
                return raw.decode("utf-8-sig", errors="replace")
            self._fault(name, "is not UTF-8 text; save it as UTF-8", "not-utf-8", line)
            return None

    def raw(self, name: str) -> bytes | None:
        """The bytes of one file; None where it is absent, or refused with a fault."""
        path = self.root / name
        if not os.path.lexists(path) or not self._inside(path, name):
            return None
        largest = LARGEST.get(path.suffix, MEGABYTE)
        try:
            # not waiting: opening a pipe must not block
            handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_CLOEXEC", 0))
            with os.fdopen(handle, "rb") as file:
                status = os.fstat(handle)
                if not stat.S_ISREG(status.st_mode):
                    self._fault(name, "is not a regular file; it is not read", "not-a-file")
                    return None
                if status.st_size > largest or self._read + status.st_size > LARGEST_SUM:
                    limit = largest if status.st_size > largest else LARGEST_SUM
                    what = "files of this kind" if status.st_size > largest else "all files of a folder together"
                    self._fault(
                        name,
                        f"is {status.st_size / MEGABYTE:.0f} MB; {what} may have {limit // MEGABYTE} MB: this cannot "
                        "be what a drive needs, it is not read",
                        "too-large",
                    )
                    self._sums[name] = f"too large: {status.st_size}"
                    return None
                raw = file.read(largest + 1)
        except OSError as error:
            self._fault(name, f"cannot be read ({error.strerror})", "unreadable")
            return None
        self._read += len(raw)
        self._sums[name] = hashlib.sha256(raw).hexdigest()
        return raw

    def sha256(self) -> str:
        """One sum over the names and contents of all files read so far, whatever their order."""
        whole = hashlib.sha256()
        for name in sorted(self._sums):
            whole.update(f"{name}\0{self._sums[name]}\n".encode("utf-8", "surrogateescape"))
        return whole.hexdigest()

    def _inside(self, path: Path, name: str) -> bool:
        """Whether a path, links followed, stays in the folder; if not, that is named."""
        try:
            real = Path(os.path.realpath(path, strict=True))
        except (OSError, RuntimeError):
            self._fault(name, "is a link that leads nowhere; it is not read", "dead-link")
            return False
        if real != self.root and self.root not in real.parents:
            self._fault(
                name, "is a link that leads out of the site folder; it is refused, copy the file in", "link-out"
            )
            return False
        return True

    def _fault(self, name: str, what: str, code: str, line: int = 1) -> None:
        from wearplan.site.parse.document import forbidden_by

        self.log.add(clean(name) or ".", line, "", what, code=code, forbids=forbidden_by(name))
