"""Take in the office's files: which files, what only the site can say, the preview, then yes or no."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearplan.report.words import plain
from wearplan.tui.screens.acceptance import accept_some
from wearplan.tui.widgets.dialogs import Ask, Choose, Confirm

if TYPE_CHECKING:
    from wearplan.take.asking import Question
    from wearplan.take.engine import Taken
    from wearplan.take.keep.writing import Proposal
    from wearplan.tui.host import Host

OPEN = "leave open"


async def take_in(app: Host) -> None:
    """The whole way, dialog by dialog; Esc at the first or the last leaves no trace, elsewhere a question open."""
    from wearplan.report.take_text import checked_lines, preview_lines, table_lines
    from wearplan.site.write.durable import NotWritten
    from wearplan.take.asking import read_answers
    from wearplan.take.keep.writing import keep_answers, write

    site, folder = app.snapshot.site, app.snapshot.folder
    if site is None or folder is None:
        app.notify("The folder cannot be read yet: mend its faults, or begin with wearplan new --from.", markup=False)
        return
    asked = "Files to take in: XLSX, ODS, CSV or AGS 4; several parted by ;"
    said = await app.push_screen_wait(Ask(asked, hint="register.xlsx; rings.csv", check=_not_files))
    if said is None:
        return
    given: dict[str, Any] = {}
    facts: dict[str, Any] = {}
    if (folder / "take.toml").is_file():
        try:
            given, facts = read_answers(folder / "take.toml")
        except ValueError as error:
            app.notify(plain(str(error)), severity="error", markup=False)
            return
    taken = await _understood(app, _paths(said), given, facts)
    proposal = await _judged(app, taken)
    lines = [*preview_lines(taken, proposal), *checked_lines(site, proposal), "", *table_lines(taken)]
    if proposal.empty:
        lines = ["There is nothing to write.", *lines]
    if not await app.push_screen_wait(Confirm("Take in?", lines, yes="write it", no="leave it")) or proposal.empty:
        return
    try:
        await asyncio.to_thread(write, proposal, folder)
        await asyncio.to_thread(keep_answers, folder, taken)
    except NotWritten as refusal:
        app.notify(plain(str(refusal)), severity="error", timeout=12, markup=False)
    else:
        count = len(proposal.new) + len(proposal.corrections)
        app.notify(f"Written: {count} stops, {len(proposal.rings)} rings. {proposal.take_id}", timeout=10, markup=False)
    app.rework("read")


async def _understood(app: Host, paths: Sequence[Path], given: dict[str, Any], facts: dict[str, Any]) -> Taken:
    """What the files say, asked about until nothing new is open; answers join ``given``."""
    from wearplan.take.engine import take

    left: set[str] = set()
    while True:
        taken = await asyncio.to_thread(take, paths, app.snapshot.site, given, facts=facts)
        fresh = [question for question in taken.questions if question.name not in left]
        if not fresh:
            return taken
        answer = await _put(app, fresh[0], len(fresh))
        if answer is None:
            left.add(fresh[0].name)
        else:
            given[fresh[0].name] = answer


async def _judged(app: Host, taken: Taken) -> Proposal:
    """What would be written, once what the folder contradicts has been accepted or left out."""
    from wearplan.take.keep.holding import Accepted
    from wearplan.take.keep.writing import propose

    assert app.snapshot.folder is not None
    now, accepted, left = datetime.now().astimezone(), Accepted(), set[str]()
    while True:
        proposal = propose(taken, app.snapshot.folder, app.snapshot.site, now, accepted)
        fresh = [finding for finding in proposal.held if finding.name not in left]
        more = await accept_some(app, fresh, accepted.who)
        if not more.why:
            return proposal
        # What follows a record is judged anew once it is let in.
        left |= {finding.name for finding in fresh} - more.why.keys()
        accepted = Accepted(who=more.who, why={**accepted.why, **more.why})


def _paths(said: str) -> Sequence[Path]:
    return [Path(part.strip()).expanduser() for part in said.split(";") if part.strip()]


def _not_files(said: str) -> str | None:
    paths = _paths(said)
    missing = [str(path) for path in paths if not path.is_file()]
    return "Give a file." if not paths else f"There is no file {missing[0]}." if missing else None


async def _put(app: Host, question: Question, count: int) -> Any:
    """One question; None leaves it open."""
    where = " ".join(str(question.example.get(key, "")) for key in ("sheet", "cell", "shown")).strip()
    text = plain(f"{question.sentence}\n{question.count} cells, such as {where}. {count} questions are open.")
    if question.choices and question.form == "choice":
        ordered = sorted(question.choices, key=lambda choice: choice != question.suggested)
        choices = [(choice, plain(choice)) for choice in ordered]
        answer = await app.push_screen_wait(Choose(text, [*choices, (OPEN, "Leave it open: what hangs on it waits")]))
        return None if answer in (None, OPEN) else answer
    check: Callable[[str], str | None] | None = _not_number if question.form == "number" else None
    answer = await app.push_screen_wait(Ask(text, value=question.suggested or "", check=check))
    if not answer:
        return None
    return float(answer.replace(",", ".")) if question.form == "number" else answer


def _not_number(said: str) -> str | None:
    try:
        float(said.replace(",", "."))
    except ValueError:
        return "Write a number, or Esc to leave it open."
    return None
