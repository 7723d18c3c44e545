"""Structure-aware mutations of a site folder through `load`, as many as wanted.

    python -m tests.studies.fuzz_site 20000 [first seed]

No traceback, nothing over 10 s, no impossible value accepted (`tests.site.spoil.must_hold`).
"""

from __future__ import annotations

import random
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from tests.site.small_site import texts
from tests.site.spoil import must_hold, spoil, write_spoilt
from wearplan.site import load


def main(count: int, first: int = 0) -> int:
    slowest, failed, codes = 0.0, 0, Counter[str]()
    silent = 0
    for seed in range(first, first + count):
        folder = Path(tempfile.mkdtemp(prefix="fuzz-site-"))
        try:
            write_spoilt(folder, spoil(texts(), random.Random(seed)))
            start = time.perf_counter()
            loaded = load(folder)
            slowest = max(slowest, time.perf_counter() - start)
            must_hold(loaded)
            codes.update({fault.code for fault in loaded.faults})
            silent += not loaded.faults
        except Exception:
            failed += 1
            print(f"seed {seed}:", file=sys.stderr)
            traceback.print_exc()
        finally:
            shutil.rmtree(folder)
    print(f"{count} folders, {failed} failed, slowest {slowest:.2f} s, {silent} without a fault")
    print(", ".join(f"{code} {number}" for code, number in codes.most_common()))
    return 1 if failed or slowest > 10 else 0


if __name__ == "__main__":
    sys.exit(main(*(int(argument) for argument in sys.argv[1:])))
