"""Keeps the draft on disk while the user types: the newest state always last, without holding up a key."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from textual.message import Message

if TYPE_CHECKING:
    from textual.widget import Widget

    from wearplan.site import Draft


class Kept(Message):
    """The draft is on disk (``fault`` None), or why it is not."""

    def __init__(self, at: datetime, where: str, fault: str | None) -> None:
        super().__init__()
        self.at, self.where, self.fault = at, where, fault


class DraftKeeper:
    """One draft, written by one thread at a time."""

    def __init__(self, owner: Widget, folder: Path, draft: Draft) -> None:
        self._owner, self._folder, self.draft = owner, folder, draft
        self._lock = Lock()
        self._waiting: Mapping[str, Any] | None = None
        self._busy = False

    def keep(self, values: Mapping[str, Any]) -> None:
        """Keep what was typed; returns at once. If a write is under way, the newest state follows it."""
        with self._lock:
            self._waiting = values
            if self._busy:
                return
            self._busy = True
        self._owner.run_worker(self._write, thread=True, group="draft", exit_on_error=False)

    def _write(self) -> None:
        from dataclasses import replace

        from wearplan.site import NotWritten, save_draft

        while True:
            with self._lock:
                values, self._waiting = self._waiting, None
                if values is None:
                    self._busy = False
                    return
            now = datetime.now().astimezone()
            fault, where = None, ""
            try:
                self.draft = save_draft(self._folder, replace(self.draft, values=values), now=now)
                where = str(self.draft.kept_at or "")
            except NotWritten as refusal:
                fault = refusal.fault.what
            except Exception as error:  # a thread that died in silence would leave the user trusting it
                fault = f"the draft could not be kept ({type(error).__name__}: {error})"
            self._owner.post_message(Kept(now, where, fault))
