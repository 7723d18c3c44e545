"""What was written is acknowledged at once; from then on nothing that fails or is pressed may deny it."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from typing import Any

from wearplan.cli.codes import Exit, Stopped

WRITERS = ("new", "log", "take", "rings", "sensor", "event")
"""Commands that write into a folder: with them 0 says that it was written, or stood there already."""
_stands: list[str] = []


def stands() -> tuple[str, ...]:
    """What this run has written, in the words it was acknowledged with."""
    return tuple(_stands)


def forget() -> None:
    """Begin anew, as another command line does."""
    _stands.clear()


def acknowledge(line: str, *, on_stderr: bool = False) -> None:
    """Say what now stands on the disk, wherever it can be said."""
    _stands.append(line)
    for stream in (sys.stderr,) if on_stderr else (sys.stdout, sys.stderr):
        try:
            print(line, file=stream, flush=True)
            return
        except (OSError, ValueError):  # the reader went away, or the disk is full: the record stands all the same
            if stream is sys.stdout:
                mute()


def mute() -> None:
    """Nobody reads stdout any more: what is still in it must not fail when the program ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@contextlib.contextmanager
def writing(otherwise: str = "Nothing was written.") -> Iterator[None]:
    """Turn a refusal to write into exit 1 with its cause and the way out; Ctrl-C waits until what began is whole.

    Parameters
    ----------
    otherwise : str
        What stands where a write was refused.
    """
    from wearplan.site.write.durable import NotWritten

    with _held_back():
        try:
            yield
        except NotWritten as refusal:
            raise Stopped(Exit.NO, str(refusal), otherwise) from refusal


@contextlib.contextmanager
def _held_back() -> Iterator[None]:
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    pressed: list[int] = []
    before: Callable[..., Any] | int | None = signal.signal(signal.SIGINT, lambda number, frame: pressed.append(number))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if pressed:
        raise KeyboardInterrupt


def ended(command: str, why: str) -> int:
    """The exit code of a run that was cut short, with a word on what stands."""
    with contextlib.suppress(OSError, ValueError):
        if stands():
            print(f"{why}; what was written stands: {'; '.join(stands())}", file=sys.stderr)
        elif command in WRITERS:
            print(f"{why}; nothing was written", file=sys.stderr)
        else:
            print(why, file=sys.stderr)
    return Exit.DONE if stands() else Exit.NO
