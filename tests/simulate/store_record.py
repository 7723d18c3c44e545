"""A simulated drive followed to its end, with what its store would have been told at each stop, kept as plain numbers.

Following a drive takes a minute; buying for it takes none. So each drive is followed once, stock or no stock, and
what was foretold and what was used is kept; ways of buying are then played on the record. A tool that was missing is
priced, not felt: the drive goes on as if it had been there.

    python -m tests.simulate.store_record FOLDER [first last] [tuning]
"""

from __future__ import annotations

import pickle
import sys
import time
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from tests.simulate.follow import Follower
from tests.simulate.seeds import STORE, TUNING_STORE, Case
from wearplan import wear
from wearplan.plan import Plan, Wishes, propose, use_draws

ALONE = Wishes(deferral=False, tradeoff=False, comparison=False, gap=1e-2, time_limit_s=20.0)
DRAWS = 300


@dataclass(frozen=True, kw_only=True)
class Foretold:
    """What was known after a stop: the plan and the use drawn from it."""

    today: date
    face_m: float
    stops: tuple[tuple[float, float, float, str], ...]
    """(driven m, hours, chainage m, window) of the stops still ahead."""
    uses: tuple[tuple[float, int, str, np.ndarray], ...]
    """(driven m, stop, tool type, counts by draw)."""
    sound: dict[str, np.ndarray]
    """Tool type -> (D, S) taken off that a works would take."""
    damaged: dict[str, np.ndarray]
    pace_factor: np.ndarray


@dataclass(frozen=True, kw_only=True)
class Used:
    """What one stop truly took."""

    day: date
    driven_m: float
    counts: dict[str, int]
    sound: dict[str, int]


@dataclass(frozen=True, kw_only=True)
class Record:
    """One drive from its face at the start to its end."""

    seed: int
    looks: tuple[Foretold, ...]
    used: tuple[Used, ...]
    face_by_day: tuple[tuple[date, float], ...]
    """Where the face stood on the days a ring was built."""
    ends: date
    before: tuple[tuple[date, str, int], ...]
    """(day, tool type, tools) of the stops before the start."""
    places: dict[str, int]
    """Tool type -> places that carry it."""


def foretold(follower: Follower, outlook: wear.Outlook, plan: Plan) -> Foretold:
    use = use_draws(follower.site(), outlook, plan, draws=DRAWS)
    here = follower.face_m
    ahead = [k for k, stop in enumerate(plan.stops) if stop.driven_m > here + 1e-3]
    again = {k: number for number, k in enumerate(ahead)}
    return Foretold(
        today=follower.run.clock.now.date(),
        face_m=here,
        stops=tuple((s.driven_m, s.hours, s.chainage_m, s.window) for k, s in enumerate(plan.stops) if k in again),
        uses=tuple((u.driven_m, again[u.stop], u.tool_type, u.counts) for u in use.uses if u.stop in again),
        sound={code: counts[:, ahead] for code, counts in use.removed_sound.items()},
        damaged={code: counts[:, ahead] for code, counts in use.damaged.items()},
        pace_factor=use.pace_factor,
    )


def followed(case: Case) -> Record:
    """Stop where the plan says, learn and plan again standing there, change, keep what is foretold, go on."""
    world = case.world()
    follower = world.follow()
    wheel = world.site.wheel
    looks, used = [], []
    place_of = {p.number: p.housing or str(p.number) for p in wheel.positions}
    type_of = {place_of[p.number]: p.tool_type for p in wheel.positions}
    edges: dict[str, list[int]] = {}
    for number, place in place_of.items():
        edges.setdefault(place, []).append(number)

    def forced_uses(since: int) -> None:
        """Tools taken at the stops that late tools forced on the way."""
        for stop in follower.forced[since:]:
            counts: dict[str, int] = {}
            for place in {place_of[n] for n in (*stop.late, *stop.also)}:
                counts[type_of[place]] = counts.get(type_of[place], 0) + 1
            used.append(Used(day=stop.day, driven_m=stop.driven_m, counts=counts, sound={}))

    def look(standing: bool) -> tuple[wear.Outlook, Plan]:
        site = follower.site()
        outlook = wear.look_ahead(site, wear.learn(site), draws=DRAWS)
        return outlook, propose(site, outlook, wishes=replace(ALONE, standing=standing))

    outlook, plan = look(standing=False)
    looks.append(foretold(follower, outlook, plan))
    ahead = [s for s in plan.stops if s.driven_m > follower.face_m + 1e-6]
    while ahead:
        since = len(follower.forced)
        follower.advance_to(ahead[0].driven_m, window=ahead[0].window)
        forced_uses(since)
        day = follower.run.clock.now.date()
        outlook, plan = look(standing=True)
        chosen = {place_of[n] for c in plan.stops[0].changes for n in c.positions}
        counts: dict[str, int] = {}
        sound: dict[str, int] = {}
        for place in sorted(chosen):
            code = type_of[place]
            counts[code] = counts.get(code, 0) + 1
            sound[code] = sound.get(code, 0) + int(follower._sound(edges[place]))
        used.append(Used(day=day, driven_m=follower.face_m, counts=counts, sound=sound))
        before = follower.account.standstill
        follower.change([n for place in chosen for n in edges[place]])
        rate = follower.run.blueprint.stops.costs.standstill_per_hour  # type: ignore[union-attr]
        follower.run.clock.work((follower.account.standstill - before) / rate)
        looks.append(foretold(follower, outlook, plan))
        ahead = [s for s in plan.stops if s.driven_m > follower.face_m + 1e-3]
    since = len(follower.forced)
    follower.finish()
    forced_uses(since)
    start = looks[0].today
    return Record(
        seed=case.seed,
        looks=tuple(looks),
        used=tuple(used),
        face_by_day=tuple((row.finished_at.date(), row.end_m) for row in follower.run.rows if row.finished_at),
        ends=follower.run.clock.now.date(),
        before=tuple(
            (stop.started_at.date(), code, sum(type_of[place_of[f.position]] == code for f in stop.fittings))
            for stop in world.site.inspections
            for code in {type_of[place_of[f.position]] for f in stop.fittings}
            if stop.started_at.date() <= start
        ),
        places={code: sum(kind == code for kind in type_of.values()) for code in dict.fromkeys(type_of.values())},
    )


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    words = [word for word in sys.argv[2:] if word != "tuning"]
    cases = TUNING_STORE if "tuning" in sys.argv else STORE
    first, last = (int(x) for x in (words[:2] or (0, len(cases))))
    for case in cases[first:last]:
        path = folder / f"{case.seed}.pickle"
        if path.exists():
            continue
        began = time.perf_counter()
        found = followed(case)
        path.write_bytes(pickle.dumps(found))
        total = {code: sum(u.counts.get(code, 0) for u in found.used) for code in found.places}
        print(case.seed, len(found.used), "stops", total, f"{time.perf_counter() - began:.0f} s", flush=True)
