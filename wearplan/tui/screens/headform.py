"""The stop's own data: ring, chainage, times, mode, who measured. Nothing is filled in beforehand; where the drive
stands is offered at the top."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Grid, Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Label, Static

from wearplan.report.words import chainage_text
from wearplan.site.records import Site
from wearplan.site.records.clock import zone_of
from wearplan.tui.entry.words import HEAD, later_than_now, read_head
from wearplan.tui.widgets.prose import Prose

_CLOCK = "from UTC, such as +01:00; kept in site.toml; empty: as on this computer"


class HeadForm(ModalScreen[dict[str, str] | None]):
    """Tab and Enter go from field to field, F10 takes it; what is missing is said below and may come later."""

    # Enter is taken before the field sees it, and moves the focus at once: keys typed fast must land in theirs.
    BINDINGS = [
        Binding("escape", "leave", "Leave"),
        Binding("f10", "done", "Done"),
        Binding("f1", "app.help", "Help"),
        Binding("ctrl+r", "present", "Present ring"),
        Binding("enter", "next", show=False, priority=True),
    ]
    HELP = (
        "Type what is known of the stop. Enter goes on to the next field; F10 is done; Esc leaves all as it was. "
        "Ctrl+R takes the present ring."
    )

    def __init__(self, site: Site, head: dict[str, str], *, correcting: bool = False) -> None:
        super().__init__()
        self._site, self._given = site, head
        self._doubted: list[str] = []
        rows = [row for row in site.rings if row.end_chainage_m is not None and not row.damaged]
        self._present = None if correcting or not rows else max(rows, key=lambda row: row.ring)
        methods = " · ".join(one.method for one in site.wheel.gauging)
        told = {"method": (HEAD["method"][0], f"{methods}; empty: the coarsest")} if methods else {}
        self._fields = {
            **({"reason": ("reason", "why the record is corrected; needed")} if correcting else {}),
            **HEAD,
            **told,
            **({"time_zone": ("site's clock", _CLOCK)} if site.time_zone is None else {}),
        }

    def compose(self) -> ComposeResult:
        with Vertical(classes="dialog tall"):
            yield Prose("The stop   (Enter: next field, F10: done, Esc: leave)", markup=False, classes="head")
            if self._present is not None:
                said = f"present ring {self._present.ring}, face {chainage_text(self._present.end_chainage_m)}"
                yield Prose(f"{said} by the ring log: Ctrl+R takes that ring", markup=False, id="present")
            with VerticalScroll(can_focus=False), Grid(id="head-grid"):
                for key, (word, hint) in self._fields.items():
                    yield Label(word)
                    yield Input(self._given.get(key, ""), placeholder=hint, id=f"head-{key}", compact=True)
            yield Prose("", id="complaint", markup=False)

    def on_mount(self) -> None:
        self._say()

    def _typed(self) -> dict[str, str]:
        return {key: self.query_one(f"#head-{key}", Input).value for key in self._fields}

    def _say(self) -> None:
        typed = self._typed()
        found, wrong = read_head(typed, self._site, self._site.now())
        words = []
        if "chainage_m" in found and not typed.get("chainage", "").strip():
            words.append(f"chainage {found['chainage_m']:.1f}, from ring {found['ring']}")
        if "ring" in found and not typed.get("ring", "").strip():
            words.append(f"ring {found['ring']}, from the chainage")
        if "reason" in self._fields and not typed["reason"].strip():
            wrong = ["reason: a correction needs one", *wrong]
        if typed.get("time_zone", "").strip():
            wrong = [*_no_zone(typed["time_zone"]), *wrong]
        late = later_than_now(typed, self._site.now())
        self._doubted = self._doubted if late == self._doubted else []
        self.query_one("#complaint", Static).update("\n".join([*(f"! {one}" for one in late), *words, *wrong[:4]]))

    def on_input_changed(self) -> None:
        self._say()

    def action_next(self) -> None:
        fields = [self.query_one(f"#head-{key}", Input) for key in self._fields]
        here = fields.index(self.focused) if self.focused in fields else -1
        if here + 1 < len(fields):
            self.set_focus(fields[here + 1])
        else:
            self.action_done()

    def action_present(self) -> None:
        if self._present is not None:
            self.query_one("#head-ring", Input).value = str(self._present.ring)
            self.query_one("#head-chainage", Input).value = ""

    def action_done(self) -> None:
        """Take it; a time that has not come yet is asked about once."""
        late = later_than_now(self._typed(), self._site.now())
        if late and late != self._doubted:
            self._doubted = late
            self.app.bell()
            again = "F10 again keeps it; or correct it."
            self.query_one("#complaint", Static).update("\n".join([*(f"! {one}" for one in late), again]))
            return
        self.dismiss(self._typed())

    def action_leave(self) -> None:
        self.dismiss(None)


def _no_zone(text: str) -> list[str]:
    try:
        zone_of(text)
    except ValueError as error:
        return [f"site's clock: {text.strip()} {error}"]
    return []
