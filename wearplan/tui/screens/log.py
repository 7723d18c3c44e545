"""Log: begin an inspection, go on with a draft, correct the last record; and what the last one meant."""

from __future__ import annotations

from collections.abc import Callable, Coroutine
from datetime import datetime
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from wearplan.report.tables.table import Column, Table
from wearplan.report.words import plain
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.dialogs import Ask, Confirm
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.tableview import TableView

if TYPE_CHECKING:
    from wearplan.site import Draft
    from wearplan.site.records import Inspection
    from wearplan.tui.entry.sheet import Sheet
    from wearplan.tui.host import Host


class LogScreen(TaskScreen):
    """Drafts first, then what is recorded."""

    task_name = "log"
    needs = ("read", "history", "outlook")
    BINDINGS = bindings_of("log")

    def __init__(self) -> None:
        super().__init__()
        self._drafts: tuple[Draft, ...] = ()
        self._before: Snapshot | None = None
        self._written: Inspection | None = None

    def body(self) -> ComposeResult:
        with VerticalScroll(id="log-meaning", classes="auto", can_focus=False):
            yield Prose("", id="log-head", markup=False)
        yield TableView(
            id="log-table", newest_first=True,
            help="Drafts and records. N begins a new inspection, R goes on with a draft, Enter reads a record whole.",
        )  # fmt: skip

    def on_mount(self) -> None:
        self.query_one(TableView).focus()

    def on_screen_resume(self) -> None:
        super().on_screen_resume()
        self._read_drafts()

    def _read_drafts(self) -> None:
        self.run_worker(self._drafts_in_thread, thread=True, group="drafts", exclusive=True, exit_on_error=False)

    def _drafts_in_thread(self) -> None:
        from wearplan.site import load_drafts

        snapshot = self.app.snapshot
        if snapshot.site is not None:
            found = load_drafts(snapshot.folder, site_name=snapshot.site.name)
            self.app.call_from_thread(self._have_drafts, found)

    def _have_drafts(self, drafts: tuple[Draft, ...]) -> None:
        if drafts != self._drafts:
            self._drafts = drafts
            self.show_again()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        if snapshot.site is None:
            self.query_one("#log-head", Static).update(why_missing(snapshot, "read"))
            return
        if not self._drafts:
            self._read_drafts()
        self.query_one("#log-head", Static).update("\n".join(self._words(snapshot, display)))
        self.query_one(TableView).fill(*log_table(snapshot, self._drafts, display))

    def _words(self, snapshot: Snapshot, display: Display) -> list[str]:
        lines = []
        if self._drafts:
            from wearplan.tui.entry.keeper import draft_words

            lines.append(f"! A draft is here: {draft_words(self._drafts)}  R goes on with it.")
        if self._written is not None and self._before is not None:
            from wearplan.report.trouble import trouble_lines
            from wearplan.tui.entry.record import meaning

            lines.append(f"Written: {self._written.id}.")
            if snapshot.outlook is not None and snapshot.outlook is not self._before.outlook:
                lines += meaning(self._before, snapshot, display)
            else:
                lines += trouble_lines(snapshot.history.current if snapshot.history is not None else {})
                lines.append(f"What it means is being worked out: {why_missing(snapshot, 'outlook')}")
        if not lines:
            lines.append(
                "N begins a new inspection, kept at every value. Enter reads a record whole (C corrects it, W takes it "
                "back); E writes an event, S a sensor's word."
            )
        return lines

    def action_take_in(self) -> None:
        from wearplan.tui.screens.take_in import take_in

        self.app.run_worker(take_in(self.app), group="take", exclusive=True)

    def action_begin(self) -> None:
        sheet = self._empty_sheet()
        if sheet is not None:
            self._open(sheet, None)

    def _empty_sheet(self) -> Sheet | None:
        from wearplan.report.paper.chamber import walking_order
        from wearplan.tui.entry.sheet import Sheet

        snapshot = self.app.snapshot
        if snapshot.site is None or snapshot.history is None:
            self.notify(why_missing(snapshot, "history"), severity="warning", markup=False)
            return None
        order = tuple(place.number for place in walking_order(snapshot.history.layout.positions))
        return Sheet(order=order, inch=self.app.units.us)

    def _open(self, sheet: Sheet, draft: Draft | None) -> None:
        from wearplan.site import Draft as NewDraft
        from wearplan.site import new_inspection_id
        from wearplan.tui.screens.entry import EntryScreen

        snapshot = self.app.snapshot
        assert snapshot.site is not None
        now = datetime.now().astimezone()
        if draft is None:
            what = f"correction of {sheet.corrects}" if sheet.corrects else "inspection"
            draft = NewDraft(
                id=new_inspection_id(now), what=what, who="", begun_at=now, site_name=snapshot.site.name,
            )  # fmt: skip
        self._before = snapshot
        self.app.push_screen(EntryScreen(sheet, draft), self._back)

    def _back(self, written: Inspection | None) -> None:
        self._drafts = ()
        self._written = written
        self.query_one(TableView).to_top()
        self._read_drafts()
        if written is not None:
            self.notify(f"Written: inspections/{written.id}.toml", markup=False)
            self.app.rework("read")
        self.show_again()

    def action_resume(self) -> None:
        from wearplan.tui.entry.sheet import sheet_from

        if not self._drafts:
            self.notify("There is no draft. N begins a new inspection.", markup=False)
            return
        key = self.query_one(TableView).key_at_cursor() or ""
        draft = next((one for one in self._drafts if key == f"draft {one.id}"), self._drafts[0])
        empty = self._empty_sheet()
        if empty is not None:
            self._open(sheet_from(draft.values, empty.order), draft)

    def action_correct(self) -> None:
        snapshot = self.app.snapshot
        if snapshot.site is None or not snapshot.site.inspections:
            self.notify("There is no inspection to correct.", markup=False)
            return
        key = self.query_one(TableView).key_at_cursor() or ""
        if key.startswith("draft "):
            self.notify("This row is a draft: R goes on with it. Choose a record to correct.", markup=False)
            return
        chosen = self._chosen() or snapshot.site.inspections[-1]
        if chosen.withdraws:
            self.notify(f"It takes {chosen.corrects} back; W brings that one back.", markup=False)
            return
        if not self._stands(chosen):
            return
        self.app.push_screen(
            Ask(f"Why is {chosen.id} corrected?", hint="the reason is kept in the record", check=_a_reason),
            self._correct(chosen),
        )

    def on_data_table_row_selected(self, event: TableView.RowSelected) -> None:
        self.action_read()

    def _chosen(self) -> Inspection | None:
        """The record in the row."""
        site = self.app.snapshot.site
        key = self.query_one(TableView).key_at_cursor() or ""
        records = (*site.inspections, *site.corrected) if site else ()
        return next((one for one in records if key == f"record {one.id}"), None)

    def _stands(self, record: Inspection) -> bool:
        """Whether nothing replaced it; where something did, that is said."""
        site = self.app.snapshot.site
        records = (*site.corrected, *site.inspections) if site else ()
        by = next((one.id for one in records if one.corrects == record.id), None)
        if by is not None:
            self.notify(f"{record.id} was replaced by {by}: choose that one.", markup=False)
        return by is None

    def action_read(self) -> None:
        """The record in the row, whole; a draft is gone on with."""
        from wearplan.report.record_text import record_lines
        from wearplan.tui.screens.record import RecordScreen

        chosen, site = self._chosen(), self.app.snapshot.site
        if chosen is None or site is None:
            self.action_resume()
            return
        lines = [self.app.units.words(line) for line in record_lines(site, chosen)]
        self.app.push_screen(RecordScreen(f"Ring {chosen.ring}, {chosen.mode}", lines), self._after_reading)

    def _after_reading(self, what: str | None) -> None:
        if what == "correct":
            self.action_correct()
        elif what == "withdraw":
            self.action_withdraw()

    def action_withdraw(self) -> None:
        from wearplan.tui.screens.facts import withdraw

        chosen = self._chosen()
        if chosen is None:
            self.notify("Choose a record to take back; D discards a draft.", markup=False)
            return
        if not self._stands(chosen):
            return
        self.app.run_worker(withdraw(self.app, chosen), group="facts", exclusive=True)

    def action_discard(self) -> None:
        """A draft is thrown away only on purpose."""
        key = self.query_one(TableView).key_at_cursor() or ""
        draft = next((one for one in self._drafts if key == f"draft {one.id}"), None)
        if draft is None:
            self.notify("This row is no draft. W takes a record back.", markup=False)
            return
        from wearplan.tui.entry.keeper import draft_words

        lines = [draft_words([draft]), "", "What was typed in it is gone then; nothing of it is in the folder."]
        self.app.push_screen(
            Confirm("Discard this draft?", lines, yes="throw it away", no="keep it"),
            lambda yes: self._discard(draft) if yes else None,
        )

    def _discard(self, draft: Draft) -> None:
        from wearplan.site import NotWritten, drop_draft

        try:
            drop_draft(self.app.snapshot.folder, draft)
        except NotWritten as refusal:
            self.notify(str(refusal), severity="error", markup=False)
        self._drafts = tuple(one for one in self._drafts if one.id != draft.id)
        self._read_drafts()
        self.show_again()

    def action_event(self) -> None:
        from wearplan.tui.screens.facts import write_event

        self._fact(write_event)

    def action_sensor(self) -> None:
        from wearplan.tui.screens.facts import write_word

        self._fact(write_word)

    def _fact(self, write: Callable[[Host], Coroutine[None, None, bool]]) -> None:
        if self.app.snapshot.site is None:
            self.notify(why_missing(self.app.snapshot, "read"), severity="warning", markup=False)
            return
        self.app.run_worker(write(self.app), group="facts", exclusive=True)

    def _correct(self, chosen: Inspection) -> Callable[[str | None], None]:
        from wearplan.tui.entry.sheet import sheet_of

        def begin(reason: str | None) -> None:
            empty = self._empty_sheet()
            if reason is None or empty is None:
                return
            sheet = sheet_of(chosen, empty.order)
            sheet.head["reason"] = reason
            self._open(sheet, None)

        return begin


