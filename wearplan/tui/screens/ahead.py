"""Ahead: the drive as a strip, a pointer on it, and the wear of one tool along it."""

from __future__ import annotations

import numpy as np
from textual.app import ComposeResult

from wearplan.report.approval import NOT_APPROVED
from wearplan.report.drawing.fan import fan_key
from wearplan.report.drawing.strip import Stretched, drive_strip
from wearplan.report.reaches import limit_reach, reach_words
from wearplan.report.words import chance_text, listing, percent_text
from wearplan.report.words import plain as plain_text
from wearplan.site.records import Window
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.fans import fan_of_tool
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.drawn import Drawn, words_of
from wearplan.tui.widgets.stripview import StripView
from wearplan.tui.widgets.words import Words

LEAST_STRETCH_M = 30.0
BEHIND = 0.04
"""Share of the way ahead that is shown behind the face at first."""


class AheadScreen(TaskScreen):
    """Strip above, words on the place pointed at, fan of wear below."""

    task_name = "ahead"
    needs = ("read", "history", "outlook", "plan")
    BINDINGS = bindings_of("ahead")

    def __init__(self) -> None:
        super().__init__()
        self._pointer_m: float | None = None
        self._stretch_m: float | None = None
        self._from_m = 0.0
        self._legend = ""
        self._tool_at: int | None = None

    def body(self) -> ComposeResult:
        yield StripView(id="strip")
        yield Words(id="strip-legend")
        yield Words(id="pointed")
        yield Words(id="fan-head")
        yield Drawn(id="fan")

    def on_mount(self) -> None:
        self.query_one(StripView).focus()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        site = snapshot.site
        if site is None:
            self.query_one("#pointed", Words).say(why_missing(snapshot, "read"))
            return
        length = site.drive.length_m
        if self._pointer_m is None:
            if snapshot.history is None:
                self.query_one("#pointed", Words).say(why_missing(snapshot, "history"))
                return
            self._pointer_m = face_m = snapshot.history.face_m
            self._from_m = max(0.0, min(face_m - BEHIND * (length - face_m), length - LEAST_STRETCH_M))
            self._stretch_m = length - self._from_m
        stretch, tall = self._stretch_m or length, self.size.height >= 34
        to_m = min(length, self._from_m + stretch)
        strip = drive_strip(
            site, width=max(40, self.size.width - 2), ground_rows=max(3, self.size.height // 4 - 3),
            from_m=self._from_m, to_m=to_m, face_m=snapshot.history.face_m if snapshot.history else None,
            stops_m=[stop.driven_m for stop in snapshot.plan.stops] if snapshot.plan else (),
            over=self._over(snapshot) if tall else None, stretches=self._stretches(snapshot, to_m),
            cursor_m=self._pointer_m, feet=display.us, plain=self.app.plain_signs,
        )  # fmt: skip
        self.query_one(StripView).show(strip)
        self.query_one("#strip-legend", Words).say(words_of((*strip.legend[0], ("\n", ""), *strip.legend[1])))
        self.query_one("#pointed", Words).say("\n".join(pointed_words(snapshot, self._pointer_m, display)))
        self._fan(snapshot, display)

    def _stretches(self, snapshot: Snapshot, to_m: float) -> list[Stretched]:
        """Stretches in view that were harder or easier than their units."""
        found = snapshot.fit.stretches if snapshot.fit is not None else ()
        return [each for each in found if each.named and each.to_m > self._from_m and each.from_m < to_m]

    def show_work(self, snapshot: Snapshot, display: Display) -> None:
        if snapshot.outlook is None:
            self._fan(snapshot, display)

    def _over(self, snapshot: Snapshot) -> tuple[list[float], list[float]] | None:
        """Expected number of tools past their limit along the grid."""
        if snapshot.over_ahead is None or snapshot.outlook is None:
            return None
        return snapshot.outlook.grid_m.tolist(), snapshot.over_ahead.tolist()

    def _fan(self, snapshot: Snapshot, display: Display) -> None:
        widget, head = self.query_one("#fan", Drawn), self.query_one("#fan-head", Words)
        outlook, history, plain = snapshot.outlook, snapshot.history, self.app.plain_signs
        if outlook is None or history is None:
            head.say(why_missing(snapshot, "outlook"))
            return
        numbers = outlook.numbers.tolist()
        if self._tool_at is None or self._tool_at not in numbers:
            self._tool_at = soonest(snapshot) or numbers[0]
        number = self._tool_at
        tool = snapshot.tools[number]
        reach = f": at its limit {limit_reach(tool, history.calendar)}" if history.calendar is not None else ""
        serial = plain_text(tool.serial or "no serial")
        words = f" Place {number}, {serial}, {tool.kind}, {tool.zone}{reach}   N P other tools"
        key = (("\n ", ""), *fan_key(plain=plain)) if self.size.height >= 34 else ()
        head.say(words_of(((words, "plain"), *key)))
        widget.fill(lambda width, tall: fan_of_tool(snapshot, number, display, width, tall, plain=plain))

    # Actions ------------------------------------------------------------------------------------------------------

    def on_strip_view_pointed(self, event: StripView.Pointed) -> None:
        self._point(event.driven_m)

    @property
    def here(self) -> str | None:
        return None if self._pointer_m is None else str(self._pointer_m)

    def point(self, key: str) -> bool:
        """Point at driven metres."""
        if self._pointer_m is None:
            return False
        self._wanted = None
        self._point(float(key))
        return True

    def _point(self, driven_m: float) -> None:
        site = self.app.snapshot.site
        if site is None:
            return
        length = site.drive.length_m
        self._pointer_m = min(length, max(0.0, driven_m))
        stretch = self._stretch_m or length
        if not self._from_m <= self._pointer_m <= self._from_m + stretch:
            self._from_m = min(max(0.0, self._pointer_m - stretch / 2), max(0.0, length - stretch))
        self.show_again()

    def action_zoom(self, factor: float) -> None:
        site = self.app.snapshot.site
        if site is None or self._pointer_m is None:
            return
        length = site.drive.length_m
        stretch = min(length, max(LEAST_STRETCH_M, (self._stretch_m or length) * factor))
        self._stretch_m = stretch
        self._from_m = min(max(0.0, self._pointer_m - stretch / 2), length - stretch)
        self.show_again()

    def action_pan(self, way: int) -> None:
        site = self.app.snapshot.site
        if site is not None and self._pointer_m is not None:
            step = max(
                site.drive.ring_length_m, (self._stretch_m or site.drive.length_m) / max(20, self.size.width - 12)
            )
            self._point(self._pointer_m + way * step)

    def action_window(self, way: int) -> None:
        site = self.app.snapshot.site
        if site is None or site.stops is None or self._pointer_m is None:
            return
        places = sorted(window.from_m for window in site.stops.windows)
        ahead = (
            [at for at in places if at > self._pointer_m + 0.01]
            if way > 0
            else [at for at in places if at < self._pointer_m - 0.01]
        )
        if ahead:
            self._point(ahead[0] if way > 0 else ahead[-1])

    def action_tool(self, way: int) -> None:
        order = by_limit(self.app.snapshot)
        if order:
            at = order.index(self._tool_at) if self._tool_at in order else 0
            self._tool_at = order[(at + way) % len(order)]
            self.show_again()


def by_limit(snapshot: Snapshot) -> list[int]:
    """Places by where they reach their limit, the soonest first."""
    drive = snapshot.site.drive if snapshot.site else None

    def key(number: int) -> tuple[float, float]:
        tool = snapshot.tools[number]
        at = tool.limit_chainage_m.p50
        return (drive.driven_m(at) if drive and at is not None else np.inf, tool.beyond_drive_probability)

    return sorted(snapshot.tools, key=key)


def soonest(snapshot: Snapshot) -> int | None:
    """The place that reaches its limit first."""
    order = by_limit(snapshot)
    return order[0] if order else None


def pointed_words(snapshot: Snapshot, at_m: float, display: Display) -> list[str]:
    """Ground, windows, keep-outs and tools past their limit at a place."""
    site = snapshot.site
    assert site is not None
    calendar = snapshot.history.calendar if snapshot.history else None
    off = f", {reach_words(calendar.reach(at_m))}" if calendar is not None and at_m > calendar.face_m + 0.01 else ""
    lines = [f" At {display.chainage(site.drive.chainage_m(at_m))}{off}: {ground_words(snapshot, at_m, display)}"]
    stops = site.stops
    for window in stops.windows if stops else ():
        if window.from_m - 1e-6 <= at_m <= window.to_m + 1e-6:
            lines.append(f" Window {window_words(window, display)}")
    for keep_out in stops.keep_outs if stops else ():
        if keep_out.from_m <= at_m <= keep_out.to_m:
            lines.append(f" x Keep out: {plain_text(keep_out.reason)}")
    for event in site.events:
        if abs(event.driven_m - at_m) < site.drive.ring_length_m:
            lines.append(f" Event: {plain_text(event.kind)} {plain_text(event.note or '')}".rstrip())
    outlook = snapshot.outlook
    if outlook is not None and at_m >= outlook.face_m:
        chance = outlook.over_limit_probability(at_m)
        order = np.argsort(-chance)[:8]
        worst = [f"{outlook.numbers[i]} ({chance_text(float(chance[i]))})" for i in order if chance[i] >= 0.005]
        lines.append(
            f" Past their limit here if left: {listing(worst) or 'none likely'}; {chance.sum():.1f} tools expected."
        )
    return lines


def ground_words(snapshot: Snapshot, at_m: float, display: Display) -> str:
    """The ground of the section at a place."""
    site = snapshot.site
    ground = site.ground() if site else None
    if ground is None:
        return "no ground known"
    for section in ground.sections:
        if section.from_m <= at_m <= section.to_m:
            if not section.cut:
                return "not cut (pulled through)"
            if section.strata:
                layers = [
                    stratum.unit if stratum.top_m is None else f"{stratum.unit} from {stratum.top_m:+.1f} m down"
                    for stratum in section.strata
                ]
                words = "from the crown: " + ", ".join(layers)
            else:
                words = ", ".join(f"{unit} {percent_text(share)}" for unit, share in section.mix.items())
            end = display.chainage(section.to_chainage_m)
            doubt = f" (give or take {display.length(section.boundary_sd_m)})" if section.boundary_sd_m else ""
            return f"{plain_text(words)}, to {end}{doubt}; {plain_text(ground.source)} of {ground.known_on}"
    return "no section here"


def window_words(window: Window, display: Display) -> str:
    """A window in a line, its pressure with its source or the lack of one."""
    words = f"{plain_text(window.name)}: {window.kind}, {window.mode}"
    if window.pressure_bar:
        source = plain_text(window.pressure_source) if window.pressure_source else NOT_APPROVED
        words += f", {display.pressure(window.pressure_bar)} ({source})"
    return f"{words}, {display.chainage(window.from_chainage_m)} to {display.chainage(window.to_chainage_m)}"


SCREEN = AheadScreen
