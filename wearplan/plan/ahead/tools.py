"""What the plan needs to know of the tools and of their outlook, in one place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from wearplan.plan.words import at, some
from wearplan.site.records import Site, ToolType
from wearplan.wheel import Layout, Place, places

from .damage import Damage, damage_of, is_major

Floats = NDArray[np.float64]


class OutlookLike(Protocol):
    """The part of the wear room's outlook that the plan rests on; shapes D draws, P positions, G points of the grid."""

    @property
    def site(self) -> Site: ...
    @property
    def layout(self) -> Layout: ...
    @property
    def face_m(self) -> float: ...
    @property
    def end_m(self) -> float: ...
    @property
    def grid_m(self) -> NDArray[Any]: ...
    @property
    def numbers(self) -> NDArray[Any]: ...
    @property
    def limit_mm(self) -> NDArray[Any]: ...
    @property
    def damage_limit_mm(self) -> NDArray[Any]: ...
    @property
    def wear_now_mm(self) -> NDArray[Any]: ...
    @property
    def life_factor(self) -> NDArray[Any]: ...
    @property
    def potential_mm(self) -> NDArray[Any]: ...
    @property
    def damage_hazard(self) -> NDArray[Any]: ...
    @property
    def life_sd(self) -> NDArray[Any]: ...
    @property
    def step_mm(self) -> NDArray[Any]: ...


@dataclass(frozen=True, kw_only=True)
class Tool:
    """A place with what its tool costs; ``edges`` are its columns in the outlook's arrays."""

    place: Place
    edges: tuple[int, ...]
    tool_type: ToolType
    cap: float | None
    """Largest chance of passing the limit, by zone; None where the site sets none."""
    in_trouble: bool = False
    """Found damaged and still on the wheel: late until it is changed."""

    @property
    def price(self) -> float:
        return self.tool_type.price

    @property
    def core(self) -> float:
        """What a sound worn tool is still worth: its share rebuilt, times what a rebuild saves."""
        if self.tool_type.rebuild_price is None:
            return 0.0
        return self.tool_type.rebuildable_share * max(0.0, self.price - self.tool_type.rebuild_price)

    @property
    def life_value(self) -> float:
        """Worth of a whole ring life."""
        return self.price - self.core


@dataclass(frozen=True, kw_only=True)
class Ahead:
    """The outlook with its tools gathered into places, and limits that are always finite."""

    site: Site
    outlook: OutlookLike
    """In even wear where a curve of wear by its level was learnt: what tools gather adds up there, and meets wear at
    the limit."""
    as_read: OutlookLike
    """The same in mm as they are read."""
    tools: tuple[Tool, ...]
    limit_mm: Floats
    """(P,) by edge."""
    damage_limit_mm: Floats
    """(P,) by edge; the wear limit where the site names no damage limit."""
    remarks: tuple[str, ...]
    rows: Mapping[str, tuple[int, ...]]
    """Row code -> indices of its places."""
    damage: Damage
    """What broken tools cost."""

    @property
    def face_m(self) -> float:
        return float(self.outlook.face_m)

    @property
    def end_m(self) -> float:
        return float(self.outlook.end_m)

    @property
    def draws(self) -> int:
        return int(self.outlook.wear_now_mm.shape[0])

    def worn(self, edge: int, even_mm: NDArray[Any]) -> NDArray[Any]:
        """Wear of an edge as it is read, at an even wear."""
        through = getattr(self.as_read, "worn_mm", None)
        return even_mm if through is None else np.asarray(through(edge, even_mm))

    def even(self, edge: int, wear_mm: NDArray[Any]) -> NDArray[Any]:
        """The inverse of `worn`."""
        through = getattr(self.as_read, "as_even_mm", None)
        return wear_mm if through is None else np.asarray(through(edge, wear_mm))

    @cached_property
    def worn_mm(self) -> dict[float, NDArray[Any]]:
        """(D, P) wear of the tools in place at the driven metres asked for so far; see `wear_ahead.wear_draws`."""
        return {}

    @cached_property
    def ring_ends(self) -> NDArray[Any]:
        """(M, 2) ring numbers and the driven metres at their ends, of the rings that have one."""
        return np.array([(r.ring, r.end_m) for r in self.site.rings if r.end_m is not None]).reshape(-1, 2)

    def chainage_m(self, driven_m: float) -> float:
        return float(self.site.drive.chainage_m(driven_m))

    def at(self, table: NDArray[Any], driven_m: Floats) -> NDArray[Any]:
        """Read an outlook array (..., G) at driven metres, linear between the points of its grid."""
        grid = np.asarray(self.outlook.grid_m, float)
        if len(grid) < 2:
            return np.repeat(table[..., :1], len(driven_m), axis=-1)
        high = np.clip(np.searchsorted(grid, driven_m), 1, len(grid) - 1)
        width = np.maximum(grid[high] - grid[high - 1], 1e-12)
        share = np.clip((driven_m - grid[high - 1]) / width, 0.0, 1.0).astype(table.dtype)
        return np.asarray(table[..., high - 1] * (1 - share) + table[..., high] * share)


