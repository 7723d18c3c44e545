"""Ways to go on from the face, to be compared on one truth: simple rules of a crew, and perfect foresight.

The rules see only what a crew sees: readings and straight lines through them. What sees the truth stands in
`foresight.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

import numpy as np

from wearplan.site.records import Site, Window

from .booking import Account, entry_row
from .crew import CHANGE_AT, Seen
from .follow import AtForced, Follower
from .world import World


class Change(Protocol):
    action: str
    positions: Sequence[int]
    from_position: int | None


class Stop(Protocol):
    driven_m: float
    window: str
    changes: Sequence[Change]


class Plan(Protocol):
    """What is needed of a plan to follow it."""

    stops: Sequence[Stop]


def usable_windows(follower: Follower) -> list[Window]:
    """Windows ahead with an entry row and a ring that ends in them outside keep-outs."""
    stops = follower.run.blueprint.stops
    assert stops is not None
    return [
        w
        for w in stops.windows
        if w.from_m >= follower.face_m
        and entry_row(stops, w.mode, w.pressure_bar) is not None
        and len(rings_in(follower, w))
    ]


def rings_in(follower: Follower, window: Window) -> np.ndarray:
    """Ring counts whose end lies in a window, outside keep-outs, short of the drive's end."""
    edges = follower.run.process.edges_m
    stops = follower.run.blueprint.stops
    inside = (edges >= window.from_m - 1e-6) & (edges <= window.to_m + 1e-6) & (edges < edges[-1] - 1e-6)
    for keep in stops.keep_outs if stops else ():
        inside &= (edges < keep.from_m) | (edges > keep.to_m)
    return np.flatnonzero(inside)


def past(share: float) -> AtForced:
    """At a forced stop change what is read past a share of its limit, or found damaged, as a crew at work would."""

    def more(follower: Follower, seen: dict[int, Seen]) -> list[int]:
        limit, index = follower.run.limit_mm, follower.run.index
        return [n for n, s in seen.items() if s.trouble or s.estimate_mm >= share * limit[index[n]]]

    return more


def reached_when(follower: Follower, due: Callable[[Window], bool]) -> Iterator[Window]:
    """The windows at which a stop is due, the drive having come to each; asked again after a forced stop on the way."""
    for window in usable_windows(follower):
        start_m = float(follower.run.process.edges_m[rings_in(follower, window)[0]])
        while due(window):
            if follower.drive_towards(start_m):
                yield window
                break


def stop_in(follower: Follower, window: Window) -> dict[int, float]:
    """Stop at the first ring of a window; readings as the crew takes them, troubles as infinite wear."""
    ring = int(rings_in(follower, window)[0])
    readings = follower.advance_to(float(follower.run.process.edges_m[ring]), window=window.name)
    seen = follower.crew.seen(readings)
    return {n: np.inf if s.trouble else s.estimate_mm for n, s in seen.items()}


def until_limit(world: World) -> Account:
    """Go on until a straight line says that some tool has reached its limit, then the next window: change past 80 %."""
    follower = world.follow()
    follower.at_forced = past(CHANGE_AT)
    run = follower.run

    def due(window: Window) -> bool:
        run_on = follower.crew.expected_mm() + follower.crew.rate_mm_per_m * (window.from_m - follower.face_m)
        return bool((run_on >= run.limit_mm).any())

    for window in reached_when(follower, due):
        wear = stop_in(follower, window)
        follower.change(n for n, w in wear.items() if w >= CHANGE_AT * run.limit_mm[run.index[n]])
    return follower.finish()


def every(world: World, spacing_m: float) -> Account:
    """Enter at the first window after so many metres: change what a straight line would not let last till the next."""
    follower = world.follow()
    run = follower.run

    def short(wear: dict[int, float]) -> list[int]:
        ahead = np.maximum(follower.crew.rate_mm_per_m, 0.0) * spacing_m
        return [n for n, w in wear.items() if w + ahead[run.index[n]] >= run.limit_mm[run.index[n]]]

    follower.at_forced = lambda _, seen: short({n: np.inf if s.trouble else s.estimate_mm for n, s in seen.items()})
    # The crew's own last stop, so that a forced one counts.
    for window in reached_when(follower, lambda w: w.from_m - follower.crew.last_m >= spacing_m):
        follower.change(short(stop_in(follower, window)))
    return follower.finish()


def every_second_window(world: World, share: float = 0.6) -> Account:
    """At every second window change all past a share of their limit."""
    follower = world.follow()
    follower.at_forced = past(share)
    run = follower.run
    for window in usable_windows(follower)[1::2]:
        wear = stop_in(follower, window)
        follower.change(n for n, w in wear.items() if w >= share * run.limit_mm[run.index[n]])
    return follower.finish()


def follow_plan(world: World, plan_of: Callable[[Site, tuple[float, ...]], Plan], *, replanned: bool = True) -> Account:
    """Follow a planner. ``plan_of(site, forced_m)`` plans from what is known, with stops forced at ``forced_m``.

    Re-planned, each stop is planned twice: where to go next from the face, and, once there with what was read there,
    what to change (``forced_m`` then holds the face: the machine stands there). Not re-planned, the first plan's stops
    and changes are carried out whatever is found, but for tools found broken, which any crew would change.
    """
    follower = world.follow()
    follower.at_forced = past(CHANGE_AT)
    plan = plan_of(follower.site(), ())
    ahead = list(plan.stops)
    while ahead:
        stop = ahead.pop(0)
        readings = follower.advance_to(stop.driven_m, window=stop.window)
        broken = [n for n, seen in follower.crew.seen(readings).items() if seen.trouble]
        changes = stop.changes
        if replanned:
            here = plan_of(follower.site(), (follower.face_m,)).stops
            changes = [c for s in here if abs(s.driven_m - follower.face_m) < 0.5 for c in s.changes]
        moves = [(c.positions[0], c.from_position) for c in changes if c.action == "move" and c.from_position]
        moves = [(to, source) for to, source in moves if to not in broken and source not in broken]
        arrivals = {to for to, _ in moves}
        follower.change({n for c in changes for n in c.positions if n not in arrivals} | set(broken), moves=moves)
        if replanned:
            ahead = [s for s in plan_of(follower.site(), ()).stops if s.driven_m > follower.face_m + 0.5][:1]
    return follower.finish()
