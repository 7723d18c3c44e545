"""What stands in a folder now against what stood there at the last look."""

from __future__ import annotations

from datetime import datetime

from wearplan.report.words import plural
from wearplan.tui.display import Display
from wearplan.tui.keep import Look
from wearplan.tui.state import Snapshot


def look_now(snapshot: Snapshot) -> Look | None:
    """The look to remember; None while there is nothing to remember."""
    site = snapshot.site
    if site is None:
        return None
    return Look(
        folder=str(snapshot.folder.resolve()),
        name=site.name,
        at=datetime.now().astimezone().isoformat(timespec="minutes"),
        face_m=snapshot.history.face_m if snapshot.history else 0.0,
        rings=len(site.rings),
        inspections=len(site.inspections),
        inputs_sha256=site.inputs_sha256,
    )


def since_last(now: Look, before: Look | None, display: Display) -> str:
    """One sentence on what changed since the last look."""
    if before is None:
        return "First look at this folder from here."
    when = before.at.replace("T", " ")[:16]
    if now.inputs_sha256 == before.inputs_sha256:
        return f"Nothing changed since your last look ({when})."
    parts = []
    if now.face_m - before.face_m >= 0.5:
        parts.append(f"{display.length(now.face_m - before.face_m)} driven")
    if now.rings != before.rings:
        parts.append(
            f"{plural(abs(now.rings - before.rings), 'ring')} {'more' if now.rings > before.rings else 'fewer'}"
        )
    if now.inspections != before.inspections:
        more = "more" if now.inspections > before.inspections else "fewer"
        parts.append(f"{plural(abs(now.inspections - before.inspections), 'inspection')} {more}")
    return f"Since your last look ({when}): {', '.join(parts) or 'other files changed'}."
