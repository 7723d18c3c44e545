"""What is wrong between the rows of advance.csv: rings missing, doubled or out of order, gaps and overlaps.

All of it is named and none of it forbids an answer: the advance counts whatever the log says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from wearplan.site.parse.faults import NOTHING, FaultLog
from wearplan.site.read.rings import FILE
from wearplan.site.records import NOWHERE, Drive, RingRow

_JOIN_M = 0.0055
"""Chainages of neighbours that differ by less are the same, rounded."""


def check_sequence(rings: Sequence[RingRow], drive: Drive, log: FaultLog) -> None:
    """Name what does not fit together.

    Parameters
    ----------
    rings
        The rows as written, in file order.
    """
    ordered = _in_ring_order(rings, log)
    for row, after in pairwise(ordered):
        _check_pair(row, after, log)
    if not ordered or ordered[0].damaged or ordered[0].start_m is None:
        return
    before_m = ordered[0].start_m
    if before_m > drive.ring_length_m / 2:
        what = (
            f"the first ring begins {before_m:.3f} m after the start of the drive; what is before it counts as "
            f"driven, with "
            "revolutions from its neighbours"
        )
        _name(log, ordered[0], "start_chainage_m", what, "ring-gap")


def _name(log: FaultLog, row: RingRow, column: str, what: str, code: str) -> None:
    log.add(FILE, row.origin.line, column, what, code=code, forbids=NOTHING)


def _in_ring_order(rings: Sequence[RingRow], log: FaultLog) -> list[RingRow]:
    """The first row of each ring by number; doubled rows and rows out of order are named."""
    first: dict[int, RingRow] = {}
    before: RingRow | None = None
    for row in rings:
        other = first.setdefault(row.ring, row)
        if other is not row:
            same = replace(other, origin=NOWHERE) == replace(row, origin=NOWHERE)
            what = f"ring {row.ring} is there already in line {other.origin.line}"
            what += "; it counts once" if same else " with other figures; it counts once, remove the wrong row"
            _name(log, row, "ring", what, "ring-doubled")
        elif before is not None and row.ring < before.ring:
            what = f"ring {row.ring} stands after ring {before.ring}; rows are taken in the order of the rings"
            _name(log, row, "ring", what, "ring-order")
        before = row
    return [first[ring] for ring in sorted(first)]


def _check_pair(row: RingRow, after: RingRow, log: FaultLog) -> None:
    missing = after.ring - row.ring - 1
    if missing:
        which = f"ring {row.ring + 1} is" if missing == 1 else f"rings {row.ring + 1}-{after.ring - 1} are"
        what = (
            f"{which} missing before this row; the advance counts, with revolutions from the neighbours and more doubt"
        )
        _name(log, after, "ring", what, "ring-missing")
        return
    if row.damaged or after.damaged or row.end_m is None or after.start_m is None:
        return
    off = after.start_m - row.end_m
    if abs(off) > _JOIN_M:
        what = f"a gap of {off:.3f} m" if off > 0 else f"an overlap of {-off:.3f} m"
        what += f" between ring {row.ring} and ring {after.ring}; the driven length counts once"
        _name(log, after, "start_chainage_m", what, "ring-gap" if off > 0 else "ring-overlap")
