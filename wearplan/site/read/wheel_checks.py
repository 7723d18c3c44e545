"""What does not go together on a wheel: limits of a tool type, rows, edges of one housing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from wearplan.site.parse.faults import ALL, NOTHING, PLAN_ON, FaultLog
from wearplan.site.parse.text import shown
from wearplan.site.records import PLANNED_MODES, Position, Row


def tool_type_faults(item: Any) -> list[tuple[str, str, tuple[str, ...]]]:
    """What contradicts itself in a tool type: the key, the sentence, the answers that fall."""
    limit_mm, damage_mm, diameter_mm = item.wear_limit_mm, item.damage_limit_mm, item.diameter_mm
    faults: list[tuple[str, str, tuple[str, ...]]] = []
    if item.kind == "disc" and diameter_mm is None:
        faults.append(("diameter_mm", "a disc needs its diameter_mm", ALL))
    if item.kind == "disc" and diameter_mm is not None and limit_mm >= diameter_mm / 2:
        faults.append(("wear_limit_mm", f"a limit of {limit_mm:g} mm is more than the disc's radius", ALL))
    if damage_mm is not None and damage_mm < limit_mm:
        faults.append(("damage_limit_mm", f"{damage_mm:g} mm is below the wear limit of {limit_mm:g} mm", ALL))
    if item.rebuildable_share > 0 and item.rebuild_price is None:
        faults.append(("rebuildable_share", "what can be rebuilt needs a rebuild_price", PLAN_ON))
    if item.rebuildable_share > 0 and item.rebuild_days is None:
        faults.append(("rebuildable_share", "what can be rebuilt needs rebuild_days", ("demand",)))
    if not any(mode in item.change_hours for mode in PLANNED_MODES):
        what = 'no hours to change one; give "free air" or "compressed air" or both'
        faults.append(("change_hours", what, PLAN_ON))
    return faults


def check_rows(rows: Sequence[Row], positions: Iterable[Position], log: FaultLog, *, all_read: bool) -> None:
    """Name rows that would never be due, and empty ones (only where every position could be read)."""
    members: dict[str, int] = {}
    for position in positions:
        if position.row is not None:
            members[position.row] = members.get(position.row, 0) + 1
    for row in rows:
        count, file, line = members.get(row.code, 0), row.origin.file, row.origin.line
        if count and row.may_be_over >= count:
            tools = "tool" if count == 1 else "tools"
            what = f"row {shown(row.code)} has {count} {tools} and {row.may_be_over} may be over: it would never be due"
            log.add(file, line, "[[row]] may_be_over", what, code="row-never-due", forbids=PLAN_ON)
        if not count and all_read:
            what = f"no position belongs to row {shown(row.code)}"
            log.add(file, line, "[[row]] code", what, code="row-empty", forbids=NOTHING)


def check_housings(positions: Iterable[Position], log: FaultLog) -> None:
    """Edges of one housing are one tool, with one type and one way to get at it."""
    first: dict[str, Position] = {}
    for position in positions:
        if position.housing is None:
            continue
        other = first.setdefault(position.housing, position)
        for key, forbids in (("tool_type", ALL), ("access", PLAN_ON)):
            if getattr(other, key) != getattr(position, key):
                what = (
                    f"positions {other.number} and {position.number} share the housing {shown(position.housing)}, so "
                    f"they are one tool and have one {key}"
                )
                line = position.origin.line
                log.add(position.origin.file, line, f"[[position]] {key}", what, code="housing-mixed", forbids=forbids)
