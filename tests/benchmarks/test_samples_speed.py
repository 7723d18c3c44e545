"""Two million samples, some 23 days of a row a second, become rings within 20 s and 1 GB."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from tests.site.machine import log_lines, simulated

RINGS = 667
PROGRAM = """
import resource, sys, time
from pathlib import Path
from wearplan.site.records import Drive
from wearplan.site.exports.mapping import MappingFile, SampleColumns
from wearplan.site.exports.samples import read_samples
began = time.perf_counter()
mapping = MappingFile(samples=SampleColumns(
    time="Time", ring="Ring", chainage_m="Chainage [m]", rotation_rpm="Rotation [rpm]", thrust_kn="Thrust [MN]"))
read = read_samples(Path(sys.argv[1]), mapping, Drive(start_chainage_m=120.0, end_chainage_m=3360.0, ring_length_m=1.5))
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(len(read.rows), len(read.faults), time.perf_counter() - began, time.process_time(), peak)
"""


@pytest.mark.parametrize("bad_every", [0, 50])
def test_two_million_samples(tmp_path: Path, bad_every: int) -> None:
    """``bad_every``: so often a cell is no number, which sends its block through the slow reader."""
    arrays, _ = simulated(RINGS)
    text = log_lines(arrays, arrays["ring"] > 0, decimal=",", separator=";")
    if bad_every:
        lines = text.split("\n")
        for at in range(bad_every, len(lines) - 1, bad_every):
            cells = lines[at].split(";")
            lines[at] = ";".join([*cells[:-1], "---"])
        text = "\n".join(lines)
    path = tmp_path / "samples.csv"
    path.write_text(text)
    del text
    done = subprocess.run([sys.executable, "-c", PROGRAM, str(path)], capture_output=True, text=True, check=True)
    rings, faults, took, busy, peak_mb = (float(word) for word in done.stdout.split())
    size_mb = path.stat().st_size / 1e6
    print(f"{len(arrays['ring'])} rows, {size_mb:.0f} MB: {took:.1f} s ({busy:.1f} s of work), {peak_mb:.0f} MB")
    assert (rings, faults) == (RINGS, 0)
    assert took < 20
    assert peak_mb < 1000
