"""What to change at the stop where the drive stands: as planned, or by a rule that remembers each tool's pace.

    python -m tests.studies.pace_study FILE judged [first last]    # the 30 drives of `seeds.PACE`, ten futures each
    python -m tests.studies.pace_study FILE tuning                 # for trying things out, never reported
    python -m tests.studies.pace_study FILE...                     # the table of files

From the face on every future of a drive draws steps, damage and new tools anew, the same for each way of choosing. All
three plan again at every stop, standing there with its readings in, and at every stop that a late tool forces; what
they change there differs:

* ``plan``: what the plan made there changes, as the commands say it.
* ``wear``: the rule of `plan.play.rule`, by the wear measured, entries filled by what saves most an hour.
* ``pace``: that of `pace_rule`, by wear and pace.

Caps are kept by all, rows by adding the tools of a row that save least by being left.

Judged once on the 300 futures of `seeds.PACE`, committed before the rule was written (and before two mends of the
study, both of which touch all three: at a stop forced in a keep-out nobody could change more tools, and one forced at
the ring of a stop was followed by that stop all the same):

====  =======================================  ==========  ============  =====
way   cost against the plan's own changes      late tools  forced stops  tools
====  =======================================  ==========  ============  =====
plan                                                  119            99  14194
wear  +3.40 % (standard error 0.84 % by drive)        137           117  14591
pace  +0.11 % (0.65 %)                                117            97  14220
====  =======================================  ==========  ============  =====

By drive, pace: +0.8 -0.6 +3.9 +4.7 -0.7 -0.8 +0.1 +10.1 -1.1 +1.3 +4.8 +3.6 -0.0 +2.3 +1.6 -0.3 +0.8 -4.1 +3.3 -8.2
-2.0 -4.1 +1.0 -2.6 +0.4 +0.5 -6.3 -1.5 -4.3 +0.6 %. So remembering the pace takes back what the rule by wear loses
(-3.3 %, 1.0 %), and no more: the plan made at the stop knows each tool's pace already, from the outlook, and sees how
entries of the stops ahead are shared. On the tuning drives two mixtures were tried, the plan's programme of whole
entries with each place's value of waiting added: +1.4 % (0.8 %), and with that of leaving alone: +0.4 % (0.6 %). What
the program says to change stays what the plan changes, and the rule by wear is used in play alone, where planning again
is out of reach.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from tests.simulate.follow import Follower
from tests.simulate.seeds import PACE, TUNING_PACE, Case
from tests.studies.pace_rule import gain_now
from tests.studies.planner_study import Choose, as_planned, first_plan, followed, read
from wearplan.plan import Plan
from wearplan.plan.model.exact import Floats, Model
from wearplan.plan.play.rule import thresholds, whole_choice
from wearplan.plan.play.use import model_at_stops
from wearplan.site.records import Site
from wearplan.wear import Outlook

FUTURES = 10
KEPT = ("total", "late_tools", "forced_stops", "stops", "changes", "broken_tools")


def future(case: Case, number: int) -> Follower:
    """The drive at its face, with one of its futures ahead."""
    world = case.world()
    follower = world.follow()
    run, process = follower.run, follower.run.process
    rng = np.random.default_rng([case.seed, 78, number])
    ahead = run.ring
    for fate in (process._step, process._fate, process._trouble):
        fate[:, ahead:] = rng.random(fate[:, ahead:].shape)
    shape = 1.0 / process.life_sd**2
    process._factor[:, ahead:] = rng.gamma(shape, 1.0 / shape, process._factor[:, ahead:].shape)
    return Follower(run, np.random.default_rng([case.seed, 5, number]))


def by_gain(gain_of: Callable[[Model, tuple[int, ...]], Floats]) -> Choose:
    """Choose by what changing saves, (P,) from the task at the plan's stops."""

    def choose(site: Site, outlook: Outlook, plan: Plan) -> Sequence[int]:
        model = model_at_stops(site, outlook, plan)
        stops = tuple(model.cands.stops)
        here, after = (int(n) for n in model.nodes_at(stops)[1:3])
        tools, can = model.ahead.tools, model.serviceable[:, here]
        broken = np.array([t.in_trouble for t in tools])
        gain = np.where(broken & can, np.inf, gain_of(model, stops))
        chosen = whole_choice(gain[None], np.nan_to_num(model.chamber_hours[:, here]), model.cands.term(here))[0]
        for code, members in model.ahead.rows.items():
            left = [p for p in members if model.breaks[p, 0, after] and not chosen[p] and can[p]]
            left.sort(key=lambda p: gain[p])
            chosen[left[model.allowed_over(code) :]] = True
        return [n for p in np.flatnonzero(chosen) for n in tools[p].place.positions]

    return choose


