"""Inspection entry: the sheet in walking order, as quick to fill as paper and harder to lose."""

from __future__ import annotations

import contextlib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.content import Content
from textual.screen import Screen
from textual.widgets import Footer

from wearplan.gate import contradicted, judge, with_acceptance
from wearplan.report.words import plain
from wearplan.site.write.durable import NotWritten
from wearplan.site.write.edits import keep_time_zone
from wearplan.tui.actions import bindings_of
from wearplan.tui.careful import Careful
from wearplan.tui.display import Display
from wearplan.tui.entry.expecting import Basis, Expectations, basis_before, basis_of, last_reading, odd, waiting_basis
from wearplan.tui.entry.keeper import DraftKeeper, Kept, back_words
from wearplan.tui.entry.keys import key_notes
from wearplan.tui.entry.record import corrected_by, preview, record_of
from wearplan.tui.entry.sheet import ACCEPTED, ACCEPTED_BY, Sheet, accepted_key
from wearplan.tui.entry.typing import Typist
from wearplan.tui.entry.words import most_wear_mm, read_head, read_wear
from wearplan.tui.screens.acceptance import accept_each
from wearplan.tui.screens.headform import HeadForm
from wearplan.tui.widgets.bars import CautionLine
from wearplan.tui.widgets.dialogs import Confirm, Read
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.sheetview import Row, SheetView
from wearplan.tui.widgets.words import Words

if TYPE_CHECKING:
    from wearplan.gate import Finding
    from wearplan.site import Draft
    from wearplan.site.records import Inspection, Site
    from wearplan.tui.host import Host
    from wearplan.tui.state import Snapshot


