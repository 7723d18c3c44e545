"""The app: holds the snapshot, hands work to the desk, moves between tasks."""

from __future__ import annotations

import gc
import os
import sys
import traceback
from collections.abc import Callable, Sequence
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.screen import Screen

from wearplan.report.drawing.sheet import must_be_plain
from wearplan.report.words import plain
from wearplan.tui.actions import NAMES, TASKS, bindings_of
from wearplan.tui.careful import Careful
from wearplan.tui.commands import ActionProvider, PlaceProvider
from wearplan.tui.desk import Desk, Moved
from wearplan.tui.display import Display
from wearplan.tui.files import Offered, save_offered, stamp_of, without_addresses
from wearplan.tui.host import Host
from wearplan.tui.keep import Settings, read_settings, write_log
from wearplan.tui.plainsigns import PlainSigns
from wearplan.tui.rooms import Rooms
from wearplan.tui.screens.base import SnapshotChanged, TaskScreen
from wearplan.tui.state import Snapshot
from wearplan.tui.theme import THEME
from wearplan.tui.trail import Spot, Trail
from wearplan.tui.widgets.prose import Joiners

WATCH_SECONDS = 3.0


def _screen(task: str) -> Callable[[], Screen[Any]]:
    """A task's screen, its module imported when it is first shown."""

    def make() -> Screen[Any]:
        module = import_module(f"wearplan.tui.screens.{task}")
        screen: Screen[Any] = module.SCREEN()
        return screen

    return make


def warm() -> None:
    """Import, in a thread after the first frame, what the other screens need, so that no key waits for it."""
    for task in (*TASKS, "entry", "life", "find", "help", "reason"):
        import_module(f"wearplan.tui.screens.{task}")
    gc.freeze()


