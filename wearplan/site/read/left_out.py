"""What wheel.toml lists and the wheel lacks, since it is faulty: named once, and not again by all who refer to it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from wearplan.site.parse.document import Document
from wearplan.site.records import Wheel


@dataclass(frozen=True)
class LeftOut:
    """Places and tool types that are listed and left out as faulty; their own faults forbid every answer."""

    positions: frozenset[int] = frozenset()
    types: frozenset[str] = frozenset()
    nameless: bool = False
    """A tool type without a readable code of its own was left out: any code nobody knows may be meant for it."""

    def may_be_type(self, code: str) -> bool:
        """Whether a code the wheel lacks may be that of a tool type left out."""
        return self.nameless or code in self.types

    @property
    def any_type(self) -> bool:
        """Whether a tool type was left out."""
        return self.nameless or bool(self.types)


def types_left_out(doc: Document, known: Collection[str]) -> LeftOut:
    """The tool types of wheel.toml that are not among those known."""
    codes = [item.get("code") if isinstance(item, dict) else None for item in _tables(doc, "tool_type")]
    named = [code for code in codes if isinstance(code, str) and code.strip() == code and code not in ("", "?")]
    return LeftOut(types=frozenset(named) - frozenset(known), nameless=len(set(named)) < len(codes))


def left_out_of(doc: Document, wheel: Wheel) -> LeftOut:
    """The tool types and places of wheel.toml that the wheel lacks."""
    types = types_left_out(doc, [tool_type.code for tool_type in wheel.tool_types])
    numbers = numbers_listed(doc) - {position.number for position in wheel.positions}
    return LeftOut(positions=numbers, types=types.types, nameless=types.nameless)


def numbers_listed(doc: Document) -> frozenset[int]:
    """The numbers of all positions of wheel.toml, faulty ones included."""
    numbers = [item.get("number") for item in _tables(doc, "position") if isinstance(item, dict)]
    return frozenset(number for number in numbers if isinstance(number, int) and not isinstance(number, bool))


def _tables(doc: Document, name: str) -> list[Any]:
    listed = doc.data.get(name)
    return listed if isinstance(listed, list) else []


__all__ = ["LeftOut", "left_out_of", "numbers_listed", "types_left_out"]