def look(site: Site, outlook: OutlookLike) -> Ahead:
    """Gather places, prices, caps and rows."""
    tools = _tools(site, outlook)
    as_read, outlook = outlook, getattr(outlook, "evenly", outlook)
    limit = np.asarray(outlook.limit_mm, float)
    damage = np.asarray(outlook.damage_limit_mm, float)
    rows = {row.code: tuple(i for i, t in enumerate(tools) if t.place.row == row.code) for row in site.wheel.rows}
    return Ahead(
        site=site,
        outlook=outlook,
        as_read=as_read,
        tools=tools,
        limit_mm=limit,
        damage_limit_mm=np.where(np.isfinite(damage), np.maximum(damage, limit), limit),
        remarks=tuple(_remarks(site, outlook, tools, damage)),
        rows={code: members for code, members in rows.items() if members},
        damage=damage_of(site),
    )


def _tools(site: Site, outlook: OutlookLike) -> tuple[Tool, ...]:
    """One for each place that holds a tool of the outlook."""
    index = {int(n): i for i, n in enumerate(outlook.numbers)}
    lives: Any = getattr(outlook, "lives", ())
    tools = []
    for place in places(outlook.layout):
        edges = tuple(index[n] for n in place.positions if n in index)
        if edges:
            mine = [lives[e] for e in edges if e < len(lives) and lives[e] is not None]
            tools.append(
                Tool(
                    place=place,
                    edges=edges,
                    tool_type=site.wheel.tool_type(place.tool_type),
                    cap=site.wheel.max_over_limit_probability.get(place.zone),
                    in_trouble=any(
                        life.trouble_from_m is not None and is_major(site, getattr(life, "trouble_condition", None))
                        for life in mine
                    ),
                )
            )
    return tuple(tools)


def _remarks(site: Site, outlook: OutlookLike, tools: Sequence[Tool], damage: NDArray[Any]) -> Iterator[str]:
    """What is taken for want of a word in the folder, and what is not planned for."""
    bare = sorted({t.tool_type.code for t in tools if any(not np.isfinite(damage[e]) for e in t.edges)})
    if bare:
        yield (
            f"No damage limit is given for {', '.join(bare)}: late tools of that type are counted from their wear "
            f"limit on."
        )
    ahead = [c for c in site.wheel.layout_changes if outlook.face_m < c.from_m < outlook.end_m]
    if ahead:
        where = ", ".join(f"{c.position} at {c.from_chainage_m:g} m" for c in ahead[:5])
        yield f"Layout changes ahead are not planned through: the layout at the face is kept (position {where})."
    broken = [n for t in tools if t.in_trouble for n in t.place.positions]
    if broken:
        yield f"Found damaged and still on the wheel: {some(broken)}. Counted as late from the face on."
    doubted = getattr(outlook, "doubted_over_limit", ())
    if doubted:
        who = some(
            f"{n} ({mm:g} of {most:g} mm at {at(float(site.drive.chainage_m(x)))})" for n, mm, most, x in doubted
        )
        yield (
            f"Read over the limit and still on the wheel: {who}. All other readings speak against it, so the estimate "
            f"holds it to be under: look again, or correct the record."
        )
    uncapped = sorted({t.place.zone for t in tools if t.cap is None and not t.place.row})
    if uncapped:
        yield f"No cap on the chance of passing a limit is set for zone {', '.join(uncapped)}: only costs speak there."
