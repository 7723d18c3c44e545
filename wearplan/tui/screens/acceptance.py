"""Contradictions put to the person who writes a record: back to the sheet, or each accepted with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wearplan.report.words import plain, plural
from wearplan.tui.widgets.dialogs import Ask, Choose, Confirm

if TYPE_CHECKING:
    from wearplan.gate import Finding
    from wearplan.take.keep.holding import Accepted
    from wearplan.tui.host import Host

GO_ON = "go on"


async def accept_each(app: Host, findings: Sequence[Finding], who: str) -> tuple[str, dict[str, str]] | None:
    """Who accepts, and why by the sentence of each finding; None where one of them was not accepted."""
    lines = ["Nothing is written as it stands. Look at the paper again:"]
    for finding in findings:
        lines += ["", f"! {finding.line}"]
    if not await app.push_screen_wait(
        Confirm("The folder contradicts this", lines, yes="it is true all the same: say why", no="back to correct it")
    ):
        return None
    named = await _who(app, who)
    if named is None:
        return None
    why: dict[str, str] = {}
    for finding in findings:
        said = await _why(app, finding)
        if said is None:
            return None
        why[finding.line] = said
    return named, why


async def accept_some(app: Host, findings: Sequence[Finding], who: str) -> Accepted:
    """Of what is held back with its records, what is true all the same, one after the other with its reason; the
    records of the others are left out. Esc goes one step back.
    """
    from wearplan.take.keep.holding import Accepted

    why: dict[str, str] = {}
    open_ = list(findings)
    while open_:
        asked = (
            f"The folder contradicts {plural(len(open_), 'thing')}: the records are held back, the others will be "
            f"written. Accept one that is true all the same:"
        )
        lines = [(str(number), plain(finding.line)) for number, finding in enumerate(open_)]
        picked = await app.push_screen_wait(Choose(asked, [(GO_ON, "Go on: leave these out"), *lines]))
        if picked in (None, GO_ON):
            break
        named, finding = await _who(app, who), open_[int(picked)]
        if named is None or (said := await _why(app, finding)) is None:
            continue
        who, why[finding.name] = named, said
        open_ = [each for each in open_ if each.name != finding.name]
    return Accepted(who=who, why=why)


async def _who(app: Host, who: str) -> str | None:
    """Who accepts, asked where it is not known; None on the way back."""
    if who.strip():
        return who.strip()
    said = await app.push_screen_wait(Ask("Who accepts it? The record keeps the name.", check=_a_name))
    return None if said is None else said.strip()


async def _why(app: Host, finding: Finding) -> str | None:
    """The reason; None on the way back."""
    asked = f"{plain(finding.line)}\n\nAccepted because:"
    said = await app.push_screen_wait(Ask(asked, hint="why it is true all the same", check=_a_why))
    return None if said is None else said.strip()


def _a_name(text: str) -> str | None:
    return None if text.strip() else "Type a name, or Esc to go back."


def _a_why(text: str) -> str | None:
    return None if text.strip() else "It is not accepted without a reason; Esc goes back to correct it."
