"""Life of a tool: every record of the lives at one place, with the wear drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from textual.app import ComposeResult
from textual.screen import Screen
from textual.widgets import Footer, Static

from wearplan.report.drawing.fan import Fan, fan_key
from wearplan.report.words import plain
from wearplan.tui.actions import bindings_of
from wearplan.tui.careful import Careful
from wearplan.tui.fans import drawn_fan, fan_of_tool
from wearplan.tui.state import why_missing
from wearplan.tui.widgets.bars import CautionLine
from wearplan.tui.widgets.dialogs import Read
from wearplan.tui.widgets.drawn import Drawn, words_of
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.tableview import TableView

if TYPE_CHECKING:
    from wearplan.history import Account
    from wearplan.tui.host import Host


class LifeScreen(Careful, Screen[None]):
    """One life at a time, the present one first; N and P go through the lives of the place."""

    task_name = "life"
    passing = True
    BINDINGS = bindings_of("life")
    HELP = "Every record this life rests on, with the file and line it is written in. N and P: the other lives here."
    app: Host

    def __init__(self, place: int) -> None:
        super().__init__()
        self._place = place
        self._account: Account | None = None
        self._at = 0

    def compose(self) -> ComposeResult:
        yield Prose("", id="life-head", markup=False, classes="auto")
        yield TableView(id="life-table", help=self.HELP)
        yield Prose("", id="life-key", markup=False, classes="auto")
        yield Drawn(id="life-fan")
        yield CautionLine()
        yield Footer(show_command_palette=False, compact=True)

    def on_mount(self) -> None:
        self.query_one(TableView).focus()
        self.query_one("#life-head", Static).update(f" Place {self._place}: reading its lives …")
        self.run_worker(self._tell_in_thread, thread=True, group="life", exclusive=True, exit_on_error=False)

    def on_resize(self) -> None:
        self.call_after_refresh(self._show)

    def _tell_in_thread(self) -> None:
        from wearplan.history import tell_life

        snapshot = self.app.snapshot
        account = None
        try:
            if snapshot.site is not None and snapshot.history is not None:
                account = tell_life(
                    snapshot.site,
                    position=self._place,
                    lives=snapshot.history.lives,
                    exposure=snapshot.history.exposure,
                )
        except (KeyError, ValueError) as error:
            self.app.call_from_thread(
                self.app.notify, f"Place {self._place}: {error}", severity="warning", markup=False
            )
        self.app.call_from_thread(self._have, account)

    def _have(self, account: Account | None) -> None:
        self._account = account
        self._at = len(account.chapters) - 1 if account else 0
        self._show()

    def _show(self) -> None:
        from wearplan.report.tables.life import life_tables

        account, snapshot, units = self._account, self.app.snapshot, self.app.units
        head = self.query_one("#life-head", Static)
        if account is None or not account.chapters:
            if snapshot.history is None:
                head.update(why_missing(snapshot, "history"))
            return
        table = units.table(life_tables(account)[self._at])
        count = len(account.chapters)
        which = f"life {self._at + 1} of {count} at this place" if count > 1 else "the only life at this place"
        notes = "".join(f"\n ! {plain(note)}" for note in table.notes)
        head.update(f" {plain(account.title)}: {plain(table.title)}   ({which}){notes}")
        self.query_one(TableView).fill(table)
        self._fan(self._at == count - 1)

    def _fan(self, present: bool) -> None:
        """The fan of the tool in place; the readings alone for a life that is over."""
        snapshot, units, plain_signs = self.app.snapshot, self.app.units, self.app.plain_signs
        site, account = snapshot.site, self._account
        widget, key = self.query_one("#life-fan", Drawn), self.query_one("#life-key", Static)
        assert site is not None
        assert account is not None
        if widget.size.height < 4:
            return
        key.update(words_of(((" ", ""), *fan_key(plain=plain_signs))))
        if present and snapshot.outlook is not None and self._place in snapshot.tools:
            widget.draw(fan_of_tool(snapshot, self._place, units, *widget.size, plain=plain_signs))
            return
        factor = 1 / 25.4 if units.us else 1.0
        read = tuple(
            (site.drive.driven_m(line.chainage_m), line.wear_mm * factor, 0.0)
            for line in account.chapters[self._at].lines
            if line.wear_mm is not None
        )
        widget.draw(None if not read else drawn_fan(
            Fan(at=np.empty(0), levels=np.empty((5, 0)), readings=read), site, units, *widget.size, plain=plain_signs
        ))  # fmt: skip
        if not read:
            key.update(" no reading in this life")

    def action_step(self, way: int) -> None:
        if self._account is not None and self._account.chapters:
            self._at = (self._at + way) % len(self._account.chapters)
            self._show()

    def action_back(self) -> None:
        self.app.pop_screen()

    def on_data_table_row_selected(self) -> None:
        view = self.query_one(TableView)
        key = view.key_at_cursor()
        if view.table is not None and key is not None:
            cells = view.table.cells()[int(key)]
            words = [f"{column.head:<10} {cell}" for column, cell in zip(view.table.columns, cells, strict=True)]
            self.app.push_screen(Read("Record", "\n".join(words)))
