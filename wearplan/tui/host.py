"""What the screens know of the app: its snapshot, how numbers are shown, and the ways to other screens."""

from __future__ import annotations

from abc import abstractmethod
from typing import Any

from textual.app import App

from wearplan.tui.desk import Desk
from wearplan.tui.display import Display
from wearplan.tui.keep import Settings
from wearplan.tui.state import Snapshot


class Host(App[int]):
    """The app as its screens see it; `wearplan.tui.app.WearplanApp` is the one there is."""

    snapshot: Snapshot
    units: Display
    settings: Settings
    desk: Desk
    plain_signs: bool
    """Charts are drawn with signs every terminal has."""

    @abstractmethod
    def tell(self) -> None:
        """Let the screen in view know of the newest snapshot."""

    @abstractmethod
    def rework(self, step: str, **parts: Any) -> None:
        """Work again from a step on, with some parts of the snapshot replaced."""

    @abstractmethod
    def go_to(self, task: str, key: str) -> None:
        """Go to a task and point at a place there."""

    @abstractmethod
    def open_folder(self, folder: str) -> None:
        """Leave this folder and open another one."""
