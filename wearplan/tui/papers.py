"""Papers written from the screen of stops: the work pack of the next stop and the sheet for the chamber."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

from wearplan.report.words import plural
from wearplan.tui.files import Offered, save_offered
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import why_missing
from wearplan.tui.widgets.dialogs import Ask, Choose


class Papers(TaskScreen):
    """A screen from which papers are written."""

    def action_pack(self) -> None:
        """Ask who has read the plan, by the core's rule, then write the pack."""
        plan = self.app.snapshot.plan
        if plan is None or not plan.stops:
            self.notify(
                why_missing(self.app.snapshot, "plan") if plan is None else "The plan has no stop.", markup=False
            )
            return
        self.app.push_screen(
            Ask(
                "Who has read the plan and its cautions? This is no approval; the pack leaves blank lines for that.",
                hint="name", check=self._not_read_by,
            ),
            self._write_pack,
        )  # fmt: skip

    def _not_read_by(self, name: str) -> str | None:
        from wearplan.plan import read_by

        plan = self.app.snapshot.plan
        assert plan is not None
        try:
            read_by(plan, name=name, at=datetime.now().astimezone())
        except ValueError as error:
            return str(error)
        return None

    def _write_pack(self, name: str | None) -> None:
        if name is not None:
            self.run_worker(lambda: self._pack_in_thread(name), thread=True, group="papers", exit_on_error=False)

    def _pack_in_thread(self, name: str) -> None:
        from wearplan.plan import read_by
        from wearplan.report.paper.pack import write_pack

        snapshot = self.app.snapshot
        now = datetime.now().astimezone()
        folder = Path.cwd() / f"wearplan-pack-{now:%Y%m%dT%H%M%S}"
        try:
            assert snapshot.plan is not None
            assert snapshot.site is not None
            assert snapshot.outlook is not None
            assert snapshot.history is not None
            paths = write_pack(
                snapshot.site, snapshot.outlook, snapshot.plan, snapshot.history.current, folder,
                read_by=read_by(snapshot.plan, name=name, at=now),
            )  # fmt: skip
        except Exception as error:
            self._tell(f"The work pack was not written: {error}", "error")
        else:
            self._tell(f"Written: {plural(len(paths), 'file')} in {folder}", "information")

    def _tell(self, words: str, severity: Any) -> None:
        self.app.call_from_thread(self.app.notify, words, severity=severity, timeout=12, markup=False)

    def action_meeting(self) -> None:
        """Write the meeting sheet, two sides of A4."""
        snapshot = self.app.snapshot
        if snapshot.outlook is None or snapshot.history is None or snapshot.fit is None:
            self.notify(why_missing(snapshot, "outlook"), markup=False)
            return
        self.run_worker(self._meeting_in_thread, thread=True, group="papers", exit_on_error=False)

    def _meeting_in_thread(self) -> None:
        from wearplan.report.answers import Answers
        from wearplan.report.before import kept_before
        from wearplan.report.paper.meeting import meeting_html

        snapshot, now = self.app.snapshot, datetime.now().astimezone()
        history = snapshot.history
        assert snapshot.site is not None
        assert snapshot.outlook is not None
        assert snapshot.fit is not None
        assert history is not None
        assert history.calendar is not None
        answers = Answers(
            site=snapshot.site, fit=snapshot.fit, outlook=snapshot.outlook, plan=snapshot.plan, demand=snapshot.demand
        )
        try:
            text = meeting_html(
                answers,
                current=history.current,
                calendar=history.calendar,
                before=kept_before(snapshot.site),
                made_at=now,
            )
            path = save_offered(Offered(name="meeting", ending="html", text=text), Path.cwd(), now)
        except (OSError, ValueError) as error:
            self._tell(f"The meeting sheet was not written: {error}", "error")
        else:
            self._tell(f"Written: {path}. Print it from a browser.", "information")

    def action_sheet(self) -> None:
        """Write the blind sheet in a format of the user's choice."""
        if self.app.snapshot.history is None:
            self.notify(why_missing(self.app.snapshot, "history"), markup=False)
            return
        self.app.push_screen(
            Choose(
                "The sheet for the chamber, blind (no expected values on it). In which form?",
                (("html", "HTML, to print"), ("csv", "CSV, to fill in at a desk"), ("md", "Markdown")),
            ),
            self._write_sheet,
        )

    def _write_sheet(self, ending: str | None) -> None:
        from wearplan.report.paper.chamber import sheet_csv, sheet_html, sheet_markdown, sheet_rows

        snapshot = self.app.snapshot
        if ending is None or snapshot.site is None or snapshot.history is None:
            return
        rows = sheet_rows(snapshot.site, snapshot.history.current, face_m=snapshot.history.face_m)
        if ending == "csv":
            text = sheet_csv(rows)
        else:
            text = sheet_html(snapshot.site, rows) if ending == "html" else sheet_markdown(snapshot.site, rows)
        try:
            path = save_offered(
                Offered(name="sheet", ending=ending, text=text), Path.cwd(), datetime.now().astimezone()
            )
        except OSError as error:
            self.notify(f"Could not write: {error.strerror or error}.", severity="error", markup=False)
        else:
            self.notify(f"Written: {path}", markup=False)
