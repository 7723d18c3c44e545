"""The wheel as taken: places in the office's names, tool types, and how a written name is found."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from wearplan.site.records import Site
from wearplan.take.find.words import plain_word


@dataclass(slots=True, kw_only=True)
class Place:
    """One position as the office names it, and its number."""

    name: str
    number: int = 0
    tool_type: str = ""
    track_radius_mm: float | None = None
    angle_deg: float | None = None
    tilt_deg: float | None = None
    zone: str | None = None
    wear_limit_mm: float | None = None
    sensor_mm: tuple[float, ...] = ()
    housing: str | None = None
    row: str | None = None
    arm: str | None = None
    cuts: str | None = None
    source: str = ""


@dataclass(slots=True, kw_only=True)
class Tool:
    """One type of tool as the office names it; None for what no file says."""

    code: str
    kind: str | None = None
    make: str | None = None
    diameter_mm: float | None = None
    new_height_mm: float | None = None
    wear_limit_mm: float | None = None
    damage_limit_mm: float | None = None
    price: float | None = None
    rebuild_price: float | None = None
    lead_time_days: float | None = None
    hours_fa: float | None = None
    hours_ca: float | None = None
    source: str = ""

    @property
    def disc(self) -> bool:
        return self.kind == "disc"


@dataclass(slots=True, kw_only=True)
class LayoutChangeTaken:
    """From a chainage on a place has another tool type, or none."""

    place: str
    from_m: float | None
    ring: int | None
    tool_type: str | None
    source: str


@dataclass(slots=True)
class WheelTaken:
    """Places in the order of the layout, tools by code, and how written names are found."""

    places: list[Place] = field(default_factory=list)
    tools: dict[str, Tool] = field(default_factory=dict)
    from_files: bool = False
    changes: list[LayoutChangeTaken] = field(default_factory=list)
    _found: dict[str, Place | None] = field(default_factory=dict, repr=False)
    _found_among: int = 0

    def find(self, text: str) -> Place | None:
        """The place a cell names: as written, else without signs and leading zeros where that is the only one."""
        if self._found_among != len(self.places):
            self._found, self._found_among = {}, len(self.places)
        if text not in self._found:
            self._found[text] = self._look_for(text)
        return self._found[text]

    def _look_for(self, text: str) -> Place | None:
        bare = text.strip().removesuffix(".0")
        for place in self.places:
            if place.name.casefold() == bare.casefold():
                return place
        named = loose_name(bare)
        loose = [place for place in self.places if loose_name(place.name) == named]
        return loose[0] if len(loose) == 1 and bare else None

    def tool(self, place: Place) -> Tool:
        return self.tools.get(place.tool_type) or Tool(code=place.tool_type)

    def limit(self, place: Place) -> float | None:
        return place.wear_limit_mm if place.wear_limit_mm is not None else self.tool(place).wear_limit_mm

    def nearest(self, text: str) -> str:
        """Names close to one that is unknown, for the refusal."""
        import difflib

        names = [place.name for place in self.places]
        if text.isdigit() and all(name.isdigit() for name in names):
            return ", ".join(sorted(names, key=lambda name: abs(int(name) - int(text)))[:3])
        return ", ".join(difflib.get_close_matches(text, names, 3, 0.3))


@lru_cache(maxsize=4096)
def loose_name(text: str) -> tuple[str, ...]:
    """A name in parts: letters, and whole numbers without leading zeros."""
    return tuple(
        part.lstrip("0") or "0" if part.isdigit() else part for part in re.findall(r"[a-z]+|\d+", plain_word(text))
    )


def of_site(site: Site) -> WheelTaken:
    """The wheel of a folder that stands, its places named by their numbers."""
    taken = WheelTaken()
    for position in site.wheel.positions:
        taken.places.append(
            Place(
                name=str(position.number),
                number=position.number,
                tool_type=position.tool_type,
                track_radius_mm=position.track_radius_mm,
                zone=position.zone,
                wear_limit_mm=position.wear_limit_mm,
                angle_deg=position.angle_deg,
                housing=position.housing,
            )
        )
    for tool in site.wheel.tool_types:
        taken.tools[tool.code] = Tool(
            code=tool.code,
            kind=tool.kind,
            diameter_mm=tool.diameter_mm,
            wear_limit_mm=tool.wear_limit_mm,
            damage_limit_mm=tool.damage_limit_mm,
            price=tool.price,
            lead_time_days=tool.lead_time_days,
        )
    return taken


def as_dict(tool: Tool) -> dict[str, Any]:
    """A tool type without what no file says."""
    return {key: value for key in Tool.__slots__ if (value := getattr(tool, key)) is not None}
