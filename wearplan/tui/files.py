"""Files the app writes outside the folder when asked to, and a stamp that tells whether the folder changed."""

from __future__ import annotations

import os
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class Offered:
    """A text to be written to a file the user asked for."""

    name: str
    ending: str
    text: str


def save_offered(offered: Offered, folder: Path, now: datetime) -> Path:
    """Write into ``folder`` under a name that is not taken; raises OSError where it cannot.

    The name is made of letters, digits and dashes only, so that nothing a site's files say can steer where it goes.
    """
    stem = re.sub(r"[^a-z0-9]+", "-", offered.name.lower()).strip("-")[:48] or "wearplan"
    for number in range(1, 1000):
        tail = "" if number == 1 else f"-{number}"
        path = folder / f"wearplan-{stem}-{now:%Y%m%dT%H%M%S}{tail}.{offered.ending}"
        try:
            with path.open("x", encoding="utf-8", newline="") as file:
                file.write(offered.text)
        except FileExistsError:
            continue
        return path
    raise OSError("no free name")


def without_addresses(svg: str) -> str:
    """A picture without the fonts it would fetch from outside and the note on who drew it; a font at hand stands in."""
    svg = re.sub(r"@font-face\s*\{[^}]*\}", "", svg)
    return re.sub(r"<!--.*?-->", "", svg, flags=re.DOTALL)


def stamp_of(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Name, size and time of change of every file of a site; hidden ones (drafts) left out."""
    rows = []
    try:
        for below in (folder, folder / "ground", folder / "inspections"):
            if not below.is_dir() or below.is_symlink():
                continue
            with os.scandir(below) as entries:
                for entry in entries:
                    if entry.name.endswith((".toml", ".csv")) and not entry.name.startswith("."):
                        found = entry.stat(follow_symlinks=False)
                        rows.append((f"{below.name}/{entry.name}", found.st_size, found.st_mtime_ns))
    except OSError:
        return (("unreadable", 0, 0),)
    return tuple(sorted(rows))
