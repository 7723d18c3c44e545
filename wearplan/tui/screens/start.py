"""Start: the four answers a morning begins with, each with the key that leads on; the ground ahead; what is due."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Grid, Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from wearplan.report.words import listing, plain, plural
from wearplan.tui.actions import bindings_of
from wearplan.tui.display import Display
from wearplan.tui.keep import Look, read_looks
from wearplan.tui.look import before_of, look_now
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.state import Snapshot, why_missing
from wearplan.tui.widgets.dialogs import Choose
from wearplan.tui.widgets.drawn import Drawn
from wearplan.tui.widgets.facemap import FaceMap
from wearplan.tui.widgets.prose import Prose
from wearplan.tui.widgets.stripview import StripView

if TYPE_CHECKING:
    from wearplan.report.four import Answer
    from wearplan.site import Draft

BOXES = {
    "wheel": ("On the wheel now", "outlook", "wheel", "F3"),
    "stop": ("Next stop", "plan", "stops", "F7"),
    "order": ("Order now", "demand", "store", "F8"),
    "changed": ("Changed", "read", "log", "F4"),
}
"""Box: its question, the step it rests on, the task that leads on and its key."""
LINES_WHEN_LOW = {"wheel": 2, "stop": 3, "order": 1, "changed": 2}


class Box(Prose):
    """One of the four answers; a click leads on."""

    HELP = "One of the four answers. The key beside its question, or a click, leads on."

    def __init__(self, name: str) -> None:
        super().__init__("", id=f"box-{name}", classes="box", markup=False)
        self._said: object = None
        self._leads_to = BOXES[name][2]

    def say(self, content: Content, presses: bool) -> None:
        """Show another answer; nothing is painted where it is the same."""
        self.set_class(presses, "-presses")
        if content != self._said:
            self._said = content
            self.update(content, layout=self.app.size.width < 110)  # where it is wide the boxes have a fixed height

    def on_click(self) -> None:
        self.app.action_task(self._leads_to)  # type: ignore[attr-defined]


class StartScreen(TaskScreen):
    """The first screen."""

    task_name = "start"
    needs = ("read", "history", "rates", "outlook", "plan", "demand")
    HELP = "What stands in this folder. Each answer names the key that leads on."
    BINDINGS = bindings_of("start")

    def body(self) -> ComposeResult:
        with VerticalScroll(id="start", can_focus=True):
            yield Prose("", id="start-told", markup=False)
            with Grid(id="boxes"):
                for name in BOXES:
                    yield Box(name)
        yield StripView(id="start-strip")
        with Horizontal(id="start-more"):
            yield Drawn(id="start-due")
            yield FaceMap(id="start-face", size="short")
            with Vertical(id="start-side"):
                yield Drawn(id="start-store")
                yield Prose("", id="flagged", markup=False)

    def on_mount(self) -> None:
        self._before: list[Look] = read_looks()
        self._drafts: tuple[Draft, ...] = ()
        self._told: list[str] = []
        self._flags: list[str] = []
        self.query_one("#start").focus()

    def on_screen_resume(self) -> None:
        self._read_drafts()

    def show(self, snapshot: Snapshot, display: Display) -> None:
        self._read_drafts()
        self._tell(snapshot)
        narrow, low = self.size.width < 110, self.size.height < 34
        spare = (self.size.height - 24) // 3 if narrow else 0
        for name, answer in answers_of(snapshot, self._before).items():
            lines = LINES_WHEN_LOW[name] + max(0, spare) if low or narrow else 3
            content = box_content(name, answer, snapshot, display, lines, narrow=narrow)
            self.query_one(f"#box-{name}", Box).say(*content)
        self._more(snapshot, display)
        self._strip(snapshot, display)

    def _tell(self, snapshot: Snapshot) -> None:
        """What stands above the answers: drafts, what could not be answered, and on a small screen nothing else."""
        lines = draft_lines(self._drafts)
        if snapshot.site is not None and not snapshot.site.inspections:
            lines.append("No inspection is recorded yet: F4 logs the first one.")
        lines += [f"! {job.words}" for job in snapshot.troubled]
        told = self.query_one("#start-told", Static)
        if told.display != bool(lines) or lines != self._told:
            self._told = lines
            told.display = bool(lines)
            told.update("\n".join(lines))

    def _read_drafts(self) -> None:
        self.run_worker(self._drafts_in_thread, thread=True, group="drafts", exclusive=True, exit_on_error=False)

    def _drafts_in_thread(self) -> None:
        from wearplan.site import load_drafts

        snapshot = self.app.snapshot
        found = load_drafts(snapshot.folder, site_name=snapshot.site.name if snapshot.site else "")
        self.app.call_from_thread(self._have_drafts, found)

    def _have_drafts(self, drafts: tuple[Draft, ...]) -> None:
        if drafts != self._drafts:
            self._drafts = drafts
            self._tell(self.app.snapshot)

    def _more(self, snapshot: Snapshot, display: Display) -> None:
        """At width: the worst places, a small wheel, the store, what looks odd."""
        more = self.query_one("#start-more")
        more.display = self.size.width >= 110 and self.size.height >= 40
        if not more.display or snapshot.site is None or snapshot.history is None:
            return
        from wearplan.report.drawing.face import arm_angles
        from wearplan.report.drawing.stock import shelf_rows, shelves
        from wearplan.tui.marks import links, marks_of, places_now, worst_first
        from wearplan.tui.panel import worst_sheet

        plain_signs, rows = self.app.plain_signs, places_now(snapshot)
        due, store = self.query_one("#start-due", Drawn), self.query_one("#start-store", Drawn)
        order = worst_first(rows)
        due.fill(
            lambda width, height: worst_sheet(
                snapshot, rows, order, display, width=width, height=height, plain_signs=plain_signs
            )
        )
        places = snapshot.history.layout.positions
        self.query_one(FaceMap).show(
            marks_of(snapshot, rows, "wear", None, plain=plain_signs), 500.0 * snapshot.site.wheel.bore_diameter_m,
            arms=arm_angles((place.arm, place.angle_deg) for place in places), links=links(places), plain=plain_signs,
        )  # fmt: skip
        if snapshot.demand is not None:
            found = shelves(snapshot.demand, snapshot.site, snapshot.plan)
            store.fill(lambda width, height: shelf_rows(found, width=width, height=height, plain_signs=plain_signs))
        flags = flagged_lines(snapshot, display)
        if flags != self._flags:
            self._flags = flags
            self.query_one("#flagged", Static).update("\n".join(flags))

    def _strip(self, snapshot: Snapshot, display: Display) -> None:
        """The drive ahead."""
        view = self.query_one(StripView)
        if snapshot.site is None:
            return
        from wearplan.report.drawing.strip import drive_strip

        face_m = snapshot.history.face_m if snapshot.history else 0.0
        length = snapshot.site.drive.length_m
        view.show(
            drive_strip(
                snapshot.site, width=self.size.width - 4, face_m=face_m,
                ground_rows=1 if self.size.height < 34 else 8,
                from_m=max(0.0, min(face_m - 0.04 * (length - face_m), length - 30.0)),
                stops_m=[stop.driven_m for stop in snapshot.plan.stops] if snapshot.plan else [],
                feet=display.us, plain=self.app.plain_signs,
            )
        )  # fmt: skip

    def on_strip_view_pointed(self, event: StripView.Pointed) -> None:
        self.app.go_to("ahead", f"{event.driven_m}")

    def on_face_map_picked(self, event: FaceMap.Picked) -> None:
        self.app.go_to("wheel", f"{event.number}")

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


def answers_of(snapshot: Snapshot, looks: Sequence[Look]) -> dict[str, Answer | None]:
    """The four answers, None where one is not there."""
    if snapshot.site is None:
        return dict.fromkeys(BOXES)
    from wearplan.report import four

    site, history, outlook, plan = snapshot.site, snapshot.history, snapshot.outlook, snapshot.plan
    now = look_now(snapshot)
    before = next((look for look in looks if now and look.folder == now.folder), None)
    there = history is not None and history.calendar is not None
    return {
        "wheel": four.on_wheel(site, outlook, history.current, snapshot.fit)
        if outlook is not None and history is not None
        else None,
        "stop": four.next_stop(site, plan, history.calendar)
        if plan is not None and there and history is not None and history.calendar is not None
        else None,
        "order": four.order_now(snapshot.demand) if snapshot.demand is not None else None,
        "changed": four.changed(
            site,
            plan,
            history.face_m if history is not None else 0.0,
            before_of(before, site.inputs_sha256),
            snapshot.demand,
        ),
    }


def box_content(
    name: str, answer: Answer | None, snapshot: Snapshot, display: Display, most: int, *, narrow: bool
) -> tuple[Content, bool]:
    """The words of a box, and whether it presses; where it is narrow the answer stands beside its question."""
    question, step, _, key = BOXES[name]
    gap = "  " if narrow else "\n"
    if answer is None:
        words = "not known: see above" if _barred(snapshot) else why_missing(snapshot, step)
        return _head(question, key) + Content(f"{gap}{words}"), False
    old = snapshot.old(step)
    mark = Content.styled(f"  old: rests on {old}, newer facts are worked in", "$warning") if old else Content("")
    lead = Content.styled(f"{gap}{display.words(answer.lead)}", "bold $accent" if answer.presses else "bold")
    lines = [display.words(plain(line)) for line in answer.lines]
    shown, rest = lines[:most], len(lines) - most
    if rest > 0:
        shown[-1] += f"  (+{rest}: {key})"
    told = Content("".join(f"\n{'  ' if narrow else ''}{line}" for line in shown))
    return _head(answer.question, key) + mark + lead + told, answer.presses


def _barred(snapshot: Snapshot) -> bool:
    return any(job.state in ("barred", "failed") for job in snapshot.troubled)


def _head(question: str, key: str) -> Content:
    return Content.assemble(
        (question.upper() if len(question) < 18 else question, "bold $primary"), (f"  {key}", "$foreground 70%")
    )


def draft_lines(drafts: Sequence[Draft]) -> list[str]:
    """What was half typed and is kept."""
    from wearplan.tui.entry.keeper import draft_words

    return [f"half typed and kept: {draft_words(drafts)}  F4 then R goes on with it."] if drafts else []


def flagged_lines(snapshot: Snapshot, display: Display) -> list[str]:
    """What looks odd."""
    return list(_flagged(snapshot, display))


def _flagged(snapshot: Snapshot, display: Display) -> Iterator[str]:
    if snapshot.site is None:
        return
    if snapshot.faults:
        yield f"{plural(len(snapshot.faults), 'fault')} in the folder.  F9"
    if snapshot.fit is not None:
        if snapshot.fit.flagged:
            yield f"{plural(len(snapshot.fit.flagged), 'reading')} given less weight.  F5"
        for remark in snapshot.fit.remarks[:2]:
            yield display.words(plain(remark))
    if snapshot.history is not None:
        never = [
            str(position.number)
            for position in snapshot.history.layout.positions
            if position.number not in snapshot.history.last_seen
        ]
        if never:
            yield f"never read: {listing(never, 12)}. Not read is not unworn."


SCREEN = StartScreen
