"""Store: tools used by month, stock line, chance of running short, what to order by when; stock is edited here."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Grid, Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Label, Static, TabbedContent, TabPane

from wearplan.report.drawing.sheet import Sheet
from wearplan.report.tables.table import Column, Table
from wearplan.report.words import plain
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.stockform import FIELDS, as_typed, edits_of, read_form
from wearplan.tui.widgets.dialogs import Read
from wearplan.tui.widgets.drawn import Drawn, words_of
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.tableview import TableView
from wearplan.tui.widgets.words import Words

if TYPE_CHECKING:
    from wearplan.site.records import Site, Stock
    from wearplan.site.write.edits import Seen

TABS = {
    "orders": "To do",
    "stock": "Stock",
    "use": "By month",
    "short": "Running short",
    "at-stops": "At stops",
    "budget": "Budget",
    "wish": "The wish",
    "bridge": "From the plan",
    "basis": "Basis",
    "lead": "Lead time",
}


_MORE = " More in the table."


class StoreScreen(TaskScreen):
    """Tables in tabs, the stock line of every type below; one alone on demand."""

    task_name = "store"
    needs = ("read", "demand")
    BINDINGS = bindings_of("store")

    def __init__(self) -> None:
        super().__init__()
        self._type: str | None = None
        self._one = False
        """One type large, in place of all."""
        self._edited_last: Stock | None = None
        """What the stock edited last was before."""

    def body(self) -> ComposeResult:
        yield Prose("", id="store-head", markup=False, classes="auto")
        with TabbedContent(id="store-tabs"):
            for name, head in TABS.items():
                with TabPane(head, id=f"pane-{name}"):
                    yield TableView(
                        id=f"table-{name}",
                        help="Enter reads a row whole, E edits its stock; N and P draw one type alone, A all.",
                    )
                    if name == "orders":
                        yield Words(id="order-why")
            with TabPane("Warnings", id="pane-warnings"), VerticalScroll(can_focus=True):
                yield Prose("", id="store-warnings", markup=False)
        with VerticalScroll(id="store-said", can_focus=True):
            yield Prose("", id="store-now", markup=False)
        yield Words(id="stock-key")
        yield Drawn(id="stock-line")

    def on_mount(self) -> None:
        self.query_one("#table-orders").focus()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        site, demand = snapshot.site, snapshot.demand
        if site is None:
            self.put("#store-head", why_missing(snapshot, "read"))
            return
        self.query_one("#table-stock", TableView).fill(stock_table(site))
        if demand is None:
            self.put("#store-head", " " + why_missing(snapshot, "demand"))
            self.query_one("#stock-line", Drawn).draw(None)
            return
        from wearplan.report.tables import demand as made

        fill = {
            "orders": made.orders_table(demand),
            "use": made.use_table(demand),
            "short": made.shortage_table(demand),
            "at-stops": made.stop_use_table(demand),
            "budget": made.budget_table(demand),
            "wish": made.wish_table(demand),
            "bridge": made.bridge_table(demand),
            "basis": made.basis_table(demand),
            "lead": made.lead_time_table(demand),
        }
        for name, table in fill.items():
            apart = "why" if name == "orders" else ""
            self.query_one(f"#table-{name}", TableView).fill(display.table(table), apart=apart)
        self._show_why()
        said = made.warning_sentences(demand)
        self.put("#store-warnings", "\n".join(plain(sentence) for sentence in said) or "None.")
        self.query_one("#store-said").display = bool(said)
        told = [f"Warnings ({len(said)}; Tab then arrows scroll)", *(f"! {plain(sentence)}" for sentence in said)]
        self.put("#store-now", "\n".join(told))
        sentences = [*made.first_sentences(demand), f"{made.head_words(demand).capitalize()}."]
        self.put("#store-head", f" {'! ' if demand.warnings else ''}{plain(self._as_far_as_it_goes(sentences))}")
        first = min(demand.orders, key=lambda order: order.order_by, default=None)
        types = [line.tool_type for line in demand.stock_lines]
        if self._type not in types:
            self._type = (first.tool_type if first else None) or (types[0] if types else None)
        self._line(snapshot)

    def _line(self, snapshot: Snapshot) -> None:
        from wearplan.report.drawing.stock import shelf_key, shelf_sheet, shelves, shelves_sheet

        demand, site, plain_signs = snapshot.demand, snapshot.site, self.app.plain_signs
        widget = self.query_one("#stock-line", Drawn)
        if demand is None or site is None:
            return
        found = shelves(demand, site, snapshot.plan)
        one = next((shelf for shelf in found if shelf.line.tool_type == self._type), None) if self._one else None

        def fill(width: int, height: int) -> Sheet:
            if one is not None:
                return shelf_sheet(one, width=width, height=height, plain_signs=plain_signs)
            return shelves_sheet(found, width=width, height=height, plain_signs=plain_signs)

        widget.fill(fill)
        self.query_one("#stock-key", Words).say(words_of(((" ", ""), *shelf_key(plain_signs))))

    def _as_far_as_it_goes(self, sentences: list[str]) -> str:
        """As many of the sentences as three lines hold, none broken off; the table below has them all."""
        told, room = sentences[0], 3 * (self.size.width - 6)
        for at, sentence in enumerate(sentences[1:], start=1):
            rest = "" if at == len(sentences) - 1 else _MORE
            if len(told) + len(sentence) + len(rest) > room:
                return told + _MORE
            told += f" {sentence}"
        return told

    def _show_why(self) -> None:
        """Why the row under the cursor is to be done, whole."""
        view = self.query_one("#table-orders", TableView)
        key, table = view.key_at_cursor(), view.table
        why = "" if key is None or table is None else str(table.rows[int(key)][-1])
        self.query_one("#order-why", Words).say(plain(why[:1].upper() + why[1:]))

    def action_kind(self, way: int) -> None:
        demand = self.app.snapshot.demand
        types = [line.tool_type for line in demand.stock_lines] if demand else []
        if types:
            at = types.index(self._type) if self._type in types else 0
            self._type = types[(at + way) % len(types)] if self._one else types[at]
            self._one = True
            self._line(self.app.snapshot)

    def action_all(self) -> None:
        """Every type at once again."""
        self._one = False
        self._line(self.app.snapshot)

    def on_data_table_row_highlighted(self, event: TableView.RowHighlighted) -> None:
        view = event.data_table
        if view.id == "table-orders":
            self._show_why()
        if isinstance(view, TableView) and view is self.focused and (kind := type_in_row(view)) is not None:
            self._type = kind
            if self._one:
                self._line(self.app.snapshot)

    # Editing ------------------------------------------------------------------------------------------------------

    def on_data_table_row_selected(self, event: TableView.RowSelected) -> None:
        view = event.data_table
        if view.id == "table-stock":
            self.action_edit()
        elif isinstance(view, TableView) and view.table is not None and (key := view.key_at_cursor()) is not None:
            cells = view.table.cells()[int(key)]
            words = [f"{column.head}: {cell}" for column, cell in zip(view.table.columns, cells, strict=True)]
            self.app.push_screen(Read(view.table.title, "\n".join(words)))

    def action_edit(self) -> None:
        view = self.focused if isinstance(self.focused, TableView) else self.query_one("#table-stock", TableView)
        self._edit(type_in_row(view) or self._type)

    def action_undo(self) -> None:
        """The stock as it was before the last edit, to look over and write."""
        if self._edited_last is None:
            self.notify("No stock was edited here since the app was opened.", markup=False)
        else:
            self._edit(self._edited_last.tool_type, back_to=self._edited_last)

    def _edit(self, kind: str | None, *, back_to: Stock | None = None) -> None:
        from wearplan.site.write.durable import NotWritten
        from wearplan.site.write.edits import see

        snapshot = self.app.snapshot
        if snapshot.site is None or kind is None:
            self.notify("Choose a row with a tool type.", markup=False)
            return
        if snapshot.site.stores is None:
            self.notify(
                "The folder has no stores.toml that can be read; F9 says more.", severity="warning", markup=False
            )
            return
        try:
            seen = see(snapshot.folder / "stores.toml")
        except NotWritten as refusal:
            self.notify(str(refusal), severity="error", timeout=12, markup=False)
            return
        stock = next((one for one in snapshot.site.stores.stock if one.tool_type == kind), None)

        def edited(diff: str | None) -> None:
            if diff:
                self._edited_last = stock
                self.notify("Written to stores.toml; comments and order are as they were.", markup=False)
                self.app.rework("read")

        self.app.push_screen(StockForm(kind, stock, seen, back_to=back_to), edited)

    def action_keep(self) -> None:
        from wearplan.demand.memory.kept import write
        from wearplan.site.write.durable import NotWritten

        snapshot = self.app.snapshot
        if snapshot.forecast is None:
            self.notify("There is no forecast to keep yet.", markup=False)
            return
        try:
            path = write(snapshot.forecast, snapshot.folder)
        except NotWritten as refusal:
            self.notify(str(refusal), severity="error", timeout=12, markup=False)
            return
        self.notify(f"Kept as {path.parent.name}/{path.name}.", markup=False)


def type_in_row(view: TableView) -> str | None:
    """The tool type of the row under the cursor, where the table has one."""
    key = view.key_at_cursor()
    if view.table is None or key is None:
        return None
    keys = [column.key for column in view.table.columns]
    return str(view.table.rows[int(key)][keys.index("tool_type")]) if "tool_type" in keys else None


def stock_table(site: Site) -> Table:
    """What the store says it has, for every tool type of the wheel."""
    stock = {one.tool_type: one for one in site.stores.stock} if site.stores else {}
    rows = []
    for tool in site.wheel.tool_types:
        one = stock.get(tool.code)
        typed = as_typed(one)
        rows.append(
            (
                tool.code,
                one.on_hand if one else None,
                one.in_rebuild if one else None,
                len(one.part_worn) if one else None,
                typed["on_order"],
                int(tool.lead_time_days) or None,  # 0 holds the place of one still to be filled in
            )
        )
    return Table(
        title="Stock and orders as stores.toml says",
        columns=(
            Column(key="tool_type", head="tool type"),
            Column(key="on_hand", head="on hand", form="int"),
            Column(key="in_rebuild", head="in rebuild", form="int"),
            Column(key="part_worn", head="part worn", form="int", spare=1),
            Column(key="on_order", head="on order", wrap=True),
            Column(key="lead_time_days", head="lead days", form="int", spare=2),
        ),
        rows=tuple(rows),
    )


class StockForm(ModalScreen[str | None]):
    """Change the stock of one type; only the fields changed are written."""

    BINDINGS = [
        Binding("escape", "dismiss(None)", "Leave"),
        Binding("f10,ctrl+s", "write", "Save"),
        Binding("f1", "app.help", "Help"),
        Binding("enter", "next", show=False, priority=True),
    ]
    HELP = "Enter goes to the next field, F10 or Ctrl+S writes, Esc leaves all as it was."

    def __init__(self, tool_type: str, stock: Stock | None, seen: Seen, *, back_to: Stock | None = None) -> None:
        super().__init__()
        self._tool_type, self._known, self._seen = tool_type, stock is not None, seen
        self._before = as_typed(stock)
        self._shown = self._before if back_to is None else as_typed(back_to)

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog"):
            yield Prose(
                f"Stock of {plain(self._tool_type)}   (Enter: next, F10: write, Esc: leave)",
                markup=False,
                classes="head",
            )
            with Grid(id="head-grid"):
                for key, (word, hint) in FIELDS.items():
                    yield Label(word)
                    yield Input(self._shown[key], placeholder=hint, id=f"stock-{key}", compact=True)
            yield Prose("", id="complaint", markup=False)

    def _typed(self) -> dict[str, str]:
        return {key: self.query_one(f"#stock-{key}", Input).value for key in FIELDS}

    def on_input_changed(self) -> None:
        self.query_one("#complaint", Static).update("\n".join(read_form(self._typed())[1]))

    def action_next(self) -> None:
        fields = [self.query_one(f"#stock-{key}", Input) for key in FIELDS]
        here = fields.index(self.focused) if self.focused in fields else -1
        if here + 1 < len(fields):
            self.set_focus(fields[here + 1])
        else:
            self.action_write()

    def action_write(self) -> None:
        from wearplan.site.write.durable import NotWritten
        from wearplan.site.write.edits import edit_toml

        typed = self._typed()
        if read_form(typed)[1]:
            return
        edits = edits_of(self._tool_type, self._before, typed, self._known)
        if not edits:
            self.dismiss(None)
            return
        try:
            edited = edit_toml(self._seen.path, edits, self._seen)
        except NotWritten as refusal:
            self.app.push_screen(Read("Not written", refusal.fault.what))
        else:
            self.dismiss(edited.diff or "same")


SCREEN = StoreScreen
