"""From the plan's changes to the store's expected use, so that two numbers never disagree unexplained."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from wearplan.demand.frame import DriveUse
from wearplan.demand.one_type import TypePart
from wearplan.demand.part_worn import Again
from wearplan.demand.records import Bridge
from wearplan.demand.stock import rebuilt_fitted


def bridge_of(drives: Sequence[DriveUse], again: Sequence[Sequence[Again]], part: TypePart) -> Bridge:
    """One type over all drives: each step leads from the line above it to the next, and the last is expected use."""
    code = part.kind.code
    planned = sum(_planned(drive, code) for drive in drives)
    fitted = sum(float(entry.counts.mean()) for drive in drives for entry in drive.use.uses if entry.tool_type == code)
    damaged = sum(float(drive.use.damaged[code].sum(axis=1).mean()) for drive in drives if code in drive.use.damaged)
    moved = sum(float(np.mean(entry.fitted)) for kept in again for entry in kept if entry.tool_type == code)
    store = float(part.counts.store.sum(axis=1).mean())
    rebuilt = float(rebuilt_fitted(part.counts.store, part.supply.rebuilt).sum(axis=1).mean())
    return Bridge(
        tool_type=code, planned=planned, measured=fitted - damaged - planned, damaged=damaged, again=moved,
        from_store=store, rebuilt=rebuilt, new=store - rebuilt,
    )  # fmt: skip


def _planned(drive: DriveUse, code: str) -> int:
    """Places of that type the plan changes, over all its stops."""
    types = dict(zip(drive.use.places, drive.use.tool_types, strict=True))
    return sum(types.get(change.place) == code for stop in drive.plan.stops for change in stop.changes)
