"""Part-worn tools that the plan fits again: they come from the shelf or from another place, not from the new ones."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from wearplan.site.records import Site

if TYPE_CHECKING:
    from wearplan.plan import Plan, UseDraws


@dataclass(frozen=True, slots=True)
class Again:
    """One place at one stop that the plan gives a part-worn tool, in the draws that change it there."""

    stop: int
    tool_type: str
    fitted: np.ndarray
    """(D,) bool: the part-worn tool goes on."""
    from_place: bool
    """From another place of the wheel, so that its tool does not go to the works; otherwise from the shelf."""


def all_again(drives: Sequence[tuple[Site, Plan, UseDraws]], shelf: Mapping[str, int]) -> list[tuple[Again, ...]]:
    """For each drive where its plan fits part-worn tools again; a tool on a shared shelf is given away once.

    Parameters
    ----------
    shelf : mapping of str to int
        Part-worn tools on the shared shelf by type. Each plan was made as if they were its own: those that a later
        drive counts on beyond them are taken from the store instead.
    """
    left = dict(shelf)
    out = []
    for site, plan, use in drives:
        kept = []
        for again in part_worn_again(site, plan, use):
            if not again.from_place:
                if left.get(again.tool_type, 0) <= 0:
                    continue
                left[again.tool_type] -= 1
            kept.append(again)
        out.append(tuple(kept))
    return out


def part_worn_again(site: Site, plan: Plan, use: UseDraws) -> Iterator[Again]:
    """Where the plan fits part-worn tools again, draw by draw.

    Notes
    -----
    In a draw that leaves the place alone, nothing is fitted; in one that leaves the tool's old place alone, the tool is
    not free and a new one is taken from the store.
    """
    column = {code: index for index, code in enumerate(use.places)}
    for number, stop in enumerate(plan.stops):
        if number >= use.changes.shape[1]:
            return
        for change in stop.changes:
            place = column.get(change.place)
            if change.fitted != "part-worn" or place is None:
                continue
            fitted = use.changes[:, number, place].astype(bool)
            if change.from_position is not None:
                source = column.get(_place_of(site, change.from_position))
                if source is None:
                    continue
                fitted = fitted & use.changes[:, number, source].astype(bool)
            yield Again(
                stop=number, tool_type=use.tool_types[place], fitted=fitted, from_place=change.from_position is not None
            )


def _place_of(site: Site, position: int) -> str:
    return site.wheel.position(position).housing or str(position)
