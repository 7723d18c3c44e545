"""Stops: where to stop and what to change there; what going on costs; wishes; reasons down to the readings."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widgets import TabbedContent, TabPane

from wearplan.report.four import passed_short
from wearplan.report.plan_text import stop_cautions
from wearplan.report.tables.plan import comparison_table, deferral_table, stops_table, tradeoff_table
from wearplan.report.tables.table import Column, Table
from wearplan.report.words import plain
from wearplan.tui import wishes as wish
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.papers import Papers
from wearplan.tui.reasons import change_words, plan_words
from wearplan.tui.screens.reason import ReasonScreen
from wearplan.tui.screens.stops_told import head_lines, shown_changes, windows_table
from wearplan.tui.state import Job, Snapshot, why_missing
from wearplan.tui.widgets.dialogs import Ask
from wearplan.tui.widgets.facemap import FaceMap
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.stripview import StripView
from wearplan.tui.widgets.tableview import TableView
from wearplan.tui.widgets.words import Words

if TYPE_CHECKING:
    from wearplan.plan import Stop, Wishes

TABS = {"changes": "Changes", "going": "Going on", "trade": "Trade-off", "compared": "Compared", "windows": "Windows"}


class StopsScreen(Papers):
    """The plan above, its parts in tabs, the chosen stop's cautions always below."""

    task_name = "stops"
    needs = ("read", "plan")
    BINDINGS = bindings_of("stops")

    def body(self) -> ComposeResult:
        yield Prose("", id="plan-head", markup=False, classes="auto")
        yield StripView(id="stops-strip")
        with Horizontal(id="stops-top"):
            yield TableView(
                id="stops-list", help="The proposed stops. Enter goes to the changes, F forces, X forbids, [ ] shift."
            )
            with VerticalScroll(id="stops-passing", can_focus=True):
                yield Prose("", id="stops-passed", markup=False)
        with Horizontal(id="stops-low"):
            yield FaceMap(id="stops-face", size="long")
            with TabbedContent(id="stops-tabs"):
                for name, head in TABS.items():
                    with TabPane(head, id=f"pane-{name}"):
                        yield TableView(id=f"table-{name}", help="A part of the plan. Enter tells why.")
                        if name == "changes":
                            yield Words(id="change-why")
                with TabPane("Why", id="pane-why"), VerticalScroll(can_focus=True):
                    yield Prose("", id="why", markup=False)
        with VerticalScroll(id="stop-cautions", can_focus=True):
            yield Prose("", id="cautions", markup=False)

    def on_mount(self) -> None:
        self._wished: list[Wishes | None] = []
        self.query_one("#stops-list").focus()

    def on_descendant_focus(self) -> None:
        """On a small screen the part in focus takes the room of the others."""
        within = {node.id for node in self.focused.ancestors_with_self} if self.focused is not None else set()
        self.set_class("stops-low" in within, "-at-changes")
        self.set_class("stop-cautions" in within, "-at-cautions")

    def show(self, snapshot: Snapshot, display: Display) -> None:
        site, plan = snapshot.site, snapshot.plan
        if site is None or plan is None:
            self.put("#plan-head", why_missing(snapshot, "plan"))
            if site is not None:
                self.query_one("#table-windows", TableView).fill(display.table(windows_table(site, snapshot)))
            return
        self.put("#plan-head", "\n".join(head_lines(snapshot, plan, site, display)))
        self._strip(snapshot, display)
        calendar = snapshot.history.calendar if snapshot.history else None
        if calendar is not None:
            told = [display.words(line) for line in passed_short(site, plan, calendar)]
            self.put("#stops-passed", "\n".join(["If stop 1 is passed", *told]) if told else "")
        keys = [f"{stop.driven_m}" for stop in plan.stops]
        self.query_one("#stops-list", TableView).fill(display.table(stops_table(plan, site)), keys)
        fill = {
            "going": deferral_table(plan, site),
            "trade": tradeoff_table(plan, site),
            "compared": comparison_table(plan, site),
            "windows": windows_table(site, snapshot),
        }
        for name, table in fill.items():
            self.query_one(f"#table-{name}", TableView).fill(display.table(table))
        self._show_stop()

    @property
    def chosen(self) -> Stop | None:
        """The stop under the cursor."""
        plan = self.app.snapshot.plan
        key = self.query_one("#stops-list", TableView).key_at_cursor()
        if plan is None or not plan.stops:
            return None
        return next((stop for stop in plan.stops if f"{stop.driven_m}" == key), plan.stops[0])

    def _show_stop(self) -> None:
        snapshot, display = self.app.snapshot, self.app.units
        site, plan, stop = snapshot.site, snapshot.plan, self.chosen
        if site is None or plan is None:
            return
        self.put("#why", display.words("\n".join(plan_words(plan, stop, site, display))))
        told = stop_cautions(stop) if stop is not None else []
        told = list(dict.fromkeys([*told, *(caution.text for caution in plan.cautions)]))
        # What the line below says already comes last, so that the first lines of this box say more.
        told.sort(key=lambda text: text.startswith("Planning estimate"))
        where = f" at {display.chainage(stop.chainage_m)}, {plain(stop.window)}" if stop is not None else ""
        parts: list[Content] = [Content.styled(f"Cautions{where} ({len(told)}; Tab then arrows scroll)", "bold")]
        parts += [Content(f"! {display.words(plain(text))}") for text in told]
        self.put("#cautions", Content("\n").join(parts))
        table = (
            shown_changes(stop, plain_signs=self.app.plain_signs)
            if stop is not None
            else Table(title="Changes", columns=(Column(key="none", head="no stop"),), rows=())
        )
        self.query_one("#table-changes", TableView).fill(display.table(table))
        count = len(stop.changes) if stop is not None else 0
        tab = self.query_one(TabbedContent).get_tab("pane-changes")
        head = f"{TABS['changes']} ({count}; Tab, arrows)" if count else TABS["changes"]
        if str(tab.label) != head:
            tab.label = head
        self._show_change()
        self._face(snapshot, stop)

    def _show_change(self) -> None:
        """The reason of the change in the row, whole."""
        stop, key = self.chosen, self.query_one("#table-changes", TableView).key_at_cursor()
        there = stop is not None and key is not None and key.isdigit() and int(key) < len(stop.changes)
        words = plain(stop.changes[int(key)].sentence) if there and stop is not None and key is not None else ""
        self.query_one("#change-why", Words).say(self.app.units.words(words))

    def _face(self, snapshot: Snapshot, stop: Stop | None) -> None:
        """The places that are changed at the stop, by number; the others as dots."""
        face = self.query_one("#stops-face", FaceMap)
        face.display = self.size.width >= 140 and self.size.height >= 40 and stop is not None
        history, site = snapshot.history, snapshot.site
        if not face.display or stop is None or history is None or site is None:
            return
        from wearplan.report.drawing.face import Mark, arm_angles

        due = {place for change in stop.changes for place in change.positions}
        dot, places = "." if self.app.plain_signs else "·", history.layout.positions
        marks = [
            Mark(
                number=place.number, track_radius_mm=place.track_radius_mm, angle_deg=place.angle_deg, short=dot,
                long=str(place.number) if place.number in due else dot,
                level="due" if place.number in due else "dim",
            )
            for place in places
        ]  # fmt: skip
        face.show(
            marks, 500.0 * site.wheel.bore_diameter_m, plain=self.app.plain_signs,
            arms=arm_angles((place.arm, place.angle_deg) for place in places),
        )  # fmt: skip

    def _strip(self, snapshot: Snapshot, display: Display) -> None:
        """The drive ahead with the stops, where there is room."""
        view = self.query_one(StripView)
        view.display = self.size.height >= 44 and snapshot.history is not None
        if not view.display or snapshot.site is None or snapshot.history is None or snapshot.plan is None:
            return
        from wearplan.report.drawing.strip import drive_strip

        face_m, length = snapshot.history.face_m, snapshot.site.drive.length_m
        view.show(
            drive_strip(
                snapshot.site, width=self.size.width - 2, ground_rows=4, face_m=face_m, feet=display.us,
                from_m=max(0.0, min(face_m - 0.04 * (length - face_m), length - 30.0)), plain=self.app.plain_signs,
                stops_m=[stop.driven_m for stop in snapshot.plan.stops],
            )
        )  # fmt: skip

    def on_strip_view_pointed(self, event: StripView.Pointed) -> None:
        self.app.go_to("ahead", f"{event.driven_m}")

    def on_face_map_picked(self, event: FaceMap.Picked) -> None:
        self.app.go_to("wheel", f"{event.number}")

    def on_data_table_row_highlighted(self, event: TableView.RowHighlighted) -> None:
        if event.data_table.id == "stops-list":
            self._show_stop()
        elif event.data_table.id == "table-changes":
            self._show_change()

    @property
    def here(self) -> str | None:
        return self.query_one("#stops-list", TableView).key_at_cursor()

    def point(self, key: str) -> bool:
        """Choose the stop at driven metres."""
        table = self.query_one("#stops-list", TableView)
        keys = [str(row.value) for row in table.rows]
        if key not in keys:
            return False
        table.move_cursor(row=keys.index(key))
        return True

    # Why, in three keys: stop, change, readings -------------------------------------------------------------------

    def on_data_table_row_selected(self, event: TableView.RowSelected) -> None:
        self.action_why()

    def action_why(self) -> None:
        stop = self.chosen
        focused = self.focused.id if self.focused is not None else ""
        if focused == "stops-list":
            self.query_one(TabbedContent).active = "pane-changes"
            self.query_one("#table-changes").focus()
            return
        key = self.query_one("#table-changes", TableView).key_at_cursor()
        if focused == "table-changes" and stop is not None and key is not None:
            change = stop.changes[int(key)]
            snapshot = self.app.snapshot
            lines = change_words(change, stop, snapshot, self.app.units)
            self.app.push_screen(
                ReasonScreen(f"Why {change.action} {', '.join(map(str, change.positions))}", lines, change.positions[0])
            )
            return
        focus_table = self.focused if isinstance(self.focused, TableView) else None
        if (
            focus_table is not None
            and focus_table.table is not None
            and (row := focus_table.key_at_cursor()) is not None
        ):
            cells = focus_table.table.cells()[int(row)] if row.isdigit() else []
            words = [f"{column.head}: {cell}" for column, cell in zip(focus_table.table.columns, cells, strict=False)]
            self.app.push_screen(ReasonScreen(focus_table.table.title, words, None))

    # Wishes ---------------------------------------------------------------------------------------------------------

    def _wishes(self) -> Wishes:
        from wearplan.plan import Wishes
        from wearplan.plan.kept import followed

        snapshot = self.app.snapshot
        if snapshot.wishes is None and snapshot.site is not None:
            return followed(snapshot.site, Wishes())[0]  # a further wish adds to those kept in the folder
        return snapshot.wishes or Wishes()

    def _ask_for(self, wishes: Wishes) -> None:
        self._wished.append(self.app.snapshot.wishes)
        self._plan_with(wishes)

    def action_undo(self) -> None:
        """Take back the last wish."""
        from wearplan.plan import Wishes

        if self._wished:
            self._plan_with(self._wished.pop() or Wishes())
        else:
            self.notify("There is no wish to take back.", markup=False)

    def _plan_with(self, wishes: Wishes) -> None:
        from wearplan.plan import Wishes

        if self.app.snapshot.outlook is None:
            self.notify(why_missing(self.app.snapshot, "outlook"), markup=False)
            return
        before = self.app.snapshot.free_plan
        if wishes != Wishes():
            self.app.rework("plan", wishes=wishes)
        elif before is not None:  # letting go is at once: the plan without wishes is at hand
            self.app.snapshot = self.app.snapshot.with_job(Job(step="plan", state="done"))
            self.app.rework("demand", wishes=None, plan=before, plan_is_first=False)
        else:
            self.app.rework("plan", wishes=None)

    def _window_in_focus(self) -> str | None:
        """Name of the window in the row, when the table of windows has the focus."""
        table = self.query_one("#table-windows", TableView)
        if self.focused is table and table.table is not None and (key := table.key_at_cursor()) is not None:
            return str(table.table.rows[int(key)][0])
        return None

    def action_force(self) -> None:
        name = self._window_in_focus()
        if name is not None:
            self._ask_for(wish.force_window(self._wishes(), name))
        elif (stop := self.chosen) is not None:
            self._ask_for(wish.force(self._wishes(), stop.driven_m))

    def action_forbid(self) -> None:
        name = self._window_in_focus() or (self.chosen.window if self.chosen is not None else None)
        if name is not None:
            self._ask_for(wish.forbid_window(self._wishes(), name))

    def action_shift(self, way: int) -> None:
        snapshot, stop = self.app.snapshot, self.chosen
        if snapshot.site is None or snapshot.history is None or stop is None:
            return
        asked = wish.shift(self._wishes(), snapshot.site, snapshot.history.face_m, stop.driven_m, way)
        if asked is None:
            self.notify("No window allows a stop that way.", markup=False)
        else:
            self._ask_for(asked)

    def action_standing(self) -> None:
        """What to change where the drive stands, before it goes on; asked again, no longer."""
        self._ask_for(replace(self._wishes(), standing=not self._wishes().standing))

    def action_entries(self) -> None:
        def take(typed: str | None) -> None:
            if typed is not None:
                self._ask_for(replace(self._wishes(), max_entries=int(typed) if typed.strip() else None))

        self.app.push_screen(
            Ask("At most how many entries under pressure? (empty: as the site says)", check=wish.not_a_count), take
        )

    def action_margin(self) -> None:
        def take(typed: str | None) -> None:
            if typed is not None:
                self._ask_for(replace(self._wishes(), margin=typed.strip()))

        words = "What to leave in hand: half (of every cap), 1.1 or 1.2 (caps kept in harder ground); or nothing"
        self.app.push_screen(Ask(words, check=wish.not_a_margin), take)

    def action_keep(self) -> None:
        """Keep the wishes in the folder, so that everything follows them."""
        snapshot = self.app.snapshot
        if snapshot.wishes is None or not snapshot.wishes.asks or snapshot.site is None or snapshot.plan is None:
            self.notify("There is no wish to keep: force, forbid or leave something in hand first.", markup=False)
        elif not snapshot.plan.keeps_rules:
            self.notify("Not kept: no plan keeps the rules with these wishes.", markup=False)
        else:
            self.app.push_screen(Ask("Who decided it, and why? (may be empty)"), self._keep)

    def _keep(self, because: str | None) -> None:
        from wearplan.plan.kept import to_keep
        from wearplan.site.write.durable import NotWritten
        from wearplan.site.write.wishes import keep_wishes

        snapshot = self.app.snapshot
        if because is None or snapshot.site is None or snapshot.wishes is None:
            return
        try:
            keep_wishes(snapshot.folder, to_keep(snapshot.site, snapshot.wishes, because=because))
        except NotWritten as refusal:
            self.notify(str(refusal), severity="error", markup=False)
            return
        self.app.rework("read", wishes=None)

    def action_clear(self) -> None:
        """Let go of the wishes asked for; of those kept in the folder where there are no others."""
        from wearplan.plan import Wishes
        from wearplan.site.write.durable import NotWritten
        from wearplan.site.write.wishes import let_go

        snapshot = self.app.snapshot
        if snapshot.wishes is not None:
            self._ask_for(Wishes())
        elif snapshot.site is not None and snapshot.site.wishes is not None:
            try:
                let_go(snapshot.folder)
            except NotWritten as refusal:
                self.notify(str(refusal), severity="error", markup=False)
                return
            self.app.rework("read")

    def action_windows(self) -> None:
        self.query_one(TabbedContent).active = "pane-windows"
        self.query_one("#table-windows").focus()


SCREEN = StopsScreen
