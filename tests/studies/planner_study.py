"""Following the plan on simulated drives, against rules of thumb, a plan never looked at again, and perfect foresight.

Every figure is counted on the truth of the drive (`tests.simulate.follow`), entries whole; a tool past its damage limit
stops the drive where that happens, under every way of going on. Run by name, results one JSON line a drive:

    python -m tests.studies.planner_study FILE forced [first last]    # the 24 drives it is judged on
    python -m tests.studies.planner_study FILE planner [first last]   # the 12 committed before
    python -m tests.studies.planner_study FILE tuning                 # for trying things out, never reported
    python -m tests.studies.planner_study FILE                        # the table of a file

With ``without=told`` that way is left out; with ``truth=FILE`` what the planner has no part in is taken from there.

Ways of going on, all with the same bookkeeping (the tool that is late is changed at its forced stop in any case):

* ``plan``: stop where the plan says, read, learn and plan again standing there; after a forced stop the same: what else
  to change is planned standing there, then the way on.
* ``told``: the same planner told all that could be known at the face, see `tests.simulate.informed`.
* ``once``: the first plan carried out as it stands; at a forced stop what is past 80 % of its limit is changed along.
* ``every``: the spacing that is best on the plan's own draws at the start, as a site would choose it; ``every*``: the
  best of five on the truth, which nobody could have known.
* ``limit``: run until a straight line says that a limit is reached; ``second``: at every second window all past 60 %.
* ``ruled``, ``free``: perfect foresight with the site's rules of rows and caps and without any, as booked; ``>=`` their
  lower bounds: see `tests.simulate.foresight`.

Measured on the 24 drives of `FORCED`, committed before late tools stopped the simulated drive or the planner reckoned
with that; nothing was tuned on them. The plan against the best fixed rule of each drive, and its late tools against
that rule's:

===============================================  =======  ==================  ===========
planner                                            mean   above on            late tools
===============================================  =======  ==================  ===========
late tools at a fee, driven dead in the model     -22 %   5 of 24             144 / 118
late tools stop the drive in the model            -40 %   3 of 24 (+2..+31)   71 / 115
whole entries solved                              -41 %   3 of 24 (+2..+30)   69 / 115
changes at stops forced in a keep-out             -47 %   none                30 / 114
===============================================  =======  ==================  ===========

By drive, the last: -54 -60 -61 -31 -40 -41 -38 -38 -31 -45 -49 -63 -6 -64 -51 -59 -42 -42 -73 -44 -48 -43 -55 -52 %.
Until then the study itself held the plan back: at a stop forced in a keep-out it could change nothing but the late
tool, which rules and foresight could. That was found on a tuning drive (17 of `_forced`, seed 9520: 51 late tools
before, 5 since), after the figures of the line before were known; in the same step a cap that cannot be kept no longer
has a tool served twice in one window, by itself 0 to 3 % on six tuning drives. Against perfect foresight that keeps the
rules the plan pays +36 % (median +28, 13 of 24 within +30). Foresight is the least where no two late tools share a
forced stop: on five drives they do, its bound lies above what it costs, and on one of them the plan costs 14 % less.
Told the true present, the same planner still pays +23 %: a third of the rest could be had by knowing better, two thirds
are the luck of tools not yet fitted and of what breaks.

The best fixed rule of a drive is the cheapest of ``every``, ``limit`` and ``second`` there, so it is chosen with
hindsight and no site could count on it.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any

import numpy as np

from tests.simulate.booking import Account
from tests.simulate.crew import CHANGE_AT
from tests.simulate.follow import Follower
from tests.simulate.foresight import foreseen, foresight
from tests.simulate.informed import informed_outlook
from tests.simulate.policies import every, every_second_window, past, until_limit
from tests.simulate.seeds import FORCED, PLANNER, TUNING_FORCED, TUNING_PLANNER, Case
from tests.simulate.world import World
from wearplan import wear
from wearplan.plan import Plan, Wishes, propose
from wearplan.plan.play.compare import best_spacing
from wearplan.plan.play.worlds import worlds
from wearplan.plan.proposal import task
from wearplan.site.records import Site

ALONE = Wishes(deferral=False, tradeoff=False, comparison=False, gap=5e-3, time_limit_s=10.0)
"""The plan as it is made by default, a little coarser and without the answers beside it."""
CASES = {"forced": FORCED, "planner": PLANNER, "tuning": (*TUNING_PLANNER, *TUNING_FORCED)}
RULES = ("every", "limit", "second")
KEPT = (
    "standstill", "fixed", "tools", "late", "broken", "pressure", "stops", "forced_stops", "changes", "late_tools",
    "broken_tools", "entries_under_pressure",
)  # fmt: skip

OutlookOf = Callable[[Follower], wear.Outlook]
Choose = Callable[[Site, wear.Outlook, Plan], Sequence[int]]


def learnt_outlook(follower: Follower) -> wear.Outlook:
    site = follower.site()
    return wear.look_ahead(site, wear.learn(site, checks=False), draws=200)


def changes(plan: Plan, stop: int) -> list[int]:
    return [n for c in plan.stops[stop].changes for n in c.positions]


def as_planned(site: Site, outlook: wear.Outlook, plan: Plan) -> Sequence[int]:
    """What the plan made standing there changes at its first stop."""
    return changes(plan, 0)


def first_plan(follower: Follower, outlook_of: OutlookOf = learnt_outlook) -> Plan:
    return propose(follower.site(), outlook_of(follower), wishes=ALONE)


def followed(
    follower: Follower, plan: Plan, *, outlook_of: OutlookOf = learnt_outlook, choose: Choose = as_planned
) -> Account:
    """Stop where the plan says, read, learn again, plan again standing there, change, and go on to the next stop; where
    a late tool stops the drive the same, and the stops ahead of the plan made there are the way on.
    """

    def chosen() -> Sequence[int]:
        nonlocal plan
        site, outlook = follower.site(), outlook_of(follower)
        plan = propose(site, outlook, wishes=replace(ALONE, standing=True))
        stands = bool(plan.stops) and plan.stops[0].driven_m <= follower.face_m + 0.5 * site.drive.ring_length_m
        return choose(site, outlook, plan) if stands else ()

    follower.at_forced = lambda _, seen: () if follower.done else chosen()
    end_m = float(follower.run.process.edges_m[-1])
    while not follower.done:
        stop = next((s for s in plan.stops if s.driven_m > follower.face_m + 1e-3), None)
        if follower.drive_towards(end_m if stop is None else stop.driven_m) and stop is not None:
            follower.advance_to(stop.driven_m, window=stop.window)
            follower.change(chosen())
    return follower.finish()


def never_again(world: World, plan: Plan) -> Account:
    """The first plan carried out as it stands."""
    follower = world.follow()
    follower.at_forced = past(CHANGE_AT)
    for k, stop in enumerate(plan.stops):
        follower.advance_to(stop.driven_m, window=stop.window)
        follower.change(changes(plan, k))
    return follower.finish()


def kept(account: Account) -> dict[str, Any]:
    return {"total": account.total} | {k: asdict(account)[k] for k in KEPT}


def truth(world: World) -> dict[str, Any]:
    """The ways that no planner has a part in."""
    known = foresight(world)
    ruled, free = (foreseen(world, known, rules=rules) for rules in (True, False))
    return {
        "limit": kept(until_limit(world)),
        "second": kept(every_second_window(world)),
        "ruled": kept(ruled.account),
        "free": kept(free.account),
        "ruled>=": ruled.bound,
        "free>=": free.bound,
    }


def outcome(case: Case, *, without: Sequence[str] = (), known: dict[str, Any] | None = None) -> dict[str, Any]:
    """All ways of one drive, from the face at the start to the end, on the truth; money in the site's currency."""
    began = time.process_time()
    world = case.world()
    outlook = wear.look_ahead(world.site, wear.learn(world.site, checks=False), draws=200)
    plan = propose(world.site, outlook, wishes=ALONE)
    model, _ = task(world.site, outlook, ALONE)
    spacing, _ = best_spacing(worlds(model, draws=100, seed=1))
    accounts = {
        "plan": followed(case.world().follow(), plan),
        "once": never_again(case.world(), plan),
        "every": every(case.world(), spacing),
    }
    if "told" not in without:
        follower = case.world().follow()
        accounts["told"] = followed(follower, first_plan(follower, informed_outlook), outlook_of=informed_outlook)
    planned_s = time.process_time() - began
    return {
        "seed": case.seed,
        **{name: kept(account) for name, account in accounts.items()},
        **({k: known[k] for k in TRUTH} if known else truth(world)),
        "every*": min(every(case.world(), x).total for x in spacing * np.array([0.5, 0.75, 1.0, 1.5, 2.0])),
        "spacing_m": spacing,
        "expected": plan.expected_cost,
        "planned_s": round(planned_s, 1),
        "seconds": round(time.process_time() - began, 1),
    }


