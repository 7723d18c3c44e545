"""stdout carries the answer, stderr the words about it."""

from __future__ import annotations

import json
import shutil
import sys
import time
from collections.abc import Iterable
from typing import Any

from wearplan.report.tables.table import Table


def say(*lines: str) -> None:
    """Words for the person at the terminal."""
    for line in lines:
        print(line, file=sys.stderr)


def width() -> int:
    """Columns to write tables in: the terminal's, or 120 where output goes elsewhere."""
    return shutil.get_terminal_size((120, 24)).columns if sys.stdout.isatty() else 120


def write(text: str) -> None:
    """The answer, as text."""
    sys.stdout.write(text if text.endswith("\n") else text + "\n")


def write_json(body: dict[str, Any]) -> None:
    """The answer, as one JSON object."""
    # Where stdout lacks letters they are escaped: the answer stays the same.
    escaped = not (sys.stdout.encoding or "utf-8").casefold().startswith("utf")
    write(json.dumps(body, indent=1, ensure_ascii=escaped, allow_nan=False))


def write_tables(tables: Iterable[Table], *, csv: bool = False) -> None:
    """Tables one after the other; as CSV with a blank line between."""
    texts = [table.csv() if csv else table.text(width()) for table in tables]
    write("\n".join(text if text.endswith("\n") else text + "\n" for text in texts))


class Progress:
    """A line on stderr about work that takes more than a second; nothing where stderr is no terminal."""

    def __init__(self) -> None:
        self._began = time.monotonic()
        self._last = 0.0
        self._drawn = False
        self._on = sys.stderr.isatty()

    def __call__(self, what: str, share: float | None = None) -> None:
        now = time.monotonic()
        if not self._on or now - self._began < 1.0 or now - self._last < 0.1:
            return
        self._last, self._drawn = now, True
        done = "" if share is None else f" {100 * share:3.0f} %"
        sys.stderr.write(f"\r\x1b[K{what}{done}")
        sys.stderr.flush()

    def close(self) -> None:
        """Take the line away."""
        if self._drawn:
            sys.stderr.write("\r\x1b[K")
            sys.stderr.flush()