class WearplanApp(Careful, Host):
    """The terminal app of one site folder."""

    TITLE = "wearplan"
    CSS_PATH = Path(__file__).parent / "styles" / "app.tcss"
    ENABLE_COMMAND_PALETTE = True
    COMMANDS: ClassVar[set[Any]] = {ActionProvider, PlaceProvider}
    BINDINGS: ClassVar[list[Any]] = [
        *bindings_of("app"),
        Binding("ctrl+c", "app.stop_work", "Stop the work", show=False, id="app.stop_work_too", system=True),
    ]
    SCREENS: ClassVar[dict[str, Any]] = {task: _screen(task) for task in TASKS}

    def __init__(self, folder: Path | None, *, rooms: Rooms | None = None, settings: Settings | None = None) -> None:
        super().__init__()
        self.settings = settings if settings is not None else read_settings(NAMES)
        self._choosing = folder is None
        self.snapshot = Snapshot(folder=folder if folder is not None else Path.cwd())
        self.units = Display(us=self.settings.us)
        self.desk = Desk(self, rooms or Rooms())
        self._stamp: object = None
        self.trail = Trail()
        self.register_theme(THEME)
        no_ansi = self.settings.theme if not self.settings.theme.startswith("ansi") or not self.no_color else "wearplan"
        self.theme = no_ansi if no_ansi in self.available_themes else "wearplan"
        if os.environ.get("SSH_CONNECTION") and "TEXTUAL_ANIMATIONS" not in os.environ:
            self.animation_level = "none"
        self._filters.append(Joiners())
        self.plain_signs = self.settings.plain_signs or must_be_plain(getattr(sys.stdout, "encoding", None))
        if self.plain_signs:
            self._filters.append(PlainSigns())
        if self.settings.keys:
            self.set_keymap(self.settings.keys)

    def on_mount(self) -> None:
        self.push_screen("start")
        if self._choosing:
            self.call_after_refresh(self._choose)
        else:
            self.call_after_refresh(self.desk.start, self.snapshot)
            self._as_left()
        self.call_after_refresh(self.run_worker, warm, thread=True, group="warm", exit_on_error=False)
        self.set_interval(WATCH_SECONDS, self._watch)
        for fault in self.settings.faults:
            self.notify(fault, severity="warning", timeout=12, markup=False)

    def _as_left(self) -> None:
        """Go to the screen and place this folder was left at."""
        from wearplan.tui.look import left_at

        spot = left_at(self.snapshot.folder, datetime.now().astimezone())
        if spot.task != "start":
            if spot.key is not None:
                self.call_after_refresh(self.go_to, spot.task, spot.key)
            else:
                self.call_after_refresh(self.action_task, spot.task)

    def _fatal_error(self) -> None:
        """A fault of ours in the app itself: a sentence and a log file in place of a trace over the terminal."""
        path = write_log(traceback.format_exc(), what="showing the app")
        words = f"wearplan failed through a fault of its own. What was typed is kept as a draft. Details: {path}"
        if not self._exit_renderables:
            self._exit_renderables.append(Text(words))
        self._close_messages_no_wait()

    # What the desk finds ------------------------------------------------------------------------------------------

    def on_moved(self, moved: Moved) -> None:
        if moved.run != self.desk.run:
            return
        self.snapshot = self.snapshot.with_job(moved.job)
        if moved.parts:
            self.snapshot = self.snapshot.having(**moved.parts)
        if moved.job.step == "read" and moved.job.state in ("done", "barred"):
            self._stamp = stamp_of(self.snapshot.folder)
            if moved.job.state == "barred" and isinstance(self.screen, TaskScreen):
                self.action_task("faults")
        if moved.job.state == "failed":
            self.notify(moved.job.words, severity="error", timeout=15, markup=False)
        self.tell()

    def tell(self) -> None:
        """Let the screen in view know of the newest snapshot; the others look when they come into view."""
        for screen in self.screen_stack:
            if getattr(screen, "follows", False):
                screen.post_message(SnapshotChanged())

    def rework(self, step: str, **parts: Any) -> None:
        """Work again from a step on, with some parts of the snapshot replaced."""
        if step == "read":
            self._stamp = None  # what changed on disk is being read: no need to notice it
        self.snapshot = self.snapshot.having(**parts).without_from(step)
        self.desk.start(self.snapshot, step)
        self.tell()

    def _watch(self) -> None:
        """Look whether the folder changed on disk; a look is some stat calls, made in a thread."""
        if self._stamp is not None:
            self.run_worker(self._look_at_disk, thread=True, group="watch", exclusive=True, exit_on_error=False)

    def _look_at_disk(self) -> None:
        stamp = stamp_of(self.snapshot.folder)
        if self._stamp is not None and stamp != self._stamp:
            self._stamp = stamp
            self.call_from_thread(self._changed_on_disk)

    def _changed_on_disk(self) -> None:
        self.notify("The folder changed on disk; it is read again.", markup=False)
        self.rework("read")

    # Actions ------------------------------------------------------------------------------------------------------

    def action_task(self, task: str) -> None:
        """Go to a task's screen; it is as it was left."""
        while getattr(self.screen, "passing", False):
            self.pop_screen()
        if not isinstance(self.screen, TaskScreen):
            return
        while len(self.screen_stack) > 2:
            self.pop_screen()
        self.trail = self.trail.leaving(self.screen.here).to(Spot(task))
        if self.screen.task_name != task:
            self.switch_screen(task)

    def go_to(self, task: str, key: str) -> None:
        """Go to a task and point at a place there."""
        self.action_task(task)
        self.trail = self.trail.to(Spot(task, key))
        screen = self.get_screen(task)
        if isinstance(screen, TaskScreen):
            screen.point_at(key)

    def action_trail(self, way: int) -> None:
        """Back to the screen and place before, or forward again."""
        while getattr(self.screen, "passing", False):
            self.pop_screen()
        if not isinstance(self.screen, TaskScreen):
            return
        trail = self.trail.leaving(self.screen.here).step(way)
        if trail.at == self.trail.at:
            self.notify("This is where you began." if way < 0 else "This is the last place you were at.", markup=False)
            return
        spot = trail.here
        self.action_task(spot.task)
        self.trail = trail
        screen = self.get_screen(spot.task)
        if spot.key is not None and isinstance(screen, TaskScreen):
            screen.point_at(spot.key)

    def _choose(self) -> None:
        """No folder was named: ask among those looked at before."""
        from wearplan.tui.keep import read_looks
        from wearplan.tui.widgets.dialogs import Choose

        choices = [(look.folder, f"{plain(look.name)}  ·  {plain(look.folder)}") for look in read_looks()]
        choices.append((str(Path.cwd()), f"this folder  ·  {Path.cwd()}"))
        self.push_screen(
            Choose("Which site?", choices), lambda folder: self.open_folder(folder) if folder else self.exit(0)
        )

    def open_folder(self, folder: str) -> None:
        """Leave this folder and open another one."""
        self._stamp = None
        self.snapshot = Snapshot(folder=Path(folder), version=self.snapshot.version + 1)
        self.desk.start(self.snapshot)
        self.tell()

    def action_help(self) -> None:
        from wearplan.tui.screens.help import HelpScreen

        if not isinstance(self.screen, HelpScreen):
            self.push_screen(HelpScreen.about(self.screen))

    def action_find(self) -> None:
        from wearplan.tui.screens.find import FindScreen

        self.push_screen(FindScreen(), lambda found: self.go_to(*found) if found else None)

    def action_cancel(self) -> None:
        if isinstance(self.screen, TaskScreen) and self.screen.task_name != "start":
            self.action_task("start")

    def action_stop_work(self) -> None:
        job = self.snapshot.working
        if job is None:
            self.notify("Nothing is being worked out. Ctrl+Q quits.", markup=False)
            return
        self.desk.stop()
        self.notify(f"Stopping: {job.words or job.step}.", markup=False)

    def action_again(self) -> None:
        self.rework("read")

    def action_units(self) -> None:
        self.units = Display(us=not self.units.us)
        self.notify("US units are shown; the folder stays metric." if self.units.us else "Metric units are shown.")
        self.tell()

    def action_csv(self) -> None:
        from wearplan.tui.widgets.tableview import TableView

        focused = self.focused
        views = [focused] if isinstance(focused, TableView) else list(self.screen.query(TableView).results(TableView))
        table = next((view.table for view in views if view.table is not None and view.display), None)
        if table is None:
            self.notify("There is no table on this screen.", severity="warning")
            return
        self._save(Offered(name=table.title or "table", ending="csv", text=table.csv()))

    def action_svg(self) -> None:
        name = getattr(self.screen, "task_name", "") or "screen"
        self._save(Offered(name=name, ending="svg", text=without_addresses(self.export_screenshot(title="wearplan"))))

    def _save(self, offered: Offered) -> None:
        try:
            path = save_offered(offered, Path.cwd(), datetime.now().astimezone())
        except OSError as error:
            self.notify(f"Could not write: {error.strerror or error}.", severity="error", timeout=10, markup=False)
        else:
            self.notify(f"Written: {path}", markup=False)

    async def action_quit(self) -> None:
        from wearplan.tui.keep import write_look
        from wearplan.tui.look import look_now

        look = look_now(self.snapshot, self.trail.leaving(here_of(self.screen_stack)).here)
        if look is not None:
            write_look(look)
        self.desk.stop()
        self.exit(0)


def here_of(screens: Sequence[Any]) -> str | None:
    """What is pointed at on the task screen, whatever lies over it."""
    return next((screen.here for screen in reversed(screens) if isinstance(screen, TaskScreen)), None)


def run(folder: Path | None) -> int:
    """Open the app on a folder (None: the one here, else ask among recent ones); returns an exit code."""
    if folder is None and (Path.cwd() / "site.toml").is_file():
        folder = Path.cwd()
    app = WearplanApp(folder)
    sys.setswitchinterval(0.001)  # threads that learn and plan hand over to the screen sooner
    code = app.run()
    if app.return_code:
        return 70
    return 0 if code is None else code
