"""When a search ends before it is done: counts (`settings`) decide, a person or the clock may press stop."""

from __future__ import annotations

import time
from collections.abc import Callable


class StopButton:
    """Pressed by a person or, once so many seconds are over, by the clock. Stays pressed, and says by whom.

    Parameters
    ----------
    seconds
        After which the clock presses it.
    asked
        Asked each time; True where a person wants to stop.
    """

    def __init__(self, seconds: float = 60.0, asked: Callable[[], bool] | None = None) -> None:
        self.seconds, self.asked = seconds, asked
        self.until = time.perf_counter() + seconds
        self.pressed_by = ""
        """"", "clock" or "person"."""

    @property
    def left_s(self) -> float:
        """Seconds the clock leaves."""
        return max(0.0, self.until - time.perf_counter())

    def __call__(self) -> bool:
        if not self.pressed_by:
            if self.asked is not None and self.asked():
                self.pressed_by = "person"
            elif self.left_s <= 0.0:
                self.pressed_by = "clock"
        return bool(self.pressed_by)

    def by_person(self) -> bool:
        """Whether a person pressed: what is short, and puts right what a search left, asks for no clock."""
        self()
        return self.pressed_by == "person"

    @property
    def sentence(self) -> str:
        """What the plan says of it; empty where nobody pressed."""
        if self.pressed_by == "clock":
            return (
                f"The clock stopped the search after {self.seconds:g} s: a quicker machine may find another plan; give "
                f"it longer with --time."
            )
        return "The search was stopped before it was done." if self.pressed_by else ""
