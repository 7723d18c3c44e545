"""Work of the tests that workers on a cluster import by name."""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

from wearplan.fleet.answer import answer
from wearplan.fleet.records import Asked, Line


def slow(folder: str, contents: dict[str, bytes], asked: Asked) -> Line:
    """A line after a moment; the number of bytes shows that they came along."""
    time.sleep(0.15)
    return Line(folder=folder, name=Path(folder).name, state="answered", stops=sum(map(len, contents.values())))


def timed(folder: str, contents: dict[str, bytes], asked: Asked) -> Line:
    """The real work, its CPU seconds told as a remark."""
    began = time.process_time()
    line = answer(folder, contents, asked)
    return replace(line, remarks=(f"{time.process_time() - began}",))
