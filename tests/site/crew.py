"""Inspections to write, and processes that write them until they are killed."""

from __future__ import annotations

import dataclasses
import os
import random
import signal
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from tests.site.small_site import texts, write
from wearplan.site import load
from wearplan.site.records import Fitting, Inspection, Loaded, Measurement, RingRow
from wearplan.site.records.naming import new_inspection_id

NOW = datetime(2025, 11, 20, 6, 40, tzinfo=UTC)


def inspection(name: str | None = None, *, ring: int = 50, readings: int = 5, at: datetime = NOW) -> Inspection:
    """A stop of the small site with a reading at each of its five places and one change."""
    return Inspection(
        id=name or new_inspection_id(at),
        ring=ring,
        chainage_m=100.0 + 1.5 * ring,
        driven_m=1.5 * ring,
        started_at=at,
        mode="free air",
        measurements=tuple(
            Measurement(position=1 + place % 5, wear_mm=9.0 + place, method="gauge") for place in range(readings)
        ),
        fittings=(Fitting(position=3, action="change", reason="limit", new_serial="D-9"),),
    )


def ring(number: int, **changes: object) -> RingRow:
    """A ring of the small site's drive, as an import hands it over."""
    start = 1.5 * (number - 1)
    row = RingRow(
        ring=number,
        start_chainage_m=100.0 + start,
        end_chainage_m=101.5 + start,
        start_m=start,
        end_m=start + 1.5,
        finished_at=NOW,
        revolutions_boring=66.5,
        revolutions_idle=3.25,
    )
    return dataclasses.replace(row, **changes)


def small_site(folder: Path) -> Path:
    """The sound small site, written into a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    return write(folder, dict(texts()))


def loaded(folder: Path) -> Loaded:
    """The folder read back; a site must come of it."""
    found = load(folder)
    assert found.site is not None, [str(fault) for fault in found.faults]
    return found


@contextmanager
def child(work: Callable[[Callable[[str], None]], None]) -> Iterator[tuple[int, int]]:
    """A forked process that does ``work`` and tells through a pipe what it was promised; yields (process, pipe)."""
    reading, writing = os.pipe()
    process = os.fork()
    if process == 0:
        code = 1
        try:
            os.close(reading)
            work(lambda word: os.write(writing, f"{word}\n".encode()) and None)
            code = 0
        finally:
            os._exit(code)
    os.close(writing)
    try:
        yield process, reading
    finally:
        os.close(reading)
        for end in (lambda: os.kill(process, signal.SIGKILL), lambda: os.waitpid(process, 0)):
            with suppress(ProcessLookupError, ChildProcessError):
                end()


def killed_while(work: Callable[[Callable[[str], None]], None], *, rng: random.Random, longest_s: float) -> list[str]:
    """Run ``work`` in a process, kill it at a random moment after its first word, and return what it had told."""
    with child(work) as (process, pipe):
        told = os.read(pipe, 65536)
        time.sleep(rng.random() * longest_s)
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        while more := os.read(pipe, 65536):
            told += more
    return told.decode().split()


def in_child(work: Callable[[], str]) -> str:
    """What ``work`` returns in a forked process."""
    with child(lambda tell: tell(work())) as (process, pipe):
        told = b""
        while more := os.read(pipe, 65536):
            told += more
        assert os.waitpid(process, 0)[1] == 0
    return told.decode().rstrip("\n")
