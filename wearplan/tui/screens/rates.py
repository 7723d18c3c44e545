"""Rates: what each unit costs each kind of tool, what that rests on, and how past outlooks have done."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static, TabbedContent, TabPane

from wearplan.report.tables.compared import types_tables
from wearplan.report.tables.table import Column, Table
from wearplan.report.tables.wear import backtest_table, rates_tables
from wearplan.report.words import listing, percent_text, plain, plural, significant_text
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.dialogs import Read
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.tableview import TableView

NAMES = ("rates", "zones", "damage", "flagged", "between", "types")
HEADS = ("Rates", "Zones", "Damage", "Flagged", "Layers", "Types")


class RatesScreen(TaskScreen):
    """Tables of what was learnt; Enter shows the readings behind a row."""

    task_name = "rates"
    needs = ("rates", "backtest")
    BINDINGS = bindings_of("rates")

    def body(self) -> ComposeResult:
        with TabbedContent(id="rates-tabs"):
            for name, head in zip(NAMES, HEADS, strict=True):
                with TabPane(head, id=f"pane-{name}"):
                    yield TableView(
                        id=f"table-{name}", help="What was learnt. Enter shows the readings behind the row."
                    )
                    with VerticalScroll(classes="notes", can_focus=True):
                        yield Prose("", id=f"notes-{name}", markup=False, classes="note")
            with TabPane("Past outlooks", id="pane-past"):
                yield Prose("", id="past-words", markup=False, classes="auto")
                yield TableView(id="table-past")

    def on_mount(self) -> None:
        self.query_one("#table-rates").focus()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        self._show_past(snapshot, display)
        if snapshot.fit is None:
            self.query_one("#notes-rates", Static).update(why_missing(snapshot, "rates"))
            return
        for name, table in zip(NAMES, [*rates_tables(snapshot.fit)[:5], types_tables(snapshot.fit)[0]], strict=True):
            shown = display.table(table)
            self.query_one(f"#table-{name}", TableView).fill(shown)
            self.query_one(f"#notes-{name}", Static).update("\n".join(plain(note) for note in shown.notes))

    def _show_past(self, snapshot: Snapshot, display: Display) -> None:
        words = self.query_one("#past-words", Static)
        if snapshot.backtest is None:
            job = snapshot.jobs["backtest"]
            words.update(
                why_missing(snapshot, "backtest")
                if job.state in ("working", "failed", "barred", "stopped")
                else "B works out how the outlook would have done at every past stop, with what was known then."
            )
            return
        methods = snapshot.backtest.methods
        said = past_words(methods[0], display) if methods and methods[0].n else ["No past stop could be tested."]
        words.update("\n".join([*said, *snapshot.backtest.remarks]))
        self.query_one("#table-past", TableView).fill(display.table(backtest_table(snapshot.backtest)))

    def action_test(self) -> None:
        self.query_one(TabbedContent).active = "pane-past"
        self.query_one("#table-past").focus()
        if self.app.snapshot.jobs["backtest"].state == "working":
            self.notify("It is being worked out; Ctrl+X stops it.", markup=False)
            return
        if self.app.snapshot.fit is None:
            self.notify(why_missing(self.app.snapshot, "rates"), markup=False)
            return
        self.app.desk.ask(self.app.snapshot, "backtest")

    def on_data_table_row_selected(self) -> None:
        self.action_behind()

    def action_behind(self) -> None:
        snapshot = self.app.snapshot
        table = self.query_one("#table-rates", TableView)
        key = table.key_at_cursor()
        if snapshot.fit is None or key is None or self.query_one(TabbedContent).active != "pane-rates":
            return
        rate = snapshot.fit.rates[int(key)]
        found = self.app.units.table(readings_behind(snapshot, rate.kind, rate.unit))
        words = [
            f"{rate.kind} in {rate.unit}: basis {rate.basis}; {rate.readings} readings, "
            f"{significant_text(rate.path_km)} km cut.",
            *([f"Hardly told apart from {listing(rate.confounded_with)}."] if rate.confounded_with else []),
            "",
            found.text(min(96, self.size.width - 8)),
        ]
        self.app.push_screen(Read(f"Readings behind {rate.kind} in {rate.unit}", "\n".join(words)))


def readings_behind(snapshot: Snapshot, kind: str, unit: str) -> Table:
    """Sound readings of lives of a kind that had met a unit, those with most of it first."""
    site, history, fit = snapshot.site, snapshot.history, snapshot.fit
    rows: list[tuple[object, ...]] = []
    if site is not None and history is not None and fit is not None and unit in fit.units:
        at = fit.units.index(unit)
        for life in history.lives:
            if life.kind != kind:
                continue
            for reading in life.readings:
                path = getattr(reading, "path_km", None)
                if not reading.sound or path is None or path[at] <= 0:
                    continue
                total = float(path.sum())
                wear = reading.wear_mm if reading.wear_mm is not None else reading.below_mm or reading.above_mm
                sign = "" if reading.wear_mm is not None else "<" if reading.below_mm is not None else ">"
                rows.append(
                    (
                        reading.position, site.drive.chainage_m(reading.driven_m), sign, wear, float(path[at]),
                        float(path[at]) / total if total else 0.0, reading.inspection_id or reading.source,
                    )
                )  # fmt: skip
    rows.sort(key=lambda row: -float(row[4]))  # type: ignore[arg-type]
    return Table(
        title="",
        columns=(
            Column(key="position", head="place", form="int"),
            Column(key="chainage_m", head="at", form="fixed1"),
            Column(key="sign", head=""),
            Column(key="wear_mm", head="wear mm", form="fixed1"),
            Column(key="path_km", head="km in it", form="sig"),
            Column(key="share", head="of its path", form="percent"),
            Column(key="record", head="record", spare=1),
        ),
        rows=tuple(rows[:200]),
        notes=(f"the first 200 of {len(rows)}",) if len(rows) > 200 else (),
    )


def past_words(score: object, display: Display) -> list[str]:
    """How the outlook has done, in words and bars: what should be, what was."""
    c50, c90 = float(score.coverage_50), float(score.coverage_90)  # type: ignore[attr-defined]
    n, bias = int(score.n), float(score.bias_mm)  # type: ignore[attr-defined]
    side = "too high" if bias > 0 else "too low"
    lean = f"On average it was {display.wear(abs(bias), unit=True)} {side}."

    def bar(share: float, wanted: float) -> str:
        cells = ["#" if i < round(share * 40) else "." for i in range(40)]
        cells[min(39, round(wanted * 40) - 1)] = "|"
        return "".join(cells)

    return [
        f"{plural(n, 'reading was', 'readings were')} foretold at past stops. {lean} "
        "| marks where a band that holds would end.",
        f"in the 50 % band {bar(c50, 0.5)} {percent_text(c50)}",
        f"in the 90 % band {bar(c90, 0.9)} {percent_text(c90)}",
    ]


SCREEN = RatesScreen
