"""Answers of earlier runs, by the hash of what they came from."""

from __future__ import annotations

import contextlib
import json
import os
import time
from pathlib import Path

from wearplan.fleet.records import Line
from wearplan.site.write.state_home import state_folder

KEEP_DAYS = 60


class Kept:
    """A folder of answers; where it cannot be read or written, everything is worked out anew."""

    def __init__(self, folder: Path | None = None) -> None:
        self._folder = folder if folder is not None else state_folder() / "fleet"

    def read(self, key: str) -> Line | None:
        """The answer kept under a key; None where there is none that can be read."""
        try:
            return Line.of(json.loads((self._folder / f"{key}.json").read_text(encoding="utf-8")))
        except (OSError, ValueError, TypeError, KeyError):
            return None

    def write(self, key: str, line: Line) -> None:
        """Keep an answer; one that failed is tried again next time."""
        if line.state not in ("answered", "no plan", "faults"):
            return
        path = self._folder / f"{key}.json"
        part = path.with_suffix(f".{os.getpid()}")
        with contextlib.suppress(OSError):
            self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            part.write_text(json.dumps(line.body()), encoding="utf-8")
            part.replace(path)

    def forget_old(self) -> None:
        """Drop what nobody asked for in a long time."""
        oldest = time.time() - KEEP_DAYS * 86_400
        with contextlib.suppress(OSError):
            for path in self._folder.iterdir():
                if path.stat().st_mtime < oldest:
                    path.unlink(missing_ok=True)
