"""What the task screens have in common."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from textual import events
from textual.app import ComposeResult
from textual.containers import Container
from textual.message import Message
from textual.screen import Screen
from textual.widgets import Footer, Static

from wearplan.tui.careful import Careful
from wearplan.tui.display import Display
from wearplan.tui.state import Snapshot
from wearplan.tui.widgets.bars import CautionLine, TaskBar, TopLine

if TYPE_CHECKING:
    from wearplan.tui.host import Host


HELD_SECONDS = 0.3


class SnapshotChanged(Message, bubble=False):
    """A newer snapshot is there, or the display was turned."""


class TaskScreen(Careful, Screen[None]):
    """A screen for one task. Subclasses give ``task``, `body` and `show`."""

    task_name = ""
    follows = True
    """Told of every newer snapshot."""
    needs: tuple[str, ...] = ()
    """Steps whose answers this task shows."""
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]
    VERTICAL_BREAKPOINTS = [(0, "-low"), (34, "-tall")]

    app: Host

    def __init__(self) -> None:
        super().__init__()
        self._seen: tuple[int, bool] | None = None
        self._seen_version = -1
        self._wanted: str | None = None
        self._put: dict[str, Any] = {}
        self._laid_out = False
        self._held = True
        """Nothing is painted until what came into view is laid out and filled: over ssh a whole screen costs 20 kB."""

    def hold(self) -> None:
        """Paint nothing until the next `release`; at the latest it comes by itself."""
        self._held = True
        self.set_timer(HELD_SECONDS, self.release)

    def release(self) -> None:
        """Paint what changed since."""
        if self._held:
            self._held = False
            self._compositor_refresh()

    def _compositor_refresh(self) -> None:
        if not self._held:
            super()._compositor_refresh()

    @property
    def painted(self) -> bool:
        """Whether it is laid out, filled and free to be painted."""
        return self._laid_out and not self._held

    def compose(self) -> ComposeResult:
        yield TopLine(id="top")
        yield TaskBar(self.task_name)
        with Container(id="body"):
            yield from self.body()
        yield CautionLine()
        yield Footer(show_command_palette=False, compact=True)

    def body(self) -> ComposeResult:
        """The widgets of this task."""
        yield from ()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        """Bring the widgets up to a snapshot."""

    def show_work(self, snapshot: Snapshot, display: Display) -> None:
        """Bring up to date what tells of work under way; while a part this task needs is missing, everything."""
        if any(snapshot.jobs[step].state != "done" for step in self.needs):
            self.show(snapshot, display)

    def refresh_all(self) -> None:
        """Show the app's snapshot if it is newer than what is shown, or the display was turned."""
        snapshot, display = self.app.snapshot, self.app.units
        self.query_one(TopLine).show(snapshot, display)
        if self._seen != (snapshot.content, display.us):
            self._seen = (snapshot.content, display.us)
            self._seen_version = snapshot.version
            self.show(snapshot, display)
            if self._wanted is not None and self.point(self._wanted):
                self._wanted = None
        elif self._seen_version != snapshot.version:
            self._seen_version = snapshot.version
            self.show_work(snapshot, display)

    def put(self, selector: str, content: Any) -> None:
        """Show other words in a static; nothing is laid out or painted where they are the same."""
        if self._put.get(selector) != content:
            self._put[selector] = content
            self.query_one(selector, Static).update(content)

    @property
    def here(self) -> str | None:
        """What is pointed at, so that the way back leads to it."""
        return None

    def point(self, key: str) -> bool:
        """Point at what a search found; False while it is not there to be pointed at."""
        return True

    def point_at(self, key: str) -> None:
        """Point at what a search found, as soon as it is there."""
        self._wanted = None if self._seen is not None and self.point(key) else key

    def show_again(self) -> None:
        """Show the app's snapshot whether newer or not (the place for it changed)."""
        self._seen = None
        self.refresh_all()

    def on_snapshot_changed(self) -> None:
        self.refresh_all()

    def on_screen_resume(self) -> None:
        self.refresh_all()
        if self._laid_out:
            self.call_after_refresh(self.release)

    def on_screen_suspend(self) -> None:
        self._held = True

    def on_resize(self, event: events.Resize) -> None:
        self.hold()
        self.call_after_refresh(self._show_and_release)

    def _show_and_release(self) -> None:
        self._laid_out = True
        self.show_again()
        # what is shown may need a layout of its own, and that another one
        self.call_after_refresh(self.call_after_refresh, self.call_after_refresh, self.release)
