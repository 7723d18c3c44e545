"""A dask scheduler and two workers on the loopback, one of them killed half way: no site is lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from tests.fleet.worked import slow
from wearplan.fleet.records import Asked
from wearplan.fleet.run import Means, run

pytest.importorskip("distributed")
ROOT = Path(__file__).parents[2]
ASKED = Asked(day=date(2026, 11, 26), since=date(2026, 11, 19))


def started(*words: str, env: dict[str, str]) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", *words], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """The scheduler's address and its two workers."""
    env = {**os.environ, "PYTHONPATH": str(ROOT), "DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "20"}
    told = tmp_path / "scheduler.json"
    running = [
        started(
            "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
            "--scheduler-file", str(told), env=env,
        )
    ]  # fmt: skip
    try:
        for _ in range(200):
            if told.exists() and told.read_text():
                break
            time.sleep(0.05)
        address = json.loads(told.read_text())["address"]
        running += [
            started(
                "distributed.cli.dask_worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard",
                "--local-directory", str(tmp_path / str(number)), env=env,
            )
            for number in range(2)
        ]  # fmt: skip
        from distributed import Client

        with Client(address) as client:
            client.wait_for_workers(2, timeout=30)
        yield address, running[1:]
    finally:
        for process in reversed(running):
            process.kill()
            process.wait()


def test_a_worker_killed_half_way_loses_no_site(
    tmp_path: Path, cluster: tuple[str, list[subprocess.Popen[bytes]]]
) -> None:
    address, workers = cluster
    folders = []
    for number in range(16):
        folder = tmp_path / f"site{number:02d}"
        folder.mkdir()
        (folder / "site.toml").write_text("x" * (number + 1))
        folders.append(folder)
    killed: list[bool] = []

    def watch(words: str, share: float) -> None:
        if share > 0.3 and not killed:
            workers[0].kill()
            killed.append(True)

    lines, _ = run(folders, ASKED, means=Means(scheduler=address), work=slow, progress=watch)
    assert killed
    assert [line.state for line in lines] == ["answered"] * 16
    assert [line.stops for line in lines] == list(range(1, 17))
    here, _ = run(folders[:3], ASKED, means=Means(jobs=2), work=slow)
    assert lines[:3] == here
