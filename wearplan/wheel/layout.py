"""What stands on the wheel at a point of the drive."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wearplan.site.records import Position, Wheel


@dataclass(frozen=True, kw_only=True)
class Layout:
    """The wheel in force at ``driven_m``; every array runs over the positions, by number."""

    wheel: Wheel = field(repr=False)
    driven_m: float
    positions: tuple[Position, ...]
    """With the tool type in force there."""

    @cached_property
    def numbers(self) -> NDArray[np.int64]:
        return np.array([position.number for position in self.positions], dtype=np.int64)

    @cached_property
    def track_radius_mm(self) -> NDArray[np.float64]:
        return np.array([position.track_radius_mm for position in self.positions], dtype=float)

    @cached_property
    def angle_deg(self) -> NDArray[np.float64]:
        return np.array([position.angle_deg for position in self.positions], dtype=float)

    @cached_property
    def tool_types(self) -> tuple[str, ...]:
        return tuple(position.tool_type for position in self.positions)

    @cached_property
    def kinds(self) -> tuple[str, ...]:
        return tuple(self.wheel.tool_type(code).kind for code in self.tool_types)

    @cached_property
    def zones(self) -> tuple[str, ...]:
        return tuple(position.zone for position in self.positions)

    @cached_property
    def cuts(self) -> tuple[str, ...]:
        return tuple(position.cuts for position in self.positions)

    @cached_property
    def limit_mm(self) -> NDArray[np.float64]:
        """Wear to change at: the position's own limit before that of its tool type."""
        return np.array([self.wheel.limit_mm(position) for position in self.positions], dtype=float)

    @cached_property
    def damage_limit_mm(self) -> NDArray[np.float64]:
        """Wear beyond which holder and wheel suffer; infinite where the site names none."""
        limits = (self.wheel.tool_type(code).damage_limit_mm for code in self.tool_types)
        return np.array([np.inf if limit is None else limit for limit in limits], dtype=float)

    @cached_property
    def _index(self) -> dict[int, int]:
        return {position.number: index for index, position in enumerate(self.positions)}

    def __len__(self) -> int:
        return len(self.positions)

    def __contains__(self, number: object) -> bool:
        return number in self._index

    def index(self, number: int) -> int:
        """Row of a position in the arrays; `KeyError` if it does not stand there."""
        return self._index[number]

    def position(self, number: int) -> Position:
        """The position in force; `KeyError` if it does not stand there."""
        return self.positions[self._index[number]]

    def with_tool_types(self, tool_types: dict[int, str | None]) -> Layout:
        """The same layout with other tools fitted; None takes the position out."""
        positions = []
        for position in self.positions:
            code = tool_types.get(position.number, position.tool_type)
            if code is not None:
                positions.append(replace(position, tool_type=code) if code != position.tool_type else position)
        return replace(self, positions=tuple(positions))


def type_in_force(wheel: Wheel, number: int, driven_m: float) -> str | None:
    """Tool type the layout gives a position from ``driven_m`` on; None where it is blanked or not yet there.

    Raises
    ------
    KeyError
        If the wheel has no position of that number.
    """
    position = wheel.position(number)
    changes = [change for change in wheel.layout_changes if change.position == number]
    code: str | None = None if changes and changes[0].added else position.tool_type
    for change in changes:
        if change.from_m > driven_m:
            break
        code = None if change.blanked else (change.tool_type or position.tool_type)
    return code


def layout_at(wheel: Wheel, driven_m: float) -> Layout:
    """The wheel as its layout changes leave it at ``driven_m``, a change counting from its own chainage on."""
    changed = {change.position for change in wheel.layout_changes}
    positions = []
    for position in wheel.positions:
        if position.number not in changed:
            positions.append(position)
            continue
        code = type_in_force(wheel, position.number, driven_m)
        if code is not None:
            positions.append(position if code == position.tool_type else replace(position, tool_type=code))
    return Layout(wheel=wheel, driven_m=driven_m, positions=tuple(sorted(positions, key=lambda each: each.number)))