TRUTH = ("limit", "second", "ruled", "free", "ruled>=", "free>=")
WAYS = ("plan", "told", "once", "every", "limit", "second", "ruled", "free")


def totals(found: dict[str, Any]) -> dict[str, float]:
    """Money by way of going on, the best fixed rule of the drive among them."""
    money = {way: float(found[way]["total"]) if way in found else np.nan for way in WAYS}
    return money | {"best rule": min(money[r] for r in RULES)} | {k: found[k] for k in ("every*", "ruled>=", "free>=")}


def table(drives: Iterable[dict[str, Any]]) -> str:
    """Money in thousands by drive, how the plan compares, and late tools; means below."""
    drives = sorted(drives, key=lambda d: d["seed"])
    ways = (*WAYS, "every*", "ruled>=", "free>=", "best rule")
    against = ("best rule", "once", "told", "ruled", "free>=")
    rows = [totals(d) for d in drives]
    lines = ["  seed" + "".join(f"{w:>10}" for w in ways) + " |" + "".join(f"{w:>10}" for w in against)]
    lines[0] += " | late: plan told rule ruled | stops plan rule"
    for d, row in zip(drives, rows, strict=True):
        rule = min(RULES, key=lambda r: row[r])
        lines.append(
            f"{d['seed']:6d}" + "".join(f"{row[w] / 1000:10,.0f}" for w in ways) + " |"
            + "".join(f"{row['plan'] / row[w] - 1:10.0%}" for w in against)
            + f" |{d['plan']['late_tools']:11d}{late(d, 'told'):>5}{d[rule]['late_tools']:5d}"
            f"{d['ruled']['late_tools']:6d} |{d['plan']['stops']:11d}{d[rule]['stops']:5d}  {rule} {d['seconds']:.0f} s"
        )  # fmt: skip
    mean = {w: float(np.mean([row[w] for row in rows])) for w in ways}
    lines.append("  mean" + "".join(f"{mean[w] / 1000:10,.0f}" for w in ways) + " |")
    lines[-1] += "".join(f"{np.mean([row['plan'] / row[w] - 1 for row in rows]):10.0%}" for w in against)
    return "\n".join([*lines, *_words(drives, rows)])


