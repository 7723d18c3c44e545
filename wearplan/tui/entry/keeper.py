"""Keeps the draft on disk while the user types: the newest state always last, without holding up a key; and says what
a draft brought back holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from textual.message import Message

from wearplan.report.words import listing, plain, plural

if TYPE_CHECKING:
    from textual.widget import Widget

    from wearplan.site import Draft
    from wearplan.tui.entry.sheet import Sheet


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


def back_words(sheet: Sheet, draft: Draft) -> tuple[str, str]:
    """Before the first key: a few words on what is on the sheet, and a sentence where a draft was brought back."""
    if draft.saved_at is None:
        return ("nothing changed yet" if sheet.corrects else "nothing typed yet"), ""
    saved = draft.saved_at.astimezone()
    counts, fresh = sheet.counts(), saved.date() == datetime.now().astimezone().date()
    parts = [f"{counts[key]} {key}" for key in ("read", "not reached", "otherwise not read", "fitted") if counts[key]]
    if sheet.head:
        parts.append("the stop's data")
    what = listing(parts) if parts else "nothing was typed in it"
    return (
        f"draft of {saved:%H:%M}" if fresh else f"draft of {saved:%Y-%m-%d}",
        f"Brought back, the draft kept {saved:%Y-%m-%d %H:%M}: {what}. It goes on where nothing is typed yet.",
    )


def draft_words(drafts: Sequence[Draft]) -> str:
    """The newest draft in a line, and how many more there are."""
    draft = drafts[0]
    head, typed = dict(draft.values.get("head", {})), len(dict(draft.values.get("lines", {})))
    ring = str(head.get("ring", "")).strip()
    at = f" at ring {plain(ring)}" if ring else ""
    kept = f", kept {draft.saved_at.astimezone():%Y-%m-%d %H:%M}" if draft.saved_at else ""
    more = f", and {plural(len(drafts) - 1, 'more draft')}" if len(drafts) > 1 else ""
    return f"{plain(draft.what)}{at}, {plural(typed, 'place')} typed{kept}{more}."