def _a_reason(text: str) -> str | None:
    return None if text.strip() else "A correction needs its reason."


def log_table(snapshot: Snapshot, drafts: tuple[Draft, ...], display: Display) -> tuple[Table, list[str]]:
    """Drafts, records that hold and then those replaced or taken back, the newest first, with their rows' keys."""
    site = snapshot.site
    rows: list[tuple[object, ...]] = []
    keys = []
    for draft in drafts:
        head = dict(draft.values.get("head", {}))
        lines = dict(draft.values.get("lines", {}))
        read = sum(1 for line in lines.values() if dict(line).get("wear"))
        rows.append(
            (
                "draft",
                str(head.get("ring", "")),
                str(head.get("chainage", "")),
                draft.saved_at,
                "",
                read,
                "",
                plain(draft.what),
            )
        )
        keys.append(f"draft {draft.id}")
    corrected = site.corrected if site else ()
    replaced = {record.corrects: record.id for record in (*(site.inspections if site else ()), *corrected)}
    for record in (*reversed(site.inspections if site else ()), *reversed(corrected)):
        read = sum(1 for m in record.measurements if m.not_read is None)
        note = f"corrects {record.corrects}" if record.corrects else plain(record.note or "")
        if record.withdraws:
            note = f"takes {record.corrects} back"
        elif record.id in replaced:
            note = f"replaced by {replaced[record.id]}"
        rows.append(
            (
                record.id,
                str(record.ring),
                display.chainage(record.chainage_m),
                record.started_at,
                record.mode,
                read,
                len(record.fittings),
                note,
            )
        )
        keys.append(f"record {record.id}")
    columns = (
        Column(key="id", head="record"),
        Column(key="ring", head="ring"),
        Column(key="chainage", head="chainage"),
        Column(key="at", head="started"),
        Column(key="mode", head="mode"),
        Column(key="read", head="read", form="int"),
        Column(key="fitted", head="fitted", form="int"),
        Column(key="note", head="note"),
    )
    return Table(title="Inspections", columns=columns, rows=tuple(rows)), keys


SCREEN = LogScreen
