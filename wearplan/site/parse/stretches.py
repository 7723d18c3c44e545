"""Places along the drive as a file gives them: chainage to driven metres, with what can be wrong in that."""

from __future__ import annotations

from collections.abc import Iterable

from wearplan.site.parse.document import Parsed
from wearplan.site.records import Drive

SLACK_M = 0.001
"""Chainages are written to the millimetre; what differs by less is the same place."""


def chainage_fault(drive: Drive, chainage_m: float, *, slack_m: float = SLACK_M) -> str | None:
    """Why there is no such place on the drive, if there is none."""
    driven = drive.driven_m(chainage_m)
    if driven < -slack_m or driven > drive.length_m + slack_m:
        return (
            f"{chainage_m:.3f} m lies outside the drive ({drive.start_chainage_m:.3f} to {drive.end_chainage_m:.3f} "
            "m); correct it, or the drive in site.toml"
        )
    if drive.equations and abs(drive.chainage_m(driven) - chainage_m) > slack_m:
        back = [equation.back_m for equation in drive.equations]
        # at a jump the same place has two chainages, and the one behind it is as good
        if all(abs(chainage_m - at) > slack_m for at in back):
            return f"{chainage_m:.3f} m does not exist: a chainage equation in site.toml jumps over it"
    return None


def occurs_twice(drive: Drive, chainage_m: float) -> bool:
    """Whether an equation makes a chainage occur at two places of the drive."""
    if not drive.equations:
        return False
    first, last = drive.driven_m(chainage_m, near_m=0.0), drive.driven_m(chainage_m, near_m=drive.length_m)
    return last - first > SLACK_M


def stretch(
    parsed: Parsed, table: str, index: int, drive: Drive, *, forbids: Iterable[str], near_m: float | None = None
) -> tuple[float, float] | None:
    """The driven metres ``(from, to)`` of a stretch, held to the drive's ends; None with faults named.

    ``near_m`` tells which place is meant where a chainage occurs twice; without it that is a fault.
    """
    item = getattr(parsed.model, table)[index]
    sound = True
    for key in ("from_chainage_m", "to_chainage_m"):
        why = chainage_fault(drive, getattr(item, key))
        if why:
            parsed.fault(parsed.loc(table, index, key), why, code="outside-drive", forbids=forbids)
            sound = False
        elif near_m is None and occurs_twice(drive, getattr(item, key)):
            what = (
                f"{getattr(item, key):.3f} m occurs twice, by a chainage equation of site.toml, and which place is "
                f"meant cannot be "
                "told; take an end outside the doubled stretch"
            )
            parsed.fault(parsed.loc(table, index, key), what, code="chainage-twice", forbids=forbids)
            sound = False
    if not sound:
        return None
    begin = drive.driven_m(item.from_chainage_m, near_m=near_m)
    end = drive.driven_m(item.to_chainage_m, near_m=begin)
    if end <= begin and drive.equations:
        later = drive.driven_m(item.to_chainage_m, near_m=drive.length_m)
        end = later if later > begin else end
    if end <= begin:
        grows = "rises" if drive.sign > 0 else "falls"
        parsed.fault(
            parsed.loc(table, index, "to_chainage_m"),
            f"the stretch from {item.from_chainage_m:.3f} to {item.to_chainage_m:.3f} m does not run with the drive, "
            f"whose chainage {grows}; from_chainage_m is the end reached first: exchange them or correct one",
            code="stretch-reversed",
            forbids=forbids,
        )
        return None
    return max(begin, 0.0), min(end, drive.length_m)
