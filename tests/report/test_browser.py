"""The page in a browser without a network, where one is installed: printed, on a phone, asking for nothing."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

from wearplan.report.paper.page import page_html

BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))), None)
pytestmark = pytest.mark.skipif(BROWSER is None, reason="no browser is installed")
PROBE = """
<script>
addEventListener("load", () => {
  const wide = [...document.querySelectorAll("body *")].filter(
    e => !e.closest(".wide, figure.broad, svg, thead") && e.getBoundingClientRect().right > innerWidth + 1);
  document.title = JSON.stringify({
    width: innerWidth, page: document.documentElement.scrollWidth, wide: wide.map(e => e.tagName + "." + e.className),
    fetched: performance.getEntriesByType("resource").map(e => e.name),
    empty: [...document.querySelectorAll("figure")].filter(e => e.getBoundingClientRect().height < 60).length,
  });
});
</script>
"""


def browse(*words: str, profile: Path) -> str:
    """Run the browser without a window and with every outside name pointing nowhere."""
    command = [
        str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage",
        "--host-resolver-rules=MAP * ~NOTFOUND", f"--user-data-dir={profile}", *words,
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return done.stdout


@pytest.fixture(scope="module")
def page(answers, tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("page") / "page.html"
    path.write_text(page_html(answers), encoding="utf-8")
    return path


def test_it_prints_to_pages(page, tmp_path):
    printed = tmp_path / "page.pdf"
    browse("--no-pdf-header-footer", f"--print-to-pdf={printed}", page.as_uri(), profile=tmp_path / "profile")
    data = printed.read_bytes()
    assert data.startswith(b"%PDF")
    sheets = len(re.findall(rb"/Type\s*/Page[^s]", data))
    assert 4 <= sheets <= 30


@pytest.mark.parametrize("width", [390, 1200])
def test_nothing_sticks_out_on_a_phone_and_nothing_is_fetched(page, tmp_path, width):
    """The probe's script is the test's own: the page itself has none. The frame gives a phone's width."""
    import html
    import json

    probed = tmp_path / "probed.html"
    probed.write_text(page.read_text(encoding="utf-8").replace("</head>", PROBE + "</head>"), encoding="utf-8")
    frame = tmp_path / "frame.html"
    frame.write_text(
        f'<!doctype html><body style="margin:0"><iframe id="f" src="probed.html" style="width:{width}px;height:900px;'
        'border:0"></iframe><script>document.getElementById("f").onload = () => setTimeout(() => {'
        "document.body.dataset.told = document.getElementById('f').contentDocument.title;}, 50)</script>",
        encoding="utf-8",
    )
    out = browse(
        "--allow-file-access-from-files",
        "--virtual-time-budget=4000",
        "--window-size=1300,1000",
        "--dump-dom",
        frame.as_uri(),
        profile=tmp_path / "profile",
    )
    told = json.loads(html.unescape(re.search(r'data-told="([^"]*)"', out)[1]))
    assert told["width"] == width
    assert told["page"] <= width
    assert told["wide"] == []
    assert told["fetched"] == []
    assert told["empty"] == 0
