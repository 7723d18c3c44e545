"""Turns of the wheel for every ring: as logged, or from rings nearby in the same ground."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Hashable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from wearplan.ground.sections import section_index
from wearplan.history.mended import Mended, ring_words, runs
from wearplan.history.ringlog import Placed
from wearplan.site.records import Ground, RingRow, Section, Site

Array = NDArray[np.float64]

NEAREST = 20
FEWEST = 3
"""Fewer alike rings than this are no measure; then any rings nearby serve, with their own spread."""
LEAST_REL_SD = 0.05
PENETRATION_MM = (0.2, 1000.0)
"""Beyond these the turns of a ring are taken for a slip."""
SLIP = 8.0
"""A penetration so many times off its neighbours is taken for a slip."""
NOTHING_KNOWN_MM, NOTHING_KNOWN_SD = 15.0, 0.7
"""A guess at common practice, for a drive that has no turns at all on record and no expected penetration."""


@dataclass(frozen=True, kw_only=True)
class Filled:
    """Arrays ``(N,)`` over the placed rows."""

    turns_boring: Array
    turns_idle: Array
    ccw_share: Array
    imputed: NDArray[np.bool_]
    turns_rel_sd: Array
    columns: Mapping[str, Array]
    mended: tuple[Mended, ...]
    ccw_logged: bool


def _number(text: str | None) -> float:
    try:
        return float((text or "").strip().replace(",", "."))
    except ValueError:
        return np.nan


def logged_turns(row: RingRow | None) -> float:
    """Boring turns of a row: as counted, else speed times minutes; ``nan`` without either."""
    if row is None:
        return np.nan
    if row.revolutions_boring is not None:
        return row.revolutions_boring
    return _number(row.extra.get("rotation_rpm")) * _number(row.extra.get("boring_minutes"))


def _value(row: RingRow | None, name: str) -> float:
    value = getattr(row, name) if row is not None else None
    return np.nan if value is None else float(value)


def _alike(section: Section) -> Hashable:
    """Sections with the same key are the same ground at the same expected penetration."""
    layers = tuple((stratum.unit, stratum.top_m) for stratum in section.strata)
    return tuple(sorted(section.mix.items())), layers, section.cut, section.penetration_mm_per_rev


class _Nearby:
    """Sound rings by likeness, to find the nearest to a ring that needs a value."""

    def __init__(self, keys: list[Hashable], sound: NDArray[np.bool_]) -> None:
        self.alike: dict[Hashable, list[int]] = defaultdict(list)
        self.all: list[int] = []
        for index in np.flatnonzero(sound):
            self.alike[keys[index]].append(int(index))
            self.all.append(int(index))
        self.keys = keys

    def of(self, index: int) -> tuple[list[int], bool]:
        """Indices of the nearest sound rings, and whether they are in the same ground."""
        alike = self.alike.get(self.keys[index], [])
        pool = alike if len(alike) >= FEWEST else self.all
        at = bisect_left(pool, index)
        near = pool[max(0, at - NEAREST) : at + NEAREST]
        return sorted(near, key=lambda other: abs(other - index))[:NEAREST], pool is alike


def fill_turns(site: Site, placed: Placed, ground: Ground | None) -> Filled:
    """Turns, idle turns and direction of every ring; see `wearplan.history.rings.clean_rings`."""
    count = len(placed.rows)
    advance = placed.end_m - placed.start_m
    if ground is not None and ground.sections:
        of = section_index(ground, (placed.start_m + placed.end_m) / 2.0)
        sections: list[Section | None] = [ground.sections[i] for i in of]
    else:
        sections = [None] * count
    by_section: dict[int, Hashable] = {}
    keys = [by_section.setdefault(id(s), _alike(s)) if s is not None else None for s in sections]
    cut = np.array([s is None or s.cut for s in sections], dtype=bool)
    turns = np.array([logged_turns(row) for row in placed.rows], dtype=float)
    mended: list[Mended] = []
    with np.errstate(all="ignore"):
        penetration = 1000.0 * advance / turns
    possible = (turns > 0) & (penetration >= PENETRATION_MM[0]) & (penetration <= PENETRATION_MM[1])
    sound = np.where(cut, possible, np.isfinite(turns) & (turns >= 0))
    sound &= ~_slips(penetration, sound & cut, keys)
    logs = np.log(penetration, out=np.zeros(count), where=sound & cut & (turns > 0))
    nearby = _Nearby(keys, sound & cut)
    rel_sd = np.zeros(count)
    filled = np.where(sound, turns, 0.0)
    for index in np.flatnonzero(~sound & cut):
        middle, rel_sd[index] = _penetration(int(index), nearby, logs, sections[index])
        filled[index] = 1000.0 * advance[index] / middle
    imputed = ~sound & cut
    mended += _name_filled(placed, imputed, turns, rel_sd)
    idle = _filled_idle(placed, nearby, advance)
    ccw, ccw_logged = _filled_ccw(placed, nearby, mended)
    return Filled(
        turns_boring=filled,
        turns_idle=idle,
        ccw_share=ccw,
        imputed=imputed,
        turns_rel_sd=rel_sd,
        columns=_columns(placed),
        mended=tuple(mended),
        ccw_logged=ccw_logged,
    )


def _slips(penetration: Array, sound: NDArray[np.bool_], keys: list[Hashable]) -> NDArray[np.bool_]:
    """Rings whose penetration is far off that of the rings around in the same ground."""
    slips = np.zeros(len(penetration), dtype=bool)
    groups: dict[Hashable, list[int]] = defaultdict(list)
    for index in np.flatnonzero(sound):
        groups[keys[index]].append(int(index))
    for members in groups.values():
        if len(members) < 2 * FEWEST:
            continue
        logs = np.log(penetration[members])
        reach = min(10, len(members) - 1)
        windows = np.lib.stride_tricks.sliding_window_view(np.pad(logs, reach, mode="reflect"), 2 * reach + 1)
        slips[members] = np.abs(logs - np.median(windows, axis=1)) > np.log(SLIP)
    return slips


def _penetration(index: int, nearby: _Nearby, logs: Array, section: Section | None) -> tuple[float, float]:
    """Penetration for a ring without turns, and its relative sd."""
    near, same = nearby.of(index)
    expected = section.penetration_mm_per_rev if section is not None else None
    if len(near) >= FEWEST and (same or expected is None):
        spread = float(np.std(logs[near], ddof=1))
        return float(np.exp(logs[near].mean())), max(LEAST_REL_SD, spread if same else 2.0 * spread + 0.1)
    if expected is not None:
        return expected, 0.3
    if near:
        return float(np.exp(logs[near].mean())), 0.4
    return NOTHING_KNOWN_MM, NOTHING_KNOWN_SD


def _name_filled(placed: Placed, imputed: NDArray[np.bool_], turns: Array, rel_sd: Array) -> list[Mended]:
    """One sentence a run of rings whose turns were filled; runs nobody logged are named by their gap already."""
    named = []
    for first, last in runs(int(i) for i in np.flatnonzero(imputed)):
        span = slice(first, last + 1)
        rows = [row for row in placed.rows[span] if row is not None]
        numbers = tuple(int(n) for n in placed.number[span])
        doubt = f"±{100 * float(rel_sd[span].max()):.0f} %"
        if rows:
            bad = any(np.isfinite(turns[span]))
            why = "revolutions that cannot be; " if bad else "revolutions missing; "
        else:
            why = "revolutions "
        named.append(
            Mended(
                what=f"{ring_words(numbers)}: {why}taken from rings nearby, {doubt}",
                from_m=float(placed.start_m[first]),
                to_m=float(placed.end_m[last]),
                rings=tuple(n for n in numbers if n),
                origins=tuple(row.origin for row in rows),
            )
        )
    return named


def _filled_idle(placed: Placed, nearby: _Nearby, advance: Array) -> Array:
    idle = np.array([_value(row, "revolutions_idle") for row in placed.rows], dtype=float)
    good = np.isfinite(idle) & (idle >= 0)
    if not good.any():
        return np.zeros(len(idle))
    per_metre = np.where(good, idle, 0.0) / np.maximum(advance, 1e-3)
    for index in np.flatnonzero(~good):
        near = [other for other in nearby.of(int(index))[0] if good[other]]
        idle[index] = advance[index] * (per_metre[near].mean() if near else 0.0)
    return idle


def _filled_ccw(placed: Placed, nearby: _Nearby, mended: list[Mended]) -> tuple[Array, bool]:
    share = np.array([_value(row, "revolutions_ccw_share") for row in placed.rows], dtype=float)
    good = (share >= 0) & (share <= 1)
    wrong = np.isfinite(share) & ~good
    if wrong.any():
        numbers = [int(n) for n in placed.number[wrong]]
        what = f"{ring_words(numbers)}: share of turns counter-clockwise outside 0 to 1; taken from rings nearby"
        at = placed.start_m[wrong]
        mended.append(Mended(what=what, from_m=float(at[0]), to_m=float(at[-1]), rings=tuple(numbers)))
    for index in np.flatnonzero(~good):
        near = [other for other in nearby.of(int(index))[0] if good[other]] if good.any() else []
        share[index] = share[near].mean() if near else 0.5
    return share, bool(good.any())


def _columns(placed: Placed) -> dict[str, Array]:
    names = dict.fromkeys(name for row in placed.rows if row is not None for name in row.extra)
    columns = {
        name: np.array([_value(row, name) for row in placed.rows], dtype=float)
        for name in ("thrust_kn", "torque_knm", "face_pressure_bar")
    }
    for name in names:
        columns[name] = np.array([_number(row.extra.get(name)) if row else np.nan for row in placed.rows], dtype=float)
    return {name: values for name, values in columns.items() if np.isfinite(values).any()}
