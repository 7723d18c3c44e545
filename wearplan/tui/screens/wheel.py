"""Wheel: the face to scale, tool by tool, with a panel on the one picked."""

from __future__ import annotations

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll

from wearplan.report.drawing.face import LEVELS
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.marks import SHOWS, PlaceNow, marks_of, places_now
from wearplan.tui.panel import place_panel
from wearplan.tui.screens.ahead import tool_fan
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.charts import coloured
from wearplan.tui.widgets.dialogs import Read
from wearplan.tui.widgets.facemap import FaceMap
from wearplan.tui.widgets.words import Words

FORGET_SECONDS = 1.5
"""A number typed so far is forgotten after this."""


class WheelScreen(TaskScreen):
    """The face of the wheel and the place picked."""

    task_name = "wheel"
    needs = ("history", "outlook")
    BINDINGS = bindings_of("wheel")

    def __init__(self) -> None:
        super().__init__()
        self._rows: dict[int, PlaceNow] = {}
        self._way = "wear"
        self._window = 0
        self._typed = ""
        self._order: list[int] = []
        self._last_worst: int | None = None

    def body(self) -> ComposeResult:
        yield Words(id="face-head")
        with Horizontal():
            yield FaceMap(id="face")
            with VerticalScroll(id="wheel-panel", classes="side", can_focus=True):
                yield Words(id="place")
                yield Words(id="place-fan")

    def on_mount(self) -> None:
        self.query_one(FaceMap).focus()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        self._rows = places_now(snapshot)
        face = self.query_one(FaceMap)
        if not self._rows:
            self.query_one("#face-head", Words).say(why_missing(snapshot, "history"))
            return
        marks = marks_of(snapshot, self._rows, self._way, self._at_m(snapshot), display)
        assert snapshot.site is not None
        face.draw(marks, 500.0 * snapshot.site.wheel.bore_diameter_m)
        if face.selected not in self._rows:
            face.selected = min(self._rows)
        self._order = worst_first(self._rows)
        self._head(snapshot, display)
        self._panel(snapshot, display)

    def show_work(self, snapshot: Snapshot, display: Display) -> None:
        if self._rows:
            self._head(snapshot, display)
        else:
            self.show(snapshot, display)

    def _at_m(self, snapshot: Snapshot) -> float | None:
        """The place the chance is for: the window chosen, or the end of the drive."""
        site, history = snapshot.site, snapshot.history
        if site is None or history is None:
            return None
        ahead = [window.from_m for window in site.stops.windows if window.from_m > history.face_m] if site.stops else []
        places = [*ahead, site.drive.length_m]
        self._window = max(0, min(self._window, len(places) - 1))
        return places[self._window]

    def _head(self, snapshot: Snapshot, display: Display) -> None:
        words = SHOWS[self._way]
        site = snapshot.site
        if self._way == "wear":
            face = self.query_one(FaceMap).face
            long = face is not None and face.size == "long"
            words += f" in {'1/100 in' if display.us else 'mm'}" if long else " in tenths of the limit"
        if self._way == "chance" and site is not None:
            at_m = self._at_m(snapshot) or 0.0
            words += f" before {display.chainage(site.drive.chainage_m(at_m))} ([ ] move it)"
            if snapshot.outlook is None:
                words = why_missing(snapshot, "outlook")
        typed = f"   number {self._typed}_" if self._typed else ""
        self.query_one("#face-head", Words).say(f" S shows: {words}{typed}")

    def _panel(self, snapshot: Snapshot, display: Display) -> None:
        number = self.query_one(FaceMap).selected
        row = self._rows.get(number)
        if row is not None:
            width = self.query_one("#place", Words).size.width or 34
            self.query_one("#place", Words).say(place_panel(snapshot, row, display, width))
            fan = self.query_one("#place-fan", Words)
            fan.display = number in snapshot.tools and self.size.height >= 40 and width >= 50
            if fan.display:
                fan.say(coloured(["", *tool_fan(snapshot, number, display, width=width, height=14)]))

    def on_face_map_picked(self, event: FaceMap.Picked) -> None:
        self._panel(self.app.snapshot, self.app.units)

    def on_key(self, event: events.Key) -> None:
        if event.character and event.character.isdigit():
            event.stop()
            self._typed = (self._typed + event.character)[-4:]
            self.set_timer(FORGET_SECONDS, self._forget_if(self._typed))
            if int(self._typed) in self._rows:
                self.query_one(FaceMap).pick(int(self._typed))
            self._head(self.app.snapshot, self.app.units)

    def _forget_if(self, typed: str):  # type: ignore[no-untyped-def]
        def forget() -> None:
            if self._typed == typed:
                self._typed = ""
                self._head(self.app.snapshot, self.app.units)

        return forget

    def point(self, key: str) -> bool:
        """Pick a place by its number."""
        known = key.isdigit() and int(key) in self._rows
        if known:
            self.query_one(FaceMap).pick(int(key))
        return known

    def action_step(self, down: int, right: int) -> None:
        self.query_one(FaceMap).step(down, right)

    def action_number(self, way: int) -> None:
        numbers = sorted(self._rows)
        face = self.query_one(FaceMap)
        if numbers:
            at = numbers.index(face.selected) if face.selected in numbers else 0
            face.pick(numbers[(at + way) % len(numbers)])

    def action_worst(self) -> None:
        face = self.query_one(FaceMap)
        if self._order:
            going_on = self._last_worst == face.selected and face.selected in self._order
            at = self._order.index(face.selected) + 1 if going_on else 0
            self._last_worst = self._order[at % len(self._order)]
            face.pick(self._last_worst)

    def action_show(self) -> None:
        names = list(SHOWS)
        self._way = names[(names.index(self._way) + 1) % len(names)]
        self.show_again()

    def action_look(self, way: int) -> None:
        self._window += way
        self._way = "chance"
        self.show_again()

    def action_legend(self) -> None:
        lines = [f"  {sign}  {words}" for sign, words in LEVELS.values()]
        small = "On a crowded wheel the number is tenths of the limit; × is at or past it, ? not read."
        chance = "For a chance: × over the site's cap for the zone, ! over half of it; the number is per cent."
        seen = "For when last read: inspections since; × more than nine, ? never."
        self.app.push_screen(Read("Signs on the wheel", "\n".join([*lines, "", small, chance, seen])))

    def action_life(self) -> None:
        from wearplan.tui.screens.life import LifeScreen

        if self._rows:
            self.app.push_screen(LifeScreen(self.query_one(FaceMap).selected))


def worst_first(rows: dict[int, PlaceNow]) -> list[int]:
    """Places by how much of their limit is used, the most first; unknown ones before all."""

    def key(row: PlaceNow) -> tuple[int, float, int]:
        if row.wear_mm is None or row.unknown:
            return (0, 0.0, row.number)
        return (1, -row.wear_mm / row.limit_mm, row.number)

    return [row.number for row in sorted(rows.values(), key=key)]


SCREEN = WheelScreen
