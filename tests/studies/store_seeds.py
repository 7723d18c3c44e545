"""Does a line of the store hang on the random numbers? The sample's plan, its outlook and its use drawn anew 40 times.

    python -m tests.studies.store_seeds [last first]

A line that is called sure on one set of draws must not be missing on another; its quantity may move within the band
that stands beside it.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from datetime import date
from pathlib import Path

from wearplan import wear
from wearplan.demand.forecasting import DriveUse, forecast
from wearplan.plan import Wishes, propose, use_draws
from wearplan.site import load

SAMPLE = Path(__file__).parents[2] / "sample_wheel"


def main(seeds: int, first: int = 1) -> None:
    site = load(SAMPLE).site
    fit = wear.learn(site)
    plan = propose(site, wear.look_ahead(site, fit), wishes=Wishes(deferral=False, tradeoff=False, comparison=False))
    sure: Counter[tuple[str, str]] = Counter()
    seen: Counter[tuple[str, str]] = Counter()
    numbers: dict[tuple[str, str], list[int]] = defaultdict(list)
    for seed in range(first, seeds + 1):
        outlook = wear.look_ahead(site, fit, seed=seed)
        use = use_draws(site, outlook, plan, seed=seed)
        drive = DriveUse(site=site, plan=plan, use=use, face_m=outlook.face_m)
        demand = forecast([drive], as_of=date(2026, 11, 20), seed=seed)
        for action in demand.actions:
            key = (action.tool_type, action.what)
            seen[key] += 1
            sure[key] += action.sure
            numbers[key].append(action.quantity)
        print(seed, "; ".join(action.text for action in demand.actions), flush=True)
    for key in sorted(seen):
        flips = "FLIPS" if sure[key] and seen[key] <= seeds - first else ""
        told = f"in {seen[key]} of {seeds - first + 1}, sure in {sure[key]}, {min(numbers[key])}-{max(numbers[key])}"
        print(*key, told, flips)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3] or ("40",)))
