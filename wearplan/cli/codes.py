"""Exit codes: the one place where an outcome becomes a number."""

from __future__ import annotations

from enum import IntEnum


class Exit(IntEnum):
    """What the shell is told."""

    DONE = 0
    NO = 1
    """It ran, and the answer is no; each command says what that means."""
    USAGE = 2
    FAULTS = 3
    """The folder has faults that forbid the answer."""
    NO_PLAN = 4
    """No plan keeps the rules, or none that does was found."""
    OURS = 70
    """Our own fault; a log file says more."""
    INTERRUPTED = 130


class Stopped(Exception):
    """Ends a command with a code and sentences for the error stream."""

    def __init__(self, code: Exit, *lines: str) -> None:
        super().__init__(*lines)
        self.code = code
        self.lines = lines
