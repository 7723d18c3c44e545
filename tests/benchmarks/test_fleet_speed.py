"""A fleet against its sites one by one, a second run, memory of the parent, and a hundred sites on a loopback cluster.

Not collected by default: ``python -m pytest tests/benchmarks/test_fleet_speed.py -s``.
"""

from __future__ import annotations

import os
import re
import resource
import shutil
import subprocess
import sys
import time
from datetime import date
from pathlib import Path

import pytest

from tests.fleet.test_cluster import cluster as cluster
from tests.fleet.worked import timed
from tests.site.small_site import texts, write
from wearplan.fleet.kept import Kept
from wearplan.fleet.records import Asked
from wearplan.fleet.run import Means, run

ROOT = Path(__file__).parents[2]
ASKED = Asked(day=date(2026, 11, 26), since=date(2026, 11, 19))
ALONE = """
import sys, time
from datetime import date
from pathlib import Path
from wearplan.fleet.answer import answer
from wearplan.fleet.contents import contents_of
from wearplan.fleet.records import Asked
asked = Asked(day=date(2026, 11, 26), since=date(2026, 11, 19))
began = time.perf_counter()
for folder in map(Path, sys.argv[1:]):
    assert answer(str(folder), contents_of(folder), asked).state in ("answered", "no plan")
print(time.perf_counter() - began, time.process_time())
"""


def histories(top: Path, count: int) -> list[Path]:
    """Copies of the sample that stop at different rings and inspections."""
    found = []
    for number in range(count):
        folder = top / f"drive{number:02d}"
        shutil.copytree(ROOT / "sample_wheel", folder)
        text = (folder / "site.toml").read_text(encoding="utf-8")
        (folder / "site.toml").write_text(
            re.sub(r'name = "[^"]*"', f'name = "Drive {number:02d} (invented)"', text, count=1), encoding="utf-8"
        )
        rows = (folder / "advance.csv").read_text(encoding="utf-8").splitlines(keepends=True)
        (folder / "advance.csv").write_text("".join(rows[: len(rows) - 17 * number]), encoding="utf-8")
        stops = sorted((folder / "inspections").glob("*.toml"))
        for path in stops[len(stops) - number % 8 :]:
            path.unlink()
        found.append(folder)
    return found


def test_twelve_drives_take_no_longer_than_one_by_one(tmp_path: Path) -> None:
    folders, kept = histories(tmp_path, 12), Kept(tmp_path / "kept")
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-c", ALONE, *map(str, folders)], env=env, capture_output=True, text=True, check=True
    )
    alone, alone_cpu = map(float, done.stdout.split())
    began = time.perf_counter()
    lines, _ = run(folders, ASKED, kept=kept, work=timed)
    together = time.perf_counter() - began
    began = time.perf_counter()
    again, known = run(folders, ASKED, kept=kept)
    second = time.perf_counter() - began
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    cpu = sum(float(line.remarks[0]) for line in lines)
    print(f"\nCPU one by one {alone_cpu:.1f} s, in the workers {cpu:.1f} s")
    print(f"wall one by one {alone:.1f} s, together {together:.1f} s ({together / alone:.2f})")
    print(f"second run {second:.2f} s, parent {memory:.0f} MB")
    assert again == lines
    assert known == 12
    assert cpu < 1.1 * alone_cpu
    assert together < 1.1 * alone
    assert second < 5.0
    assert memory < 400


def test_a_hundred_sites_on_a_cluster_with_a_worker_killed(tmp_path: Path, cluster) -> None:
    pytest.importorskip("distributed")
    address, workers = cluster
    folders = []
    for number in range(100):
        files = texts()
        files["site.toml"] = files["site.toml"].replace("Test drive", f"Drive {number}")
        folders.append(write(tmp_path / f"d{number:03d}", files))
    killed: list[bool] = []

    def watch(words: str, share: float) -> None:
        if share > 0.5 and not killed:
            workers[0].kill()
            killed.append(True)

    began = time.perf_counter()
    lines, _ = run(folders, ASKED, means=Means(scheduler=address), progress=watch)
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"\n100 sites in {time.perf_counter() - began:.0f} s, parent {memory:.0f} MB")
    assert killed
    assert [line.name for line in lines] == [f"Drive {number}" for number in range(100)]
    assert {line.state for line in lines} == {"no plan"}  # the small drive's gauge tool breaks its cap
    here, _ = run(folders[:4], ASKED, means=Means(jobs=2))
    assert here == lines[:4]
    assert memory < 400