class EntryScreen(Careful, Screen["Inspection | None"]):
    """Gives the inspection when it is written, None when it was left (the draft is kept)."""

    task_name = "entry"
    follows = True
    NOTES = key_notes()
    BINDINGS = bindings_of("entry")
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (110, "-wide")]
    VERTICAL_BREAKPOINTS = [(0, "-low"), (34, "-tall")]

    app: Host

    def __init__(self, sheet: Sheet, draft: Draft) -> None:
        super().__init__()
        self._sheet, self._draft = sheet, draft
        self._keeper: DraftKeeper | None = None
        self._typist = Typist(sheet=sheet, expected={}, units=Display(us=sheet.inch))
        self._kept_words, self._back_words = back_words(sheet, draft)
        self._writing = False
        self._basis: Basis | None = None
        self._rests_on: tuple[object, object] | None = None

    @property
    def typist(self) -> Typist:
        """The sheet and where the cursor is."""
        return self._typist

    def compose(self) -> ComposeResult:
        with Vertical(id="entry-top"):
            yield Words(id="entry-head")
            yield Words(id="entry-tally")
        with Horizontal():
            yield SheetView(id="sheet")
            with Vertical(id="entry-side", classes="side"):
                yield Words(id="entry-place")
                yield Prose(key_notes(), id="entry-keys", markup=False)
        yield Words(id="entry-ask")
        yield CautionLine()
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        snapshot = self.app.snapshot
        site = snapshot.site
        assert site is not None
        self._keeper = DraftKeeper(self, snapshot.folder, self._draft)
        self._typist.most_mm = most_wear_mm(site)
        self._typist.methods = tuple(gauging.method for gauging in site.wheel.gauging)
        self._follow()
        self._expect()
        view = self.query_one(SheetView)
        rows = self._rows_of_sheet()
        view.fill(rows, self._typist.units)
        empty = [index for index, number in enumerate(self._sheet.order) if self._sheet.line(number).empty]
        self._typist.at = empty[0] if empty and len(empty) < len(rows) else 0
        view.focus()
        self._show_all()
        if not self._sheet.head:
            self.action_head()

    def on_snapshot_changed(self) -> None:
        """Results arrived while one types: hold the next value against them, and say whether there are any."""
        if self.app.snapshot.site is None or self.app.snapshot.history is None:
            return
        if self._follow():
            self._expect()
            self.query_one(SheetView).fill(self._rows_of_sheet(), self._typist.units)
            self._show_all()
        else:
            self._head_line()

    def _follow(self) -> bool:
        """Rest on the newest folder and outlook; for a correction on those without the record it replaces."""
        snapshot = self.app.snapshot
        record = corrected_by(self._sheet, snapshot.site) if snapshot.site is not None else None
        rests_on = (snapshot.site, None if record is not None else snapshot.outlook)
        if self._rests_on is not None and all(one is two for one, two in zip(rests_on, self._rests_on, strict=True)):
            if record is None:
                self._basis = basis_of(snapshot)
            return False
        self._rests_on = rests_on
        self._basis = basis_of(snapshot) if record is None else waiting_basis(snapshot)
        if record is not None:
            self.run_worker(lambda: self._work_out(snapshot, record), thread=True, group="basis", exit_on_error=False)
        return True

    def _work_out(self, snapshot: Snapshot, record: Inspection) -> None:
        basis = basis_before(snapshot, record, self.app.desk.rooms)
        self.app.call_from_thread(self._have_basis, snapshot.site, basis)

    def _have_basis(self, site: Site, basis: Basis) -> None:
        if self._rests_on is not None and self._rests_on[0] is site and self.is_attached:
            self._basis = basis
            self._expect()
            self.query_one(SheetView).fill(self._rows_of_sheet(), self._typist.units)
            self._show_all()

    def _expect(self) -> None:
        snapshot = self.app.snapshot
        assert snapshot.site is not None
        assert self._basis is not None
        head, _ = read_head(self._sheet.head, snapshot.site, snapshot.site.now())
        face_m = snapshot.history.face_m if snapshot.history else 0.0
        self._at_m = float(head.get("driven_m", face_m))
        self._typist.expected = Expectations(self._basis, self._sheet, self._at_m, head.get("method"))

    def _rows_of_sheet(self) -> list[Row]:
        history = self.app.snapshot.history
        assert history is not None
        layout, rows = history.layout, []
        for number in self._sheet.order:
            here = layout.position(number) if number in layout else None
            last = last_reading(self._basis.current.get(number) if self._basis else None, self._at_m)
            rows.append(
                Row(
                    number=number, tool_type=here.tool_type if here else "gone", zone=here.zone if here else "",
                    last_mm=last.wear_mm if last else None,
                    limit_mm=float(layout.limit_mm[layout.index(number)]) if here else None,
                    line=self._sheet.line(number),
                )
            )  # fmt: skip
        return rows

    # Keys -------------------------------------------------------------------------------------------------------

    def on_sheet_view_pressed(self, event: SheetView.Pressed) -> None:
        view = self.query_one(SheetView)
        before = self._typist.at
        self._typist.page = max(1, view.size.height - 2)
        changed = self._typist.press(event.key, event.character)
        if self._typist.rang:
            self.app.bell()
        self._after(before, changed)

    def on_sheet_view_clicked(self, event: SheetView.Clicked) -> None:
        before = self._typist.at
        self._after(before, self._typist.go_to_row(event.index))

    def _after(self, before: int, changed: bool) -> None:
        view = self.query_one(SheetView)
        if changed:
            self._keep()
            self._row(before)
            self._tally()
        view.buffer = self._typist.buffer
        view.move_to(self._typist.at)
        self._row(self._typist.at)
        self._ask()
        self._side()

    def _row(self, index: int) -> None:
        view = self.query_one(SheetView)
        row = view.places[index]
        row.line = self._sheet.line(row.number)
        row.odd = bool(row.line.kept) and row.line.kept == row.line.wear and self._is_odd(row)
        view.repaint(index)

    def _is_odd(self, row: Row) -> bool:
        wear = read_wear(row.line.wear, inch=self._sheet.inch)
        known = self._typist.expected.get(row.number)
        return known is not None and not isinstance(wear, str) and bool(odd(wear, known, self._typist.units))

    def _keep(self) -> None:
        self._back_words = ""
        if self._keeper is not None:
            self._kept_words = "keeping the draft …"
            self._keeper.keep(self._sheet.values())

    def on_kept(self, event: Kept) -> None:
        at_home = Path(event.where).resolve().is_relative_to(self.app.snapshot.folder.resolve())
        where = "" if at_home else f" in {event.where}, since the site cannot be written"
        kept = f"draft kept at {event.at:%H:%M:%S}{where}"
        self._kept_words = f"! DRAFT NOT KEPT: {event.fault}" if event.fault else kept
        self._tally()

    # What is shown ------------------------------------------------------------------------------------------------

    def _show_all(self) -> None:
        view = self.query_one(SheetView)
        for index in range(len(view.places)):
            self._row(index)
        self._head_line()
        self._after(self._typist.at, False)
        self._tally()

    def _head_line(self) -> None:
        site = self.app.snapshot.site
        assert site is not None
        head, wrong = read_head(self._sheet.head, site, site.now())
        ring = head.get("ring", "?")
        at = self._typist.units.chainage(head.get("chainage_m"))
        what = f"Correction of {self._sheet.corrects}" if self._sheet.corrects else "New inspection"
        missing = f"   ! {wrong[0]} (Ctrl+T)" if wrong else f"   {head.get('mode', '')}"
        off = "   ! live check off" if self._basis is None or self._basis.outlook is None else ""
        self.query_one("#entry-head", Words).say(f" {what}: ring {ring}, {at}{off}{missing}")

    def _tally(self) -> None:
        self.query_one("#entry-tally", Words).say(f" {self._sheet.tally()}   ·   {self._kept_words}")

    def _ask(self) -> None:
        self.query_one("#entry-ask", Words).say(self._typist.line_below() or self._back_words)

    def _side(self) -> None:
        """Beside the sheet, where there is room: the place in words. The band is told only once a value is typed."""
        side = self.query_one("#entry-place", Words)
        typist = self._typist
        number = typist.number
        known, line, units = typist.expected.get(number), self._sheet.line(number), typist.units
        lines = [Content.styled(f"Place {number}", "bold")]
        if known is not None:
            last = (
                "never read"
                if known.last_mm is None
                else f"{units.wear(known.last_mm, unit=True)} at {units.chainage(known.last_chainage_m)}"
            )
            lines += [Content(f"last read   {last}"), Content(f"limit       {units.wear(known.limit_mm, unit=True)}")]
            if line.read and known.low_mm is not None:
                lines.append(Content(f"expected    {units.wear(known.low_mm)} to {units.wear(known.high_mm)}"))
        for head, value in (
            ("serial", line.serial),
            ("method", line.method),
            ("note", line.note),
            ("new", line.new_serial),
            ("batch", line.new_batch),
        ):
            if value:
                lines.append(Content(f"{head:<11} {plain(value)}"))
        side.say(Content("\n").join(lines))

    # Actions ------------------------------------------------------------------------------------------------------

    def action_undo(self) -> None:
        before = self._typist.at
        changed = self._typist.undo()
        self._after(before, changed)
        self._head_line()

    def action_head(self) -> None:
        site = self.app.snapshot.site
        assert site is not None
        self.app.push_screen(
            HeadForm(site, self._sheet.head, correcting=self._sheet.corrects is not None), self._take_head
        )

    def _take_head(self, head: dict[str, str] | None) -> None:
        zone = head.pop("time_zone", "").strip() if head is not None else ""
        if zone:
            self._keep_zone(zone)
        if head is not None and head != {key: self._sheet.head.get(key, "") for key in head}:
            self._sheet.put_head({**self._sheet.head, **head})
            self._expect()
            self.query_one(SheetView).fill(self._rows_of_sheet(), self._typist.units)
            self._keep()
        self._show_all()

    def _keep_zone(self, zone: str) -> None:
        """Write the site's clock into the folder; times without an offset are of it from now on."""
        folder, site = self.app.snapshot.folder, self.app.snapshot.site
        assert folder is not None
        assert site is not None
        try:
            keep_time_zone(folder, zone)
        except (NotWritten, ValueError) as error:
            self.app.notify(plain(str(error)), severity="error", timeout=15, markup=False)
            return
        self.app.snapshot = self.app.snapshot.having(site=replace(site, time_zone=zone))

    def action_leave(self) -> None:
        before = self._typist.at
        if self._typist.cancel():
            self._after(before, False)
            return
        if self._sheet.undos and self._keeper is not None:
            self._keeper.keep(self._sheet.values())
        self.dismiss(None)

    def action_save(self) -> None:
        site = self.app.snapshot.site
        if site is None or self._writing:
            return
        before = self._typist.at
        self._after(before, self._typist.go_to_row(before))
        if self._typist.buffer is not None:
            return
        record, wrong = record_of(self._sheet, site, self._draft.id, site.now())
        if self._sheet.corrects and not self._sheet.head.get("reason", "").strip():
            wrong = ["reason: a correction needs one", *wrong]
        if record is None or wrong:
            self.app.push_screen(Read("Not yet", "\n".join([*wrong, "", "Ctrl+T opens the stop's data."])))
            return
        findings = judge(site, record, now=site.now())
        open_ = [each for each in contradicted(findings) if accepted_key(each) not in self._sheet.head]
        if open_:
            self.run_worker(self._accept(record, findings, open_), group="gate", exclusive=True)
        else:
            self._confirm(record, findings)

    async def _accept(self, record: Inspection, findings: tuple[Finding, ...], open_: list[Finding]) -> None:
        """Ask for each contradiction; what was accepted once, with that sentence, stays so on this sheet."""
        said = await accept_each(self.app, open_, record.entered_by or self._sheet.head.get(ACCEPTED_BY, ""))
        if said is not None:
            kept = {f"{ACCEPTED}{line}": why for line, why in said[1].items()}
            self._sheet.put_head({**self._sheet.head, ACCEPTED_BY: said[0], **kept})
            self._keep()
            self._confirm(record, findings)

    def _confirm(self, record: Inspection, findings: tuple[Finding, ...]) -> None:
        """Show the record whole, with what was accepted in its note, and write it on yes."""
        head = self._sheet.head
        for each in contradicted(findings):
            record = with_acceptance(record, [each.name], who=head[ACCEPTED_BY], why=head[accepted_key(each)])
        site, basis = self.app.snapshot.site, self._basis
        assert site is not None
        assert basis is not None
        lines = preview(self._sheet, record, site, basis, self._typist.units, findings)
        self.app.push_screen(
            Confirm("This will be written", lines, yes="write it", no="back to the sheet"),
            lambda yes: self._write(record) if yes else None,
        )

    def _write(self, record: Inspection) -> None:
        self._writing = True
        self.run_worker(lambda: self._write_in_thread(record), thread=True, group="write", exit_on_error=False)

    def _write_in_thread(self, record: Inspection) -> None:
        from wearplan.site import NotWritten, correct_inspection, drop_draft, write_inspection

        folder = self.app.snapshot.folder
        try:
            if record.corrects:
                correct_inspection(folder, record.corrects, record, record.reason or "")
            else:
                write_inspection(folder, record)
        except NotWritten as refusal:
            self.app.call_from_thread(self._not_written, str(refusal))
            return
        except Exception as error:  # whatever it is, the sheet and its draft stay
            self.app.call_from_thread(self._not_written, f"{type(error).__name__}: {error}")
            return
        with contextlib.suppress(NotWritten):  # a draft whose record is written is not offered again
            drop_draft(folder, self._keeper.draft if self._keeper else self._draft)
        self.app.call_from_thread(self.dismiss, record)

    def _not_written(self, why: str) -> None:
        self._writing = False
        self.app.push_screen(Read("Not written", f"{why}\n\nThe sheet is still here, and its draft is kept."))