def by_wear(model: Model, stops: tuple[int, ...]) -> Floats:
    """Gain by the mean wear of today."""
    now = model.ahead.outlook.wear_now_mm
    wear = np.array([[max(float(now[:, e].mean()) for e in t.edges)] for t in model.ahead.tools]).T
    return np.asarray(thresholds(model, stops).gains(stops[0], wear)[0])


WAYS: dict[str, Choose] = {"plan": as_planned, "wear": by_gain(by_wear), "pace": by_gain(gain_now)}


def outcome(case: Case, number: int, first: Plan) -> dict[str, Any]:
    accounts = {way: followed(future(case, number), first, choose=choose) for way, choose in WAYS.items()}
    kept = {way: {k: float(getattr(account, k)) for k in KEPT} for way, account in accounts.items()}
    return {"seed": case.seed, "future": number} | kept


def table(rows: list[dict[str, Any]]) -> str:
    """Money against the plan's own changes by drive, over its futures; then the mean, its error and late tools."""
    seeds = sorted({row["seed"] for row in rows})
    lines = [f"{len(rows)} futures of {len(seeds)} drives; more than the plan's own changes, per cent"]
    lines.append("  seed" + "".join(f"{way:>8}" for way in WAYS if way != "plan") + "   late tools " + " ".join(WAYS))
    shares: dict[str, list[float]] = {way: [] for way in WAYS}
    for seed in seeds:
        mine = [row for row in rows if row["seed"] == seed]
        money = {way: sum(row[way]["total"] for row in mine) for way in WAYS}
        for way in WAYS:
            shares[way].append(money[way] / money["plan"] - 1.0)
        told = "".join(f"{100 * shares[way][-1]:+8.2f}" for way in WAYS if way != "plan")
        lines.append(f"{seed:6d}{told}   " + " ".join(f"{sum(r[w]['late_tools'] for r in mine):5.0f}" for w in WAYS))
    for way in WAYS:
        mean, error = np.mean(shares[way]), np.std(shares[way], ddof=1) / np.sqrt(len(seeds))
        sums = {k: sum(row[way][k] for row in rows) for k in KEPT[1:]}
        counts = ", ".join(f"{k.replace('_', ' ')} {v:.0f}" for k, v in sums.items())
        lines.append(f"{way}: {mean:+.2%}, standard error {error:.2%} over drives; {counts}")
    apart = np.array(shares["pace"]) - np.array(shares["wear"])
    error = apart.std(ddof=1) / np.sqrt(len(apart))
    lines.append(f"pace against wear: {apart.mean():+.2%}, standard error {error:.2%}")
    return "\n".join(lines)


def main(path: Path, cases: Sequence[Case]) -> None:
    have = {(row["seed"], row["future"]) for row in read(path)}
    for case in cases:
        first = first_plan(future(case, 0))
        for number in range(FUTURES):
            if (case.seed, number) not in have:
                with path.open("a") as file:
                    file.write(json.dumps(outcome(case, number, first)) + "\n")
        print(case.seed, flush=True)


if __name__ == "__main__":
    words = sys.argv[1:]
    which = {"judged": PACE, "tuning": TUNING_PACE}.get(words[1]) if len(words) > 1 else None
    if which is not None:
        first, last = (int(x) for x in (words[2:4] or (0, len(which))))
        main(Path(words[0]), which[first:last])
        words = words[:1]
    print(table([row for word in words for row in read(Path(word))]))
