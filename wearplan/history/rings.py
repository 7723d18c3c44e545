"""The log of rings, mended: rows that tile the drive from its start to the face, each with its turns.

Whatever is wrong with the log, the advance stands: a ring that is missing, damaged or impossible still counts the
metres it must have driven, and its turns come from rings nearby in the same ground, with more doubt. Everything
mended is named.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from wearplan.history.mended import Mended
from wearplan.history.ringlog import Placed, place_rows
from wearplan.history.turns import Filled, fill_turns
from wearplan.site.records import Ground, Site

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Rings:
    """Rows that tile ``[0, face]``; arrays ``(N,)``. A stretch without a ring of its own has number 0."""

    number: NDArray[np.int64]
    start_m: Array
    end_m: Array
    turns_boring: Array
    turns_idle: Array
    ccw_share: Array
    imputed: NDArray[np.bool_]
    """Boring turns taken from neighbours."""
    turns_rel_sd: Array
    """Relative doubt (sd) of the boring turns; 0 where logged."""
    penetration_mm: Array
    """Advance by turn; 0 where the wheel did not turn."""
    finished_at: tuple[datetime | None, ...]
    regime: tuple[str | None, ...]
    columns: Mapping[str, Array]
    """Every further column that holds numbers, ``nan`` where empty; and thrust, torque and face pressure."""
    mended: tuple[Mended, ...]
    ccw_logged: bool
    """Whether the log says which way the wheel turned; without it half of the turns are taken each way."""

    def __len__(self) -> int:
        return len(self.number)

    @property
    def face_m(self) -> float:
        return float(self.end_m[-1]) if len(self.end_m) else 0.0

    @property
    def notes(self) -> tuple[str, ...]:
        """What was mended, in words."""
        return tuple(each.what for each in self.mended)

    def ring_at(self, driven_m: float) -> int:
        """Number of the ring whose boring holds this point (the one just finished at a ring's end); 0 if none."""
        if not len(self.number):
            return 0
        index = int(np.searchsorted(self.end_m, driven_m - 1e-6))
        return int(self.number[min(index, len(self.number) - 1)])


def face_m(site: Site) -> float:
    """How far the drive has come: the end of the last sound ring, or the last inspection where that is further."""
    return place_rows(site)[0].face_m


def clean_rings(site: Site, ground: Ground | None = None) -> Rings:
    """Mend the log of rings.

    Rings are ordered by number and chainage, not by clock. Doubled rings count once (the first sound row). A row whose
    chainage cannot be (far from where its number belongs, running backwards, several rings long) loses it; its turns
    are kept where they make sense. Stretches nobody logged are cut into rings, their turns taken from rings nearby.

    Parameters
    ----------
    site
        With the rings as written.
    ground
        Whose sections say which rings are alike; the newest of the site by default.
    """
    ground = ground if ground is not None else site.ground()
    placed, mended = place_rows(site)
    filled = fill_turns(site, placed, ground)
    one_way = [position.number for position in site.wheel.positions if position.cuts != "both"]
    if one_way and not filled.ccw_logged and len(placed.rows):
        what = (
            f"the log does not say which way the wheel turned: half of the turns are taken each way for the "
            f"{len(one_way)} positions that cut one way only"
        )
        mended = (*mended, Mended(what=what, from_m=0.0, to_m=placed.face_m, rings=()))
    return _assemble(placed, filled, (*mended, *filled.mended))


def _assemble(placed: Placed, filled: Filled, mended: tuple[Mended, ...]) -> Rings:
    rows = placed.rows
    advance = placed.end_m - placed.start_m
    penetration = np.divide(
        1000.0 * advance, filled.turns_boring, out=np.zeros_like(advance), where=filled.turns_boring > 0
    )
    return Rings(
        number=placed.number,
        start_m=placed.start_m,
        end_m=placed.end_m,
        turns_boring=filled.turns_boring,
        turns_idle=filled.turns_idle,
        ccw_share=filled.ccw_share,
        imputed=filled.imputed,
        turns_rel_sd=filled.turns_rel_sd,
        penetration_mm=penetration,
        finished_at=tuple(row.finished_at if row else None for row in rows),
        regime=tuple(row.regime if row else None for row in rows),
        columns=filled.columns,
        mended=tuple(sorted(mended, key=lambda each: each.from_m)),
        ccw_logged=filled.ccw_logged,
    )
