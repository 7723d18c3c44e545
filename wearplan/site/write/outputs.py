"""Pages, sheets, packs, tables and pictures: written as safely as records, and never through a link."""

from __future__ import annotations

from pathlib import Path

from wearplan.site.write.durable import NotWritten, replace_whole


def write_output(path: Path, content: str | bytes) -> None:
    """Put a whole file in its place in one step: what stood there stays until the new one is on the disk.

    A link is replaced and not followed. A device or a pipe is written to as it is.

    Raises
    ------
    OSError
        With the cause; the file that stood there is then untouched.
    """
    data = content.encode("utf-8") if isinstance(content, str) else content
    if not path.is_symlink() and path.exists() and not path.is_file() and not path.is_dir():
        with path.open("wb") as file:
            file.write(data)
        return
    try:
        replace_whole(path, data)
    except NotWritten as refusal:
        raise OSError(f"{refusal}") from refusal
