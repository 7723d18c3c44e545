"""Time to read a folder: ``python -m tests.benchmarks.site_load``.

Wanted: 1,200 rings and 25 inspections of 100 places in under 0.5 s, 200 inspections of 300 places in under 4 s.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.site.small_site import HEADER, WHEEL, ring_line, texts, write

_CODE = """
import sys, time, resource
start, worked = time.perf_counter(), time.process_time()
from wearplan.site import load
loaded = load(sys.argv[1])
seconds, worked = time.perf_counter() - start, time.process_time() - worked
assert loaded.site is not None and not any(fault.forbids for fault in loaded.faults), loaded.faults[:3]
places = sum(len(one.measurements) for one in loaded.site.inspections)
mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(f"{len(loaded.site.rings)} rings, {len(loaded.site.inspections)} inspections, {places} readings: "
      f"{seconds:.2f} s ({worked:.2f} s of work), imports included, {mb:.0f} MB")
"""


def big_folder(folder: Path, *, rings: int, inspections: int, places: int) -> Path:
    """A drive of so many rings, each inspection reading every place and changing a third of them."""
    files = texts()
    files = {name: text for name, text in files.items() if "insp" not in name and name[:4] not in ("sens", "even")}
    end_m = 100.0 + 1.5 * rings + 100.0
    files["site.toml"] = files["site.toml"].replace("400.0", f"{end_m}")
    files["ground/0001-tender.toml"] = files["ground/0001-tender.toml"].replace("400.0", f"{end_m}")
    wheel = WHEEL[: WHEEL.index("[[position]]")]
    for number in range(1, places + 1):
        wheel += (
            f'[[position]]\nnumber = {number}\ntool_type = "disc-17"\ntrack_radius_mm = {3400 * number / places:.1f}\n'
            f'angle_deg = {number * 37 % 360}.0\nzone = "face"\n\n'
        )
    files["wheel.toml"] = wheel
    files["advance.csv"] = "\n".join([HEADER, *(ring_line(ring) for ring in range(1, rings + 1))]) + "\n"
    for at in range(inspections):
        ring = (at + 1) * rings // (inspections + 1)
        name = f"2025{at:04d}T0640-aaaa"
        text = (
            f'id = "{name}"\nring = {ring}\nchainage_m = {100 + 1.5 * ring}\n'
            'started_at = 2025-11-09T22:10:00+01:00\nmode = "free air"\n'
        )
        for number in range(1, places + 1):
            text += f'\n[[measurement]]\nposition = {number}\nwear_mm = {at}.5\nmethod = "gauge"\ncondition = "even"\n'
        for number in range(1, places + 1, 3):
            text += f'\n[[fitting]]\nposition = {number}\naction = "turn"\nreason = "preventive"\n'
        files[f"inspections/{name}.toml"] = text
    return write(folder, files)


def main() -> None:
    for rings, inspections, places in ((1200, 25, 100), (2000, 200, 300)):
        with tempfile.TemporaryDirectory() as name:
            big_folder(Path(name), rings=rings, inspections=inspections, places=places)
            subprocess.run([sys.executable, "-c", _CODE, name], check=True)


if __name__ == "__main__":
    main()
