"""What the app sends to a terminal of 160 by 48, counted on a pseudo-terminal: over ssh this is what a key costs."""

from __future__ import annotations

import os
import select
import struct
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

fcntl = pytest.importorskip("fcntl")
pty = pytest.importorskip("pty")
termios = pytest.importorskip("termios")

TOP = Path(__file__).resolve().parents[2]
OPENING_KB, SCREEN_KB, KEY_KB = 120, 50, 12
QUIET = 0.35
"""Seconds without a byte after which the app is taken to have nothing more to send."""


class Terminal:
    """The app on a pseudo-terminal."""

    def __init__(self, folder: Path, home: Path) -> None:
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.environ.update(
                TERM="xterm-256color", COLORTERM="truecolor", PYTHONPATH=str(TOP), TEXTUAL_ANIMATIONS="none",
                XDG_STATE_HOME=str(home), XDG_CONFIG_HOME=str(home), COLUMNS="160", LINES="48",
            )  # fmt: skip
            os.environ.pop("NO_COLOR", None)
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 48, 160, 0, 0))
            os.chdir(TOP)
            os.execv(sys.executable, [sys.executable, "-m", "tests.tui.bytes_app", str(folder)])

    def until(self, words: str, *, seconds: float = 60.0) -> int:
        """Bytes read until these words have come and then nothing more."""
        seen, ends = b"", time.monotonic() + seconds
        while time.monotonic() < ends:
            if select.select([self.fd], [], [], QUIET)[0]:
                seen += os.read(self.fd, 65536)
            elif words.encode() in seen:
                return len(seen)
        raise AssertionError(f"{words!r} did not come: {seen[-300:]!r}")

    def press(self, keys: str, words: str) -> int:
        os.write(self.fd, keys.encode())
        return self.until(words)


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    app = Terminal(tmp_path, tmp_path / "home")
    yield app
    os.kill(app.pid, 9)
    os.waitpid(app.pid, 0)
    os.close(app.fd)


def test_bytes_of_opening_of_a_screen_and_of_a_key(terminal: Terminal) -> None:
    opening = terminal.until("up to date")
    wheel = terminal.press("\x1bOR", "Worst first")
    keys = {
        "n": terminal.press("n", "Place"),
        "w": terminal.press("w", "Place"),
        "down": terminal.press("\x1b[B", "Place"),
    }
    ahead = terminal.press("\x1b[17~", "at its limit")
    keys["tool"] = terminal.press("n", "Place")
    keys["pointer"] = terminal.press("\x1b[C", "At ")
    stops = terminal.press("\x1b[18~", "If stop 1 is passed")
    keys["stop"] = terminal.press("\x1b[B", "Cautions")
    back = terminal.press("\x1bOQ", "ON THE WHEEL NOW")
    print(f"\nopening {opening}, wheel {wheel}, ahead {ahead}, stops {stops}, back {back}, keys {keys}")
    assert opening <= 1000 * OPENING_KB
    assert max(wheel, ahead, stops, back) <= 1000 * SCREEN_KB
    assert max(keys.values()) <= 1000 * KEY_KB, keys
