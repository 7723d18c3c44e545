"""Whole commands as a user waits for them: wall seconds (median of runs) and peak memory of the process.

Run on demand on a quiet machine: ``python -m tests.benchmarks.bench_commands``. It prints a table and asserts nothing.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

SAMPLE = Path(__file__).parents[2] / "sample_wheel"
COMMANDS = (
    ("--help", 7),
    (f"check {SAMPLE}", 5),
    (f"rates {SAMPLE}", 3),
    (f"outlook {SAMPLE}", 3),
    (f"plan {SAMPLE} --quick", 3),
    (f"plan {SAMPLE}", 3),
    (f"demand {SAMPLE}", 3),
    (f"backtest {SAMPLE}", 1),
    (f"report {SAMPLE} --no-backtest", 1),
)


def once(words: str) -> tuple[float, float]:
    """(wall seconds, peak MB) of one run, by the operating system's account of the child."""
    began = time.monotonic()
    child = subprocess.Popen(
        [sys.executable, "-m", "wearplan.cli", *words.split()], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    _, _, usage = os.wait4(child.pid, 0)
    return time.monotonic() - began, usage.ru_maxrss / 1024


def main() -> None:
    print(f"{'command':34} {'seconds':>8} {'MB':>6}")
    for words, runs in COMMANDS:
        taken = [once(words) for _ in range(runs)]
        seconds = statistics.median(wall for wall, _ in taken)
        name = words.replace(str(SAMPLE), "sample_wheel")
        print(f"{name:34} {seconds:8.2f} {max(memory for _, memory in taken):6.0f}", flush=True)


if __name__ == "__main__":
    main()
