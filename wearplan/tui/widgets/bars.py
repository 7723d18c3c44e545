"""The lines every screen has: who and where, the tasks, and what the program is not."""

from __future__ import annotations

from textual.content import Content
from textual.widgets import Static

from wearplan.report.words import plain
from wearplan.tui.actions import TASKS, key_words
from wearplan.tui.display import Display
from wearplan.tui.state import STEP_WORDS, Snapshot

CAUTION = "Planning estimate. Not a safety decision; not an entry permit."


class TopLine(Static):
    """Site, place of the face, and what is being worked out."""

    _said: Content | None = None
    HELP = "The site, where its face is, and on the right what is being worked out. Ctrl+X stops it."

    def show(self, snapshot: Snapshot, display: Display) -> None:
        """Write the line anew."""
        site = snapshot.site
        name = plain(site.name) if site else snapshot.folder.name
        left = [Content.styled(f" {name} ", "bold")]
        if site is not None and site.invented:
            left.append(Content.styled("invented data ", "$accent"))
        if site is not None and snapshot.history is not None:
            face = display.chainage(site.drive.chainage_m(snapshot.history.face_m))
            left.append(Content(f"face at {face} "))
        right = Content(job_words(snapshot))
        line = Content.assemble(*left)
        room = max(1, self.size.width - line.cell_length - right.cell_length - 1)
        if line.cell_length + right.cell_length + 1 > self.size.width > 0:
            line = line.truncate(max(8, self.size.width - right.cell_length - 2), ellipsis=True)
            room = 1
        words = Content.assemble(line, " " * room, right)
        if words != self._said:
            self._said = words
            self.update(words, layout=False)


def job_words(snapshot: Snapshot) -> str:
    """What is being worked on, or what stands in the way, in a few words."""
    job = snapshot.working
    if job is not None:
        share = "" if job.share is None else f" {100 * job.share:.0f} %"
        return f"{(job.words or STEP_WORDS[job.step])[:30]}{share} …"
    troubled = snapshot.troubled
    if troubled:
        return f"! {troubled[0].step}: see Start"
    if snapshot.site is not None and snapshot.faults:
        return f"{len(snapshot.faults)} fault{'s' if len(snapshot.faults) > 1 else ''}, F9"
    return "up to date" if snapshot.demand is not None or snapshot.plan is not None else ""


class TaskBar(Static):
    """The tasks with their keys; a click goes there."""

    HELP = "The tasks. F2 to F9, or a click, go from one to the other."

    def __init__(self, task: str) -> None:
        super().__init__(id="tasks")
        self._here = task

    def render(self) -> Content:
        room = self.size.width or 80
        parts: list[Content] = []
        for task, (key, word, _) in TASKS.items():
            label = f"{key_words(key)} {word}" if room >= 72 else word
            here = task == self._here
            text = f"[{label}]" if here else f" {label} "
            style = "bold $accent" if here else "$foreground 80%"
            parts.append(Content.from_markup(f"[@click=app.task('{task}')]$text[/]", text=text).stylize(style))
        return Content.assemble(*parts)


class CautionLine(Static):
    """Said on every screen."""

    HELP = "The program plans; people with a licence decide under local law and the site's approved procedure."

    def __init__(self) -> None:
        super().__init__(f" ! {CAUTION}", id="caution", markup=False)
