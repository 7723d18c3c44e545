"""What a site's folder holds, as bytes that can be sent to a worker, and the name its answer is kept under."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping
from pathlib import Path

from wearplan import __version__

ENDINGS = (".toml", ".csv")
KEPT_FORMAT = 3
"""Of the answers kept; it grows when a line changes its form."""


def contents_of(folder: Path) -> dict[str, bytes]:
    """Every file of a site folder that the program reads, by its path inside the folder.

    Raises
    ------
    OSError
        If the folder is not there or cannot be read.
    """
    found: dict[str, bytes] = {}
    for place, folders, files in os.walk(folder, onerror=_raise):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            path = Path(place) / name
            if path.suffix in ENDINGS and not name.startswith(".") and not path.is_symlink():
                found[path.relative_to(folder).as_posix()] = path.read_bytes()
    return found


def _raise(error: OSError) -> None:
    raise error


def unpack(contents: Mapping[str, bytes], into: Path) -> None:
    """Write the files out; the names come from `contents_of`."""
    for name, data in contents.items():
        path = into / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


def key_of(contents: Mapping[str, bytes], *settings: object) -> str:
    """A name for the answer: it changes with any byte of the folder, any setting and the program's version."""
    digest = hashlib.sha256(repr((__version__, KEPT_FORMAT, settings)).encode())
    for name in sorted(contents):
        data = contents[name]
        digest.update(f"\n{name}\n{len(data)}\n".encode())
        digest.update(data)
    return digest.hexdigest()
