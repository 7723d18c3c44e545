"""Mutated folders all the way through a plan: ``python -m tests.studies.fuzz_plan 300 [first seed]``.

Each folder is spoilt as in the fuzzing of `check`; where nothing forbids a plan, one is made. It prints what raised and
the slowest; anything raised is a failure.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
import traceback
from pathlib import Path

from tests.site.small_site import texts
from tests.site.spoil import spoil, write_spoilt
from wearplan import plan, wear
from wearplan.site import load

QUICK = plan.Wishes(deferral=False, tradeoff=False, comparison=False, time_limit_s=5.0)


def main() -> None:
    count, first = int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 0
    planned = failed = 0
    slowest = 0.0
    for seed in range(first, first + count):
        with tempfile.TemporaryDirectory() as place:
            folder = Path(place) / "site"
            write_spoilt(folder, spoil(texts(), random.Random(seed)))
            began = time.monotonic()
            try:
                site = load(folder).site
                if site is not None and not site.forbidding("plan"):
                    outlook = wear.look_ahead(site, wear.learn(site), draws=60)
                    plan.propose(site, outlook, wishes=QUICK)
                    planned += 1
            except Exception:
                failed += 1
                print(f"seed {seed}:")
                traceback.print_exc()
            slowest = max(slowest, time.monotonic() - began)
    print(f"{count} folders, {planned} planned, {failed} failed, slowest {slowest:.2f} s")


if __name__ == "__main__":
    main()
