"""\"Read by, at\": one rule for app and command before a work pack is written.

It records that somebody has had the cautions before them. It is no approval: the pack leaves blank lines for those who
approve.
"""

from __future__ import annotations

from datetime import datetime

from wearplan.plan.records import Plan, ReadBy

MOST_LETTERS = 80


def read_by(plan: Plan, *, name: str, at: datetime) -> ReadBy:
    """The record to go into the pack.

    Raises
    ------
    ValueError
        Without a name, with one over 80 letters or with letters that do not print, with a time that names no zone, or
        for a plan that has no stop: there is nothing to hand out.
    """
    name = " ".join(name.split())
    if not name:
        raise ValueError("say who has read the cautions: a work pack is written only with a name")
    if len(name) > MOST_LETTERS or not name.isprintable():
        raise ValueError(f"the name must be at most {MOST_LETTERS} printable letters")
    if at.tzinfo is None:
        raise ValueError("the time of reading needs its time zone")
    if not plan.stops:
        raise ValueError("this plan has no stop, so there is no work pack to write")
    return ReadBy(name=name, at=at)
