"""Wheel: the face to scale, tool by tool, or wear from the centre to the gauge; the place picked; the worst first."""

from __future__ import annotations

from collections.abc import Callable

from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical

from wearplan.report.drawing.face import WORDS, arm_angles, level_signs
from wearplan.report.drawing.profile import Bar, profile_sheet
from wearplan.report.drawing.sheet import Sheet
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.fans import fan_of_tool
from wearplan.tui.marks import SHOWS, PlaceNow, bars_of, links, marks_of, places_now, worst_first
from wearplan.tui.panel import level_key, place_panel, worst_sheet
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.dialogs import Read
from wearplan.tui.widgets.drawn import Drawn, words_of
from wearplan.tui.widgets.facemap import FaceMap
from wearplan.tui.widgets.words import Words

FORGET_SECONDS = 1.5
"""A number typed so far is forgotten after this."""


class WheelScreen(TaskScreen):
    """The face of the wheel and the place picked."""

    task_name = "wheel"
    needs = ("history", "outlook", "plan")
    BINDINGS = bindings_of("wheel")

    def __init__(self) -> None:
        super().__init__()
        self._rows: dict[int, PlaceNow] = {}
        self._way = "wear"
        self._window = 0
        self._typed = ""
        self._order: list[int] = []
        self._last_worst: int | None = None
        self._profile = False

    def body(self) -> ComposeResult:
        yield Words(id="face-head")
        with Horizontal(id="face-row"):
            yield FaceMap(id="face")
            with Vertical(id="profiles"):
                yield Drawn(id="profile-discs")
                yield Drawn(id="profile-others")
            with Vertical(id="wheel-panel", classes="side"):
                yield Words(id="place")
                yield Drawn(id="place-fan")
                yield Drawn(id="worst")
                yield Drawn(id="small-profile")
                yield Words(id="face-key")

    def on_mount(self) -> None:
        self.query_one(FaceMap).focus()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        self._rows = places_now(snapshot)
        face = self.query_one(FaceMap)
        if not self._rows:
            self.query_one("#face-head", Words).say(why_missing(snapshot, "history"))
            return
        plain = self.app.plain_signs
        assert snapshot.site is not None
        assert snapshot.history is not None
        positions = snapshot.history.layout.positions
        face.show(
            marks_of(snapshot, self._rows, self._way, self._at_m(snapshot), plain=plain),
            500.0 * snapshot.site.wheel.bore_diameter_m,
            arms=arm_angles((place.arm, place.angle_deg) for place in positions), links=links(positions), plain=plain,
        )  # fmt: skip
        self._order = worst_first(self._rows)
        if face.selected not in self._rows:
            face.selected = self._order[0]
            self._last_worst = self._order[0]
        self.query_one("#face-key", Words).say(words_of(level_key(plain)))
        self._arrange()
        self._head(snapshot, display)
        self._panel(snapshot, display)

    def show_work(self, snapshot: Snapshot, display: Display) -> None:
        if self._rows:
            self._head(snapshot, display)
            self._panel(snapshot, display)
        else:
            self.show(snapshot, display)

    def _arrange(self) -> None:
        """Face or profile; beside the face what there is room for."""
        wide = self.size.width >= 110
        self.query_one(FaceMap).display = not self._profile
        self.query_one("#profiles").display = self._profile
        self.query_one("#wheel-panel").display = wide or not self._profile
        self.query_one("#place-fan").display = wide and self.size.height >= 40
        self.query_one("#small-profile").display = wide and self.size.height >= 44 and not self._profile

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
        site = snapshot.site
        words = {"wear": "bar of the limit used, place number"}.get(self._way, "")
        words = f"{SHOWS[self._way]}{': ' if words else ''}{words}"
        at_m = self._at_m(snapshot) or 0.0
        where = display.chainage(site.drive.chainage_m(at_m)) if site is not None else ""
        if self._way == "chance" and site is not None:
            words += f" before {where} ([ ] move it)"
            if snapshot.outlook is None:
                words = why_missing(snapshot, "outlook")
        if self._profile:
            words = f"the limit used, centre to rim; dot, or sign over the limit: if left at {where} ([ ] move it)"
            if self.size.width < 110:
                words = f"the limit used, centre to rim; dot: if left at {where} ([ ] move it)"
        typed = f"   number {self._typed}_" if self._typed else ""
        self.query_one("#face-head", Words).say(f" {'P' if self._profile else 'S'} shows {words}{typed}")

    def _panel(self, snapshot: Snapshot, display: Display) -> None:
        number = self.query_one(FaceMap).selected
        row, plain = self._rows.get(number), self.app.plain_signs
        if row is None:
            return
        wide = self.size.width >= 110
        self.query_one("#place", Words).say(place_panel(snapshot, row, display, wide=wide, plain_signs=plain))
        fan = self.query_one("#place-fan", Drawn)
        if fan.display:
            fan.fill(lambda width, height: fan_of_tool(snapshot, number, display, width, height, plain=plain))
        rows, order = self._rows, self._order
        self.query_one("#worst", Drawn).fill(
            lambda width, height: worst_sheet(
                snapshot, rows, order, display, width=width, height=height, picked=number, plain_signs=plain
            )
        )
        self._profiles(snapshot, number, plain)

    def _profiles(self, snapshot: Snapshot, number: int, plain: bool) -> None:
        groups = bars_of(snapshot, self._rows, self._at_m(snapshot) if snapshot.outlook is not None else None)
        for id, bars, name in zip(("#profile-discs", "#profile-others"), groups, ("discs", "others"), strict=True):
            widget = self.query_one(id, Drawn)
            widget.display = bool(bars)
            if self._profile and bars:
                widget.fill(_profile_of(bars, number, name, plain))
        small = self.query_one("#small-profile", Drawn)
        if small.display:
            small.fill(_profile_of(groups[0] or groups[1], number, "", plain))

    def on_face_map_picked(self, event: FaceMap.Picked) -> None:
        self._panel(self.app.snapshot, self.app.units)

    def on_drawn_pointed(self, event: Drawn.Pointed) -> None:
        if event.drawn.id == "worst" and 0 < event.row <= len(self._order):
            self.query_one(FaceMap).pick(self._order[event.row - 1])

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

    @property
    def here(self) -> str | None:
        return str(self.query_one(FaceMap).selected) if self._rows else None

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
        self._profile = False
        self.show_again()

    def action_profile(self) -> None:
        """From the face to the profile and back."""
        self._profile = not self._profile
        self.hold()
        self._arrange()
        self.call_after_refresh(self._show_and_release)

    def action_look(self, way: int) -> None:
        self._window += way
        if not self._profile:
            self._way = "chance"
        self.show_again()

    def action_legend(self) -> None:
        plain = self.app.plain_signs
        lines = [f"  {sign}  {WORDS[level]}" for level, sign in level_signs(plain).items()]
        more = (
            f"  {'v' if plain else '▼'}  changed at the next stop of the plan",
            "",
            "With room, a bar of the limit used stands before the place's number; two joined by dots share a housing.",
            "For a chance: number, then per cent; for when last read: number, then inspections since (? never).",
            "On a small wheel a chance is in tenths; x is over the site's cap for the zone.",
        )  # fmt: skip
        self.app.push_screen(Read("Signs on the wheel", "\n".join([*lines, *more])))

    def action_life(self) -> None:
        from wearplan.tui.screens.life import LifeScreen

        if self._rows:
            self.app.push_screen(LifeScreen(self.query_one(FaceMap).selected))


def _profile_of(bars: list[Bar], picked: int, name: str, plain: bool) -> Callable[[int, int], Sheet]:
    def fill(width: int, height: int) -> Sheet:
        return profile_sheet(bars, width=width, height=height, picked=picked, name=name, plain=plain)

    return fill


SCREEN = WheelScreen
