"""The meeting sheet in a real browser: two sides, a phone's width, and axe-core's automated check.

Run by name, with chromium and npm at hand: ``pytest -s tests/studies/test_sheet_print.py``.
"""

from __future__ import annotations

import html
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SAMPLE = Path(__file__).resolve().parents[2] / "sample_wheel"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="needs chromium")
PHONE_PX = 390


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("sheet") / "sheet.html"
    command = [sys.executable, "-m", "wearplan.cli", "report", str(SAMPLE), "--sheet", "-o", str(path)]
    subprocess.run(command, check=True, capture_output=True)
    return path


def browse(*options: str) -> str:
    assert CHROMIUM is not None
    plain = ["--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=20000"]
    return subprocess.run([CHROMIUM, *plain, *options], capture_output=True, text=True, timeout=120).stdout


def test_two_sides_of_a4_and_under_100_kb(sheet: Path) -> None:
    printed = sheet.with_suffix(".pdf")
    browse("--no-pdf-header-footer", f"--print-to-pdf={printed}", sheet.as_uri())
    pages = len(re.findall(rb"/Type\s*/Page\b", printed.read_bytes()))
    print(f"\n{pages} pages, {sheet.stat().st_size / 1000:.1f} kB")
    assert pages == 2
    assert sheet.stat().st_size < 100_000


def test_no_sideways_scroll_at_the_width_of_a_phone(sheet: Path) -> None:
    frame = sheet.with_name("frame.html")
    frame.write_text(
        f"<body><iframe id=f src='{sheet.as_uri()}' width={PHONE_PX} height=900></iframe><script>f.onload = () => "
        "document.body.dataset.wide = f.contentDocument.documentElement.scrollWidth</script></body>",
        encoding="utf-8",
    )
    told = browse("--disable-web-security", "--allow-file-access-from-files", f"--user-data-dir={sheet.parent}/user",
                  "--dump-dom", frame.as_uri())  # fmt: skip
    wide = re.search(r'data-wide="(\d+)"', told)
    assert wide is not None, told[-300:]
    print(f"\n{wide[1]} px")
    assert int(wide[1]) <= PHONE_PX


@pytest.mark.skipif(shutil.which("npm") is None, reason="needs npm")
@pytest.mark.parametrize("width", [1000, 500])
def test_axe_finds_no_violation(sheet: Path, width: int) -> None:
    axe = sheet.parent / "node_modules" / "axe-core" / "axe.min.js"
    if not axe.exists():
        subprocess.run(["npm", "install", "--silent", "axe-core@4"], cwd=sheet.parent, check=True, capture_output=True)
    run = (
        "axe.run().then(r => document.body.dataset.axe = JSON.stringify("
        "[r.violations.map(v => v.id + ': ' + v.nodes[0].html), r.passes.length, r.incomplete.map(v => v.id)]))"
    )
    page = sheet.with_name("axe.html")
    code = f"<script>{axe.read_text(encoding='utf-8')}</script><script>{run}</script></body>"
    page.write_text(sheet.read_text(encoding="utf-8").replace("</body>", code), encoding="utf-8")
    told = re.search(r'data-axe="([^"]*)"', browse(f"--window-size={width},900", "--dump-dom", page.as_uri()))
    assert told is not None
    violations, passed, unsure = json.loads(html.unescape(told[1]))
    print(f"\n{passed} checks passed, not decided: {unsure}")
    assert violations == []
    assert passed > 20
