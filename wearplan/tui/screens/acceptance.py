"""Contradictions put to the person who writes a record: back to the sheet, or each accepted with its reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from wearplan.tui.widgets.dialogs import Ask, Confirm

if TYPE_CHECKING:
    from wearplan.gate import Finding
    from wearplan.tui.host import Host


async def accept_each(app: Host, findings: Sequence[Finding], who: str) -> tuple[str, dict[str, str]] | None:
    """Who accepts, and why by the sentence of each finding; None where one of them was not accepted."""
    lines = ["Nothing is written as it stands. Look at the paper again:"]
    for finding in findings:
        lines += ["", f"! {finding.line}"]
    if not await app.push_screen_wait(
        Confirm("The folder contradicts this", lines, yes="it is true all the same: say why", no="back to correct it")
    ):
        return None
    if not who.strip():
        said = await app.push_screen_wait(Ask("Who accepts it? The record keeps the name.", check=_a_name))
        if said is None:
            return None
        who = said
    why: dict[str, str] = {}
    for finding in findings:
        hint = "why it is true all the same"
        said = await app.push_screen_wait(Ask(f"{finding.line}\n\nAccepted because:", hint=hint, check=_a_why))
        if said is None:
            return None
        why[finding.line] = said.strip()
    return who.strip(), why


def _a_name(text: str) -> str | None:
    return None if text.strip() else "Type a name, or Esc to go back."


def _a_why(text: str) -> str | None:
    return None if text.strip() else "It is not accepted without a reason; Esc goes back to correct it."
