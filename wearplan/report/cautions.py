"""Cautions of a plan in full once, each with a letter, and which letters stand at which stop."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wearplan.report.plan_text import caution_lines, stop_cautions
from wearplan.report.words import chainage_text

if TYPE_CHECKING:
    from wearplan.plan import Plan

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Cautions told together; ``letter`` stands at the stops they belong to."""

    letter: str
    head: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lettered:
    """The groups, and by stop its letters and what concerns it alone."""

    groups: tuple[Group, ...]
    letters: tuple[str, ...]
    own: tuple[tuple[str, ...], ...]


def lettered_cautions(plan: Plan) -> Lettered:
    """Every caution of the plan in full once.

    Those that stops share form a group. Cautions of several stops that differ in their figures alone are told once with
    the figures of all these stops in their order. What is left stands beside its stop.
    """
    told = [stop_cautions(stop) for stop in plan.stops]
    own_heads = {f"At {chainage_text(stop.chainage_m)}, {stop.window}" for stop in plan.stops}
    shared = [(head, lines) for head, lines in caution_lines(plan) if head not in own_heads]
    said = {line for _, lines in shared for line in lines}
    own = [[line for line in lines if line not in said] for lines in told]
    groups = [Group(letter=chr(65 + i), head=head, lines=tuple(lines)) for i, (head, lines) in enumerate(shared)]
    shapes: dict[str, list[int]] = {}
    for index, lines in enumerate(own):
        for line in lines:
            shapes.setdefault(_NUMBER.sub("#", line), []).append(index)
    merged = {shape: at for shape, at in shapes.items() if len(set(at)) > 1}
    if merged:
        figures = tuple(_with_figures(shape, sorted(set(at)), own) for shape, at in merged.items())
        groups.append(Group(letter=chr(65 + len(groups)), head="With the figures of each stop", lines=figures))
    letters, rest = [], []
    for index, lines in enumerate(told):
        here = [group.letter for group in groups[: len(shared)] if set(group.lines) & set(lines)]
        here += [groups[-1].letter] if merged and any(index in at for at in merged.values()) else []
        letters.append(" ".join(here))
        rest.append(tuple(line for line in own[index] if _NUMBER.sub("#", line) not in merged))
    return Lettered(groups=tuple(groups), letters=tuple(letters), own=tuple(rest))


def _with_figures(shape: str, at: list[int], own: list[list[str]]) -> str:
    """One sentence with the figures of every stop, where they differ, in the order of the stops."""
    figures = [
        _NUMBER.findall(next(line for line in own[index] if _NUMBER.sub("#", line) == shape)) for index in at
    ]  # fmt: skip
    parts, out = shape.split("#"), ""
    for index, part in enumerate(parts):
        out += part
        if index < len(parts) - 1:
            column = [row[index] for row in figures]
            out += column[0] if len(set(column)) == 1 else " / ".join(column)
    stops = ", ".join(str(index + 1) for index in at)
    return f"{out} (Stops {stops}, in this order.)"
