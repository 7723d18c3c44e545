"""Start: where the face is, what is due, what is flagged, what changed since the last look."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Horizontal, VerticalScroll
from textual.widgets import Static

from wearplan.report.words import listing, money_text, percent_text, plain, plural
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.keep import Look, read_looks
from wearplan.tui.look import look_now, since_last
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.dialogs import Choose
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.stripview import StripView

if TYPE_CHECKING:
    from wearplan.site import Draft

DUE_CHANCE = 0.5
SECTIONS = {
    "where": "Face",
    "draft": "Draft",
    "due": "Due",
    "next": "Next",
    "flagged": "Flagged",
    "changed": "Changed",
    "troubles": "Not given",
}


class StartScreen(TaskScreen):
    """The first screen: a page of sentences, each with the key that leads on."""

    task_name = "start"
    needs = ("read", "history", "rates", "outlook", "plan")
    HELP = "What stands in this folder. Each line names the key that leads on."
    BINDINGS = bindings_of("start")

    def body(self) -> ComposeResult:
        with VerticalScroll(id="start", can_focus=True):
            for name, head in SECTIONS.items():
                with Horizontal(id=name, classes="section"):
                    yield Prose(head, classes="label")
                    yield Prose("", classes="lines", markup=False)
        yield StripView(id="start-strip")

    def on_mount(self) -> None:
        self._before: list[Look] = read_looks()
        self.query_one("#start").focus()

    def on_screen_resume(self) -> None:
        self._read_drafts()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        now = look_now(snapshot)
        before = next((look for look in self._before if now and look.folder == now.folder), None)
        self._put("where", where_lines(snapshot, display))
        self._read_drafts()
        troubles = [job.words for job in snapshot.troubled]
        self._put("due", _once(due_lines(snapshot, display), troubles))
        self._put("next", _once(next_lines(snapshot, display), troubles))
        self._put("flagged", flagged_lines(snapshot, display))
        self._put("changed", [since_last(now, before, display)] if now else [])
        self._put("troubles", troubles)
        self._strip(snapshot, display)

    def _read_drafts(self) -> None:
        self.run_worker(self._drafts_in_thread, thread=True, group="drafts", exclusive=True, exit_on_error=False)

    def _drafts_in_thread(self) -> None:
        from wearplan.site import load_drafts

        snapshot = self.app.snapshot
        found = load_drafts(snapshot.folder, site_name=snapshot.site.name if snapshot.site else "")
        self.app.call_from_thread(self._have_drafts, found)

    def _have_drafts(self, drafts: tuple[Draft, ...]) -> None:
        self._put("draft", draft_lines(drafts))

    def _strip(self, snapshot: Snapshot, display: Display) -> None:
        """The whole drive at the foot, where there is room for it."""
        view = self.query_one(StripView)
        view.display = snapshot.site is not None and self.size.height >= 34
        if snapshot.site is None or not view.display:
            return
        from wearplan.report.drawing.strip import drive_strip

        face_m = snapshot.history.face_m if snapshot.history else None
        stops = [stop.driven_m for stop in snapshot.plan.stops] if snapshot.plan else []
        view.show(
            drive_strip(
                snapshot.site, width=self.size.width - 4, face_m=face_m, stops_m=stops, feet=display.us,
                plain=self.app.plain_signs,
            )
        )  # fmt: skip

    def on_strip_view_pointed(self, event: StripView.Pointed) -> None:
        self.app.go_to("ahead", f"{event.driven_m}")

    def _put(self, name: str, lines: list[str]) -> None:
        section = self.query_one(f"#{name}")
        section.display = bool(lines)
        section.query_one(".lines", Static).update("\n".join(lines))

    def action_recent(self) -> None:
        looks = [look for look in read_looks() if look.folder != str(self.app.snapshot.folder.resolve())]
        if not looks:
            self.notify("No other site was opened from here yet.")
            return
        choices = [(look.folder, f"{plain(look.name)}  ·  {plain(look.folder)}") for look in looks]
        self.app.push_screen(Choose("Which site?", choices), self._open)

    def _open(self, folder: str | None) -> None:
        if folder:
            self.app.open_folder(folder)


def _once(lines: list[str], troubles: list[str]) -> list[str]:
    """Lines without what the section of troubles says in full."""
    return ["not known: see Not given." if line in troubles else line for line in lines]


def where_lines(snapshot: Snapshot, display: Display) -> list[str]:
    """Where the face is."""
    site = snapshot.site
    if site is None:
        return [why_missing(snapshot, "read")]
    drive = site.drive
    face_m = snapshot.history.face_m if snapshot.history else None
    if face_m is None:
        return [f"{plain(site.name)}: {why_missing(snapshot, 'history')}"]
    share = face_m / drive.length_m if drive.length_m else 0.0
    lines = [
        f"at {display.chainage(drive.chainage_m(face_m))}, {display.length(face_m)} driven of "
        f"{display.length(drive.length_m)} ({percent_text(share)}); {plural(len(site.rings), 'ring row')}, "
        f"{plural(len(site.inspections), 'inspection')}, {plural(len(site.wheel.positions), 'place')} on the wheel."
    ]
    if site.inspections:
        last = site.inspections[-1]
        lines.append(
            f"Last inspection at {display.chainage(last.chainage_m)} (ring {last.ring}), "
            f"{display.length(max(0.0, face_m - last.driven_m))} back."
        )
    else:
        lines.append("No inspection is recorded yet: F4 logs the first one.")
    return lines


def draft_lines(drafts: Sequence[Draft]) -> list[str]:
    """What was half typed and is kept."""
    from wearplan.tui.entry.keeper import draft_words

    return [f"half typed and kept: {draft_words(drafts)}  F4 then R goes on with it."] if drafts else []


def due_lines(snapshot: Snapshot, display: Display) -> list[str]:
    """Which tools are due."""
    from wearplan.report.preview import doubted_lines

    site, outlook = snapshot.site, snapshot.outlook
    if site is None:
        return []
    if outlook is None:
        return [why_missing(snapshot, "outlook")]
    now = outlook.over_limit_probability(outlook.face_m)
    past = [str(number) for number, chance in zip(outlook.numbers.tolist(), now, strict=True) if chance >= DUE_CHANCE]
    lines = [f"past their limit now, more likely than not: {listing(past, 12) or 'none'}."]
    lines += [display.words(line) for line in doubted_lines(site, outlook)]
    ahead = (
        next((window for window in site.stops.windows if window.from_m > outlook.face_m), None) if site.stops else None
    )
    if ahead is not None:
        then = outlook.over_limit_probability(ahead.from_m)
        more = [
            str(number)
            for number, chance in zip(outlook.numbers.tolist(), then, strict=True)
            if chance >= DUE_CHANCE and str(number) not in past
        ]
        lines.append(
            f"before the next window ({plain(ahead.name)}, {display.chainage(ahead.from_chainage_m)}): "
            f"{listing(more, 12) or 'no more'}.  F3 shows them."
        )
    return lines


def next_lines(snapshot: Snapshot, display: Display) -> list[str]:
    """The next stop in the plan, how far off first."""
    from wearplan.history import Calendar
    from wearplan.report.reaches import reach_words, stop_reaches

    site, plan = snapshot.site, snapshot.plan
    if site is None:
        return []
    if plan is None:
        return [why_missing(snapshot, "plan")]
    if not plan.keeps_rules:
        clash = plan.why_impossible
        return [f"{plan.headline}. " + (display.words(plain(clash.sentence)) if clash else "") + "  F7"]
    if not plan.stops:
        return [f"{plan.headline}.  F7"]
    stop = plan.stops[0]
    tools = sum(len(change.positions) for change in stop.changes)
    off = reach_words(stop_reaches(plan, Calendar(site, snapshot.history.rings if snapshot.history else None))[0])
    mode = "free air" if stop.mode == "free air" else f"{stop.mode}, {display.pressure(stop.pressure_bar)}"
    return [
        f"{off}: stop proposed at {display.chainage(stop.chainage_m)} (ring {stop.ring}), {plain(stop.window)}, "
        f"{mode}: {plural(tools, 'tool')}, {plural(stop.entries, 'entry', 'entries')}, "
        f"{money_text(stop.cost, site.currency)}.",
        f"{plan.headline}.  F7 shows why, and what going on would cost.",
    ]


def flagged_lines(snapshot: Snapshot, display: Display) -> list[str]:
    """What looks odd."""
    return list(_flagged(snapshot, display))


def _flagged(snapshot: Snapshot, display: Display) -> Iterator[str]:
    if snapshot.site is None:
        return
    if snapshot.faults:
        yield f"{plural(len(snapshot.faults), 'fault')} in the folder.  F9 lists them with the way out."
    if snapshot.fit is not None:
        if snapshot.fit.flagged:
            yield f"{plural(len(snapshot.fit.flagged), 'reading')} given less weight.  F5 says which and why."
        for remark in snapshot.fit.remarks[:2]:
            yield display.words(plain(remark))
    if snapshot.history is not None and snapshot.site is not None:
        never = [
            str(position.number)
            for position in snapshot.history.layout.positions
            if position.number not in snapshot.history.last_seen
        ]
        if never:
            yield f"never read: {listing(never, 12)}. Not read is not unworn."


SCREEN = StartScreen
