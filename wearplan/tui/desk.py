"""Work in the background: the chain from the folder to the demand, in one thread that posts what it finds.

A newer run makes the older one's words stale; a thread is never killed, it is asked to stop.
"""

from __future__ import annotations

import gc
import time
import traceback
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from textual.message import Message
from textual.worker import Worker, get_current_worker

from wearplan.tui.keep import write_log
from wearplan.tui.rooms import Barred, Cancelled, Rooms
from wearplan.tui.state import STEP_WORDS, STEPS, Job, Snapshot

if TYPE_CHECKING:
    from textual.app import App


class Moved(Message):
    """A step began, went on or ended; ``parts`` are what it found."""

    def __init__(self, run: int, job: Job, parts: dict[str, Any] | None = None) -> None:
        super().__init__()
        self.run, self.job, self.parts = run, job, parts or {}

    def can_replace(self, message: Message) -> bool:
        """A newer word on progress takes the place of an older one still in the queue."""
        return (
            isinstance(message, Moved)
            and not message.parts
            and message.job.step == self.job.step
            and message.job.state == self.job.state == "working"
        )


class Desk:
    """Runs steps for the app and posts `Moved` to it."""

    def __init__(self, app: App[Any], rooms: Rooms) -> None:
        self._app = app
        self.rooms = rooms
        self.run = 0
        self._chain: Worker[None] | None = None

    def start(self, snapshot: Snapshot, step: str = "read") -> None:
        """Work from a step to the end of the chain; what ran before is asked to stop."""
        self.stop()
        self.run += 1
        run = self.run
        self._chain = self._app.run_worker(
            lambda: self._work(run, snapshot, STEPS[STEPS.index(step) :]),
            thread=True, group="chain", exclusive=True, exit_on_error=False, name=f"from {step}",
        )  # fmt: skip

    def ask(self, snapshot: Snapshot, step: str) -> None:
        """Work on one step that stands outside the chain."""
        self._app.run_worker(
            lambda: self._work(self.run, snapshot, (step,)),
            thread=True, group=step, exclusive=True, exit_on_error=False, name=step,
        )  # fmt: skip

    def stop(self) -> None:
        """Ask the chain to stop. A plan in work ends with the best found so far."""
        if self._chain is not None:
            self._chain.cancel()
        for worker in self._app.workers:
            if worker.group == "backtest":
                worker.cancel()

    def _work(self, run: int, snapshot: Snapshot, steps: tuple[str, ...]) -> None:
        worker = get_current_worker()

        def should_stop() -> bool:
            return worker.is_cancelled

        for step in steps:
            if should_stop():
                self._app.post_message(
                    Moved(run, Job(step=step, state="stopped", words=f"stopped before {STEP_WORDS[step]}"))
                )
                return
            self._app.post_message(Moved(run, Job(step=step, state="working", words=STEP_WORDS[step])))
            progress = self._progress(run, step, should_stop)
            try:
                first = getattr(self.rooms, f"{step}_first", None)
                if first is not None and (parts := first(snapshot, progress, should_stop)):
                    words = "first numbers; refining them"
                    self._app.post_message(Moved(run, Job(step=step, state="working", words=words), parts))
                parts = getattr(self.rooms, step)(snapshot, progress, should_stop)
            except Cancelled:
                self._app.post_message(
                    Moved(run, Job(step=step, state="stopped", words=f"stopped while {STEP_WORDS[step]}"))
                )
                return
            except Barred as barred:
                parts = {"site": None, "faults": barred.faults} if hasattr(barred, "faults") else {}
                self._app.post_message(Moved(run, Job(step=step, state="barred", words=str(barred)), parts))
                if step != "plan":
                    return
                continue
            except Exception as error:
                path = write_log(traceback.format_exc(), what=STEP_WORDS[step])
                words = f"{STEP_WORDS[step]} failed ({type(error).__name__}: {error}). Details: {path}"
                self._app.post_message(Moved(run, Job(step=step, state="failed", words=words)))
                return
            snapshot = snapshot.having(**parts)
            # An answer is some hundred thousand objects that live on: the collector, and with it the screen, is spared
            # looking through them again and again.
            gc.freeze()
            self._app.post_message(Moved(run, Job(step=step, state="done"), parts))

    def _progress(self, run: int, step: str, should_stop: Callable[[], bool]) -> Callable[..., None]:
        """At most ten words a second; also the place where a step without ``should_stop`` can be left."""
        last = 0.0

        def progress(words: str = "", share: float | None = None, *rest: object) -> None:
            nonlocal last
            if should_stop() and step != "plan":
                raise Cancelled
            now = time.monotonic()
            if now - last < 0.1:
                return
            last = now
            share = float(share) if isinstance(share, int | float) else None
            job = Job(step=step, state="working", share=share, words=str(words) or STEP_WORDS[step])
            self._app.post_message(Moved(run, job))

        return progress
