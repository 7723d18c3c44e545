"""Why a tool is changed and why one stops there, in one sentence with its numbers, and what the numbers rest on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wearplan.plan.ahead.tools import Ahead, Tool
from wearplan.plan.records import Change, Stop
from wearplan.plan.words import at, chance, plural, some

if TYPE_CHECKING:
    from wearplan.plan.model.exact import Model


@dataclass(frozen=True, kw_only=True)
class Trace:
    """What the outlook of a tool in place rests on; empty for a tool that is still to be fitted."""

    last_read: tuple[float, float, str | None] | None = None
    last_wear_mm: float | None = None
    below_mm: float | None = None
    above_mm: float | None = None
    """Where the last reading is only a bound; a sensor's word is one from above and carries no inspection."""
    rests_on: tuple[str, ...] = ()
    rings: tuple[int, int] | None = None
    trouble: str | None = None
    unknown: bool = False
    in_place: bool = True


def traced(ahead: Ahead, tool: Tool, edge: int, in_place: bool) -> Trace:
    """Follow a tool in place back to its readings."""
    if not in_place:
        return Trace(in_place=False)
    lives: Any = getattr(ahead.outlook, "lives", ())
    life = lives[edge] if edge < len(lives) else None
    marks = getattr(ahead.outlook, "unknown", None)
    unknown = bool(marks[edge]) if marks is not None else False
    if life is None:
        return Trace(unknown=unknown)
    readings = [r for r in life.readings if r.sound]
    ids = tuple(dict.fromkeys(r.inspection_id for r in readings if r.inspection_id))
    last = _last_read(readings)
    start = life.stints[0].from_m
    rings = ahead.ring_ends[ahead.ring_ends[:, 1] > start + 1e-6, 0]
    found = Trace(
        rests_on=ids,
        rings=(int(rings.min()), int(rings.max())) if rings.size else None,
        trouble=life.trouble_condition if life.trouble_from_m is not None else None,
        unknown=unknown,
    )
    if last is None:
        return found
    return replace(
        found,
        last_read=(last.driven_m, ahead.chainage_m(last.driven_m), last.inspection_id),
        last_wear_mm=last.worst_mm if last.worst_mm is not None else last.wear_mm,
        below_mm=last.below_mm,
        above_mm=last.above_mm,
    )


def _last_read(readings: Sequence[Any]) -> Any:
    """The last sound reading; of several at one place that of people, who say more than a sensor's silence."""
    if not readings:
        return None
    last = readings[-1]
    there = [r for r in readings if r.inspection_id and abs(r.driven_m - last.driven_m) < 0.05]
    return there[-1] if last.inspection_id is None and there else last


def reason_code(*, over: float, cap: float, neighbour: bool, overcut: bool, trouble: bool) -> str:
    """One of the format's reasons."""
    if trouble:
        return "damage"
    if over > (cap if math.isfinite(cap) else 0.15):
        return "limit"
    if overcut:
        return "overcut"
    return "neighbour" if neighbour else "preventive"


def change_sentence(
    change: Change,
    *,
    kind: str,
    cap: float,
    trace: Trace,
    to_end: bool,
    ahead: Ahead,
    fitted_m: float | None,
) -> str:
    """The reason for one change."""
    wear = change.wear_mm
    who = f"{kind.capitalize()} {'/'.join(map(str, change.positions))} ({change.zone})"
    if wear.p50 is not None and wear.p05 is not None and wear.p95 is not None:
        now = f"is expected at {wear.p50:.1f} mm here ({wear.p05:.1f} to {wear.p95:.1f}), limit {change.limit_mm:g} mm"
    else:
        now = f"has no outlook here, limit {change.limit_mm:g} mm"
    until = "the end of the drive" if to_end else f"the next stop at {at(change.left_until_chainage_m)}"
    over = chance(change.over_limit_probability_if_left)
    left = f"left until {until} it passes that limit with a chance of {over}"
    if math.isfinite(cap):
        left += f" (cap {chance(cap)})"
    tail = {
        "damage": f"; it was found {trace.trouble}",
        "neighbour": "; changed because the step to a neighbouring track would be too large after this stop",
        "overcut": "; changed because the curve ahead asks for more overcut than it would leave",
        "preventive": "; changing it here costs less than a later one",
        "limit": "",
    }[change.reason]
    if change.reason == "limit" and change.over_damage_probability_if_left > 0.005:
        tail = f", its damage limit with {chance(change.over_damage_probability_if_left)}"
    if fitted_m is not None:
        source = f"to be fitted at {at(ahead.chainage_m(fitted_m))}"
    elif trace.last_read is None:
        source = "never read: the chance rests on what such tools have cost"
    elif trace.above_mm is not None and trace.last_read[2] is None:
        source = f"its sensor reported {trace.above_mm:.1f} mm at {at(trace.last_read[1])}"
    else:
        read = "" if trace.last_wear_mm is None else f"{trace.last_wear_mm:.1f} mm "
        read = f"under {trace.below_mm:.1f} mm " if trace.below_mm is not None else read
        read = f"over {trace.above_mm:.1f} mm " if trace.above_mm is not None else read
        source = f"last read {read}at {at(trace.last_read[1])}" + (
            f" ({trace.last_read[2]})" if trace.last_read[2] else ""
        )
    if trace.unknown:
        source += "; what stands there is uncertain"
    return f"{who} {now}; {left}{tail}; {source}."


def stop_reason(model: Model, stop: Stop, *, next_stop: Stop | None, last_before: str | None) -> str:
    """The reason for one stop: its most pressing tool, how many go with it, and what lies ahead."""
    if not stop.changes:
        text = "Forced by the user; nothing is due here."
    else:
        pressing = max(
            stop.changes,
            key=lambda c: (c.reason in ("limit", "damage"), c.over_limit_probability_if_left, c.positions),
        )
        where = "the end of the drive" if next_stop is None else f"the next stop at {at(next_stop.chainage_m)}"
        due = [c for c in stop.changes if c.reason in ("limit", "damage")]
        who = "/".join(map(str, pressing.positions))
        median = (
            "" if pressing.wear_mm.p50 is None else f", {pressing.wear_mm.p50:.1f} of {pressing.limit_mm:g} mm here,"
        )
        count = len(stop.changes)
        many = "all due" if len(due) == count > 1 else f"{len(due)} of them due"
        if count == 1:
            many = "due" if due else "not due"
        text = (
            f"{plural(count, 'tool')} to change, {many} before {where}: {'the most pressing, ' if count > 1 else ''}"
            f"{who} ({pressing.zone}){median} would pass its limit by then with a chance of "
            f"{chance(pressing.over_limit_probability_if_left)}."
        )
        if len(due) > 1:
            text += f" Due: {some('/'.join(map(str, c.positions)) for c in due)}."
    if last_before:
        text += f" {last_before}"
    return text
