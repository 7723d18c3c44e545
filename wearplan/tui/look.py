"""What stands in a folder now against what stood there at the last look."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from wearplan.tui.actions import TASKS
from wearplan.tui.keep import Look, read_looks
from wearplan.tui.state import Snapshot
from wearplan.tui.trail import Spot

if TYPE_CHECKING:
    from wearplan.report.four import Before

_START = Spot("start")
A_SHIFT = timedelta(hours=12)


def look_now(snapshot: Snapshot, spot: Spot = _START) -> Look | None:
    """The look to remember; None while there is nothing to remember."""
    site, plan = snapshot.site, snapshot.plan
    if site is None:
        return None
    stop = plan.stops[0] if plan is not None and plan.stops else None
    return Look(
        folder=str(snapshot.folder.resolve()),
        name=site.name,
        at=datetime.now().astimezone().isoformat(timespec="minutes"),
        face_m=snapshot.history.face_m if snapshot.history else 0.0,
        rings=len(site.rings),
        inspections=len(site.inspections),
        inputs_sha256=site.inputs_sha256,
        stop_m=stop.driven_m if stop else None,
        places=tuple(place for change in stop.changes for place in change.positions) if stop else None,
        cost=plan.expected_cost if plan is not None else None,
        task=spot.task,
        place=spot.key,
    )


def left_at(folder: Path, now: datetime) -> Spot:
    """Where a folder was left, if that is no longer ago than a shift: a day's first look begins at Start, which tells
    what changed.
    """
    resolved = str(folder.resolve())
    look = next((one for one in read_looks() if one.folder == resolved), None)
    if look is None or look.task not in TASKS or now - datetime.fromisoformat(look.at) > A_SHIFT:
        return _START
    return Spot(look.task, look.place)


def before_of(look: Look | None, inputs_sha256: str) -> Before | None:
    """The last look as the answers of today are held against it."""
    from wearplan.report.four import Before

    if look is None:
        return None
    return Before(
        when=look.at.replace("T", " ")[:16], what="your last look,", face_m=look.face_m, rings=look.rings,
        inspections=look.inspections, stop_m=look.stop_m,
        places=tuple(look.places) if look.places is not None else None,
        cost=look.cost, same=look.inputs_sha256 == inputs_sha256,
    )  # fmt: skip
