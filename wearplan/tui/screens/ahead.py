"""Ahead: the drive as a strip, a pointer on it, and the wear of one tool along it."""

from __future__ import annotations

import numpy as np
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import Static

from wearplan.report.approval import NOT_APPROVED
from wearplan.report.drawing.fan import fan_key, fan_lines
from wearplan.report.drawing.strip import drive_strip
from wearplan.report.words import chance_text, listing, percent_text, plain
from wearplan.site.records import Window
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.charts import coloured
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.stripview import StripView
from wearplan.tui.widgets.words import Words

LEAST_STRETCH_M = 30.0
FAR = 1.25


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
        yield Prose("", id="strip-legend", markup=False, classes="note")
        yield Words(id="pointed")
        yield Words(id="fan")

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
            self._pointer_m = snapshot.history.face_m
            self._from_m, self._stretch_m = 0.0, length
        stretch = self._stretch_m or length
        stops = [stop.driven_m for stop in snapshot.plan.stops] if snapshot.plan else []
        strip = drive_strip(
            site, width=max(40, self.size.width), from_m=self._from_m, to_m=min(length, self._from_m + stretch),
            face_m=snapshot.history.face_m if snapshot.history else None, stops_m=stops, over=self._over(snapshot),
            cursor_m=self._pointer_m, feet=display.us,
        )  # fmt: skip
        self.query_one(StripView).draw(strip)
        legend = "\n".join(f" {plain(line)}" for line in strip.legend)
        if legend != self._legend:
            self._legend = legend
            self.query_one("#strip-legend", Static).update(legend)
        self.query_one("#pointed", Words).say("\n".join(pointed_words(snapshot, self._pointer_m, display)))
        self._fan(snapshot, display)

    def show_work(self, snapshot: Snapshot, display: Display) -> None:
        if snapshot.outlook is None:
            self._fan(snapshot, display)

    def _over(self, snapshot: Snapshot) -> tuple[list[float], list[float]] | None:
        """Expected number of tools past their limit along the grid."""
        if snapshot.over_ahead is None or snapshot.outlook is None:
            return None
        return snapshot.outlook.grid_m.tolist(), snapshot.over_ahead.tolist()

    def _fan(self, snapshot: Snapshot, display: Display) -> None:
        widget = self.query_one("#fan", Words)
        outlook, history = snapshot.outlook, snapshot.history
        if outlook is None or history is None:
            widget.say(why_missing(snapshot, "outlook"))
            return
        numbers = outlook.numbers.tolist()
        if self._tool_at is None or self._tool_at not in numbers:
            self._tool_at = soonest(snapshot) or numbers[0]
        number = self._tool_at
        room = widget.size.height
        height = room - 2 if room >= 11 else max(6, room - 1)
        lines = tool_fan(snapshot, number, display, width=self.size.width - 2, height=height)
        tool = snapshot.tools[number]
        head = f" Place {number}, {plain(tool.serial or 'no serial')}, {tool.kind}, {tool.zone}   (N P: other tools)"
        key = f" {fan_key()}"
        widget.say(Content("\n").join([Content(head), coloured(lines), Content(key)]))

    # Actions ------------------------------------------------------------------------------------------------------

    def on_strip_view_pointed(self, event: StripView.Pointed) -> None:
        self._point(event.driven_m)

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


def tool_fan(snapshot: Snapshot, number: int, display: Display, *, width: int, height: int) -> list[str]:
    """The fan of one tool's wear from its last readings to the end of the drive."""
    site, outlook, history = snapshot.site, snapshot.outlook, snapshot.history
    assert site is not None
    assert outlook is not None
    assert history is not None
    at = int(np.flatnonzero(outlook.numbers == number)[0])
    factor = 1 / 25.4 if display.us else 1.0
    draws = np.asarray(outlook.wear_mm[:, at, :]) * factor
    levels = np.quantile(draws, (0.05, 0.25, 0.5, 0.75, 0.95), axis=0)
    limit = float(outlook.limit_mm[at]) * factor
    # Far past the limit nothing is decided any more: the chart stops where even the low band lies well above it.
    far = np.flatnonzero(levels[0] > FAR * limit)
    kept = slice(0, max(2, int(far[0]) + 1) if len(far) else levels.shape[1])
    levels = levels[:, kept]
    life = history.current.get(number)
    readings = [(r.driven_m, r.wear_mm * factor) for r in (life.readings if life else ()) if r.wear_mm is not None]
    grid_m = outlook.grid_m[kept]
    stops = [s.driven_m for s in snapshot.plan.stops if s.driven_m <= grid_m[-1]] if snapshot.plan else []
    return fan_lines(
        grid_m,
        dict(zip(("p05", "p25", "p50", "p75", "p95"), levels, strict=True)),
        width=width,
        height=height,
        limit=limit,
        top=1.3 * max(limit, float(levels[4][0]), *(wear for _, wear in readings)),
        readings=readings,
        stops_m=stops,
        x_text=lambda m: display.chainage(site.drive.chainage_m(m)),
        y_text=(lambda v: f"{v:.2f}") if display.us else (lambda v: f"{v:.0f}"),
        y_unit=display.wear_unit,
    )


def pointed_words(snapshot: Snapshot, at_m: float, display: Display) -> list[str]:
    """Ground, windows, keep-outs and tools past their limit at a place."""
    site = snapshot.site
    assert site is not None
    lines = [f" At {display.chainage(site.drive.chainage_m(at_m))}: {ground_words(snapshot, at_m, display)}"]
    stops = site.stops
    for window in stops.windows if stops else ():
        if window.from_m - 1e-6 <= at_m <= window.to_m + 1e-6:
            lines.append(f" Window {window_words(window, display)}")
    for keep_out in stops.keep_outs if stops else ():
        if keep_out.from_m <= at_m <= keep_out.to_m:
            lines.append(f" x Keep out: {plain(keep_out.reason)}")
    for event in site.events:
        if abs(event.driven_m - at_m) < site.drive.ring_length_m:
            lines.append(f" Event: {plain(event.kind)} {plain(event.note or '')}".rstrip())
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
            return f"{plain(words)}, to {end}{doubt}; {plain(ground.source)} of {ground.known_on}"
    return "no section here"


def window_words(window: Window, display: Display) -> str:
    """A window in a line, its pressure with its source or the lack of one."""
    words = f"{plain(window.name)}: {window.kind}, {window.mode}"
    if window.pressure_bar:
        source = plain(window.pressure_source) if window.pressure_source else NOT_APPROVED
        words += f", {display.pressure(window.pressure_bar)} ({source})"
    return f"{words}, {display.chainage(window.from_chainage_m)} to {display.chainage(window.to_chainage_m)}"


SCREEN = AheadScreen
