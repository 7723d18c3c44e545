"""What goes wrong unforeseen becomes a sentence on the screen and a log file, never silence and never a bare trace."""

from __future__ import annotations

import traceback

from textual.worker import Worker, WorkerState

from wearplan.tui.keep import write_log


class Careful:
    """Mixed into the app and every screen that starts threads."""

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """A thread that failed says so."""
        if event.state is not WorkerState.ERROR:
            return
        error = event.worker.error
        what = event.worker.name or event.worker.group
        trace = "".join(traceback.format_exception(error)) if error is not None else ""
        path = write_log(trace, what=what)
        words = f"That failed through a fault of ours ({type(error).__name__}: {error}). Details: {path}"
        self.app.notify(  # type: ignore[attr-defined]
            words, severity="error", timeout=15, markup=False
        )
