"""A workbook of 90,000 rows and ten columns taken in: processor seconds and memory.

Run by name: ``pytest -s tests/benchmarks/test_take_speed.py``.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

ROWS, PLACES = 90_000, 120
TAKE = "import sys; from wearplan.cli.main import main; sys.exit(main(sys.argv[1:]))"


def workbook(path: Path) -> Path:
    """A list of readings of 120 places, with its ring log and layout."""
    import openpyxl

    began = datetime(2025, 3, 3)
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Measurements")
    sheet.append(["Date", "Ring", "Tool", "Wear [mm]", "Condition", "Remark", "Shift", "By", "Method", "Old serial"])
    for row in range(ROWS):
        ring, place = 20 + row // PLACES, row % PLACES
        wear = (0.01 * (row // PLACES)) % 20 + 0.5 * (place % 4)
        sheet.append([began + timedelta(hours=5 * ring), ring, place + 1, round(wear, 1), None, None, "day", "A"])
    sheet = book.create_sheet("Rings")
    sheet.append(["Ring", "Start chainage [m]", "End chainage [m]", "Finished", "Revolutions", "Thrust [kN]"])
    for ring in range(1, 1000):
        end = began + timedelta(hours=5 * ring)
        sheet.append([ring, 98.5 + 1.5 * ring, 100 + 1.5 * ring, end, 50.0, 9000.0])
    sheet = book.create_sheet("Layout")
    sheet.append(["View from the machine, 0 at 12 o'clock, clockwise"])
    sheet.append([])
    sheet.append(["Tool", "Type", "Radius [mm]", "Angle [°]", "Zone", "Wear limit [mm]"])
    for place in range(PLACES):
        sheet.append([place + 1, "disc 17", 30.0 * (place + 1), 3.0 * place, "face", 25.0])
    book.save(path)
    return path


def test_ninety_thousand_rows(tmp_path: Path) -> None:
    path = workbook(tmp_path / "long.xlsx")
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    words = [sys.executable, "-c", TAKE, "take", str(tmp_path / "site"), str(path), "--json"]
    subprocess.run(words, capture_output=True, check=False)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    seconds, mb = used.ru_utime - before, used.ru_maxrss / 1000
    print(f"\n{ROWS} rows: {seconds:.1f} processor seconds, {mb:.0f} MB")
    assert seconds < 40
    assert mb < 600
