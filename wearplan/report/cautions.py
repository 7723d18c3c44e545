"""Cautions of a plan in full once, each with a letter, and which letters stand at which stop."""

from __future__ import annotations

import re
from collections.abc import Sequence
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

    Those that stops share form a group. Cautions of several stops that differ in their figures and the window's name
    alone are told once, with those of all these stops in their order. What is left stands beside its stop.
    """
    told = [stop_cautions(stop) for stop in plan.stops]
    shared = _shared(plan)
    said = {line for _, lines in shared for line in lines}
    own = [
        [_Own(line, stop.window) for line in lines if line not in said]
        for stop, lines in zip(plan.stops, told, strict=True)
    ]
    merged = _merged(own)
    groups = [_group(i, head, lines) for i, (head, lines) in enumerate(shared)]
    letters = [[group.letter for group in groups if set(group.lines) & set(lines)] for lines in told]
    if merged:
        figures = tuple(_with_figures(shape, at, own) for shape, at in merged.items())
        groups.append(_group(len(groups), "With the figures of each stop", figures))
        for index in {index for at in merged.values() for index in at}:
            letters[index].append(groups[-1].letter)
    rest = (tuple(line.text for line in lines if line.shape not in merged) for lines in own)
    return Lettered(groups=tuple(groups), letters=tuple(map(" ".join, letters)), own=tuple(rest))


def _shared(plan: Plan) -> list[tuple[str, list[str]]]:
    """Cautions that are not told for one stop of several; one stop alone has its cautions as a group of their own."""
    several = len(plan.stops) > 1
    own_heads = {f"At {chainage_text(stop.chainage_m)}, {stop.window}" for stop in plan.stops if several}
    return [(head, lines) for head, lines in caution_lines(plan) if head not in own_heads]


def _merged(own: list[list[_Own]]) -> dict[str, list[int]]:
    """Shape of a caution that several stops tell with figures of their own, to these stops."""
    shapes: dict[str, set[int]] = {}
    for index, lines in enumerate(own):
        for line in lines:
            shapes.setdefault(line.shape, set()).add(index)
    return {shape: sorted(at) for shape, at in shapes.items() if len(at) > 1}


def _group(index: int, head: str, lines: Sequence[str]) -> Group:
    return Group(letter=chr(65 + index), head=head, lines=tuple(lines))


class _Own:
    """A caution of one stop: its words without figures and the window's name, and these by themselves."""

    def __init__(self, text: str, window: str) -> None:
        self.text = text
        found = re.compile(rf"{re.escape(window)}|{_NUMBER.pattern}" if window else _NUMBER.pattern)
        self.shape, self.figures = found.sub("\0", text), found.findall(text)


def _with_figures(shape: str, at: list[int], own: list[list[_Own]]) -> str:
    """One sentence with the figures of every stop, where they differ, in the order of the stops."""
    figures = [next(line.figures for line in own[index] if line.shape == shape) for index in at]
    parts, out = shape.split("\0"), ""
    for index, part in enumerate(parts):
        out += part
        if index < len(parts) - 1:
            column = [row[index] for row in figures]
            out += column[0] if len(set(column)) == 1 else " / ".join(column)
    stops = ", ".join(str(index + 1) for index in at)
    return f"{out} (Stops {stops}, in this order.)"
