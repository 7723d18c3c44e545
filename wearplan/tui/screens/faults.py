"""Faults: what is wrong in the folder, where, and the way out."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from wearplan.report.tables.wear import faults_table
from wearplan.report.words import listing, plain, plural
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.tableview import TableView


class FaultsScreen(TaskScreen):
    """Every fault with its place; the rest of the folder stays usable."""

    task_name = "faults"
    needs = ("read",)
    BINDINGS = bindings_of("faults")

    def body(self) -> ComposeResult:
        yield Prose("", id="faults-head", markup=False, classes="auto")
        yield TableView(
            id="faults-table",
            help="Every fault of the folder. The text below tells what to do about the one in the row.",
        )
        with VerticalScroll(classes="auto", can_focus=False):
            yield Prose("", id="fault", markup=False)

    def show(self, snapshot: Snapshot, display: Display) -> None:
        table = self.query_one(TableView)
        table.fill(faults_table(snapshot.faults))
        head = self.query_one("#faults-head", Static)
        if snapshot.site is None and snapshot.jobs["read"].state not in ("barred", "failed"):
            head.update(why_missing(snapshot, "read"))
        elif not snapshot.faults:
            head.update("No fault was found in the folder.")
        else:
            barred = sorted({answer for fault in snapshot.faults for answer in fault.forbids})
            words = f"These answers are not given: {listing(barred)}." if barred else "No answer is forbidden by them."
            if snapshot.site is None:
                mended = "it is" if len(snapshot.faults) == 1 else "they are"
                words = f"No site can be made of this folder until {mended} mended."
            head.update(f"{plural(len(snapshot.faults), 'fault')}. {words} Mend the files, then R reads again.")
        self._tell()

    def on_data_table_row_highlighted(self) -> None:
        self._tell()

    def _tell(self) -> None:
        key = self.query_one(TableView).key_at_cursor()
        faults = self.app.snapshot.faults
        fault = faults[int(key)] if key is not None and int(key) < len(faults) else None
        self.query_one("#fault", Static).update("" if fault is None else plain(str(fault)))


SCREEN = FaultsScreen