def _words(drives: list[dict[str, Any]], rows: list[dict[str, float]]) -> list[str]:
    ratio = np.array([row["plan"] / row["best rule"] - 1 for row in rows])
    one_rule = min(RULES, key=lambda r: sum(row[r] for row in rows))
    lines = [
        f"against the best fixed rule of each drive: mean of the ratios {ratio.mean():+.1%}, median "
        f"{np.median(ratio):+.1%}, above it on {int((ratio > 0).sum())} of {len(ratio)}",
        f"against one rule on all drives ({one_rule}): "
        f"{sum(r['plan'] for r in rows) / sum(r[one_rule] for r in rows) - 1:+.1%} of the money",
        "late tools in all: " + ", ".join(f"{w} {sum(late(d, w) for d in drives)}" for w in WAYS if w in drives[0]),
    ]  # fmt: skip
    for other in ("told", "ruled", "free"):
        part = [row["plan"] / row[other] - 1 for row in rows]
        lines.append(f"above {other}: {np.mean(part):+.1%} mean of the ratios, by drive " + _shares(part))
    lines.append("told above ruled: " + _shares([row["told"] / row["ruled"] - 1 for row in rows]))
    causes = ("standstill", "fixed", "tools", "late", "broken")
    apart = [f"{c} {np.mean([d['plan'][c] - d['ruled'][c] for d in drives]) / 1000:+,.0f}" for c in causes]
    lines.append("plan more than ruled by cause, thousands a drive: " + ", ".join(apart))
    return lines


def _shares(values: Iterable[float]) -> str:
    return " ".join(f"{100 * v:+.0f}" for v in values) + " %"


def late(found: dict[str, Any], way: str) -> int:
    return int(found[way]["late_tools"]) if way in found else 0


def read(path: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in path.read_text().splitlines() if line.strip()] if path.exists() else []


if __name__ == "__main__":
    options = dict(word.split("=") for word in sys.argv[2:] if "=" in word)
    path, words = Path(sys.argv[1]), [word for word in sys.argv[2:] if "=" not in word]
    if words:
        cases = CASES[words[0]]
        first, last = (int(x) for x in (words[1:3] or (0, len(cases))))
        have = {d["seed"] for d in read(path)}
        before = {d["seed"]: d for d in read(Path(options["truth"]))} if "truth" in options else {}
        for each in cases[first:last]:
            if each.seed in have:
                continue
            found = outcome(each, without=options.get("without", "").split(","), known=before.get(each.seed))
            with path.open("a") as file:
                file.write(json.dumps(found) + "\n")
            print(each.seed, found["seconds"], flush=True)
    print(table(read(path)))
