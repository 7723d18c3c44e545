"""'Do we go on 96 m to the next window?': one answer, the same in the terminal, as JSON and in the work pack."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import pytest

from wearplan.cli.commands import plan as command

HERE, NEXT = "north block", "brook block"
WINDOW = """
[[window]]
from_chainage_m = {low}
to_chainage_m = {high}
name = "{name}"
kind = "treated block"
mode = "compressed air"
pressure_bar = 1.1
pressure_source = "face stability note, invented"
setup_hours = 18.0
fixed_cost = 0.0
"""
RIVER = '\n[[keep_out]]\nfrom_chainage_m = 2094.0\nto_chainage_m = 2199.0\nreason = "below the small river"\n'


@pytest.fixture
def folder(tmp_path: Path, sample: Path) -> Path:
    """The sample drive with two windows 96 m apart before a small river, and none below it."""
    copy = tmp_path / "site"
    shutil.copytree(sample, copy)
    path = copy / "stops.toml"
    head, *blocks = re.split(r"(?m)^(?=\[\[)", path.read_text(encoding="utf-8"))

    def near(block: str) -> bool:
        at = re.search(r"from_chainage_m = ([0-9.]+)", block)
        return block.startswith("[[window]]") and at is not None and 1980.0 < float(at[1]) < 2200.0

    kept = "".join(block for block in blocks if not near(block))
    new = WINDOW.format(low=1989.0, high=1992.0, name=HERE) + WINDOW.format(low=2085.0, high=2088.0, name=NEXT)
    path.write_text(head + kept + new + RIVER, encoding="utf-8")
    return copy


def test_go_on_to_the_next_window(folder: Path, call, monkeypatch, tmp_path: Path) -> None:
    monkeypatch.setenv("COLUMNS", "220")
    asked = command._wishes
    small = {"tradeoff": False, "comparison": False, "max_candidates": 30}
    monkeypatch.setattr(command, "_wishes", lambda *given: replace(asked(*given), **small))
    words = ("plan", folder, "--force", "1989")
    code, out, err = call(*words, "--json", "--pack", tmp_path / "pack", "--read-by", "A. Reader")
    assert code in (0, 4), err
    body = json.loads(out)
    now, later = body["deferral"][0], next(row for row in body["deferral"] if row["window"] == NEXT)
    assert (body["stops"][0]["window"], now["window"]) == (HERE, HERE)
    assert (now["extra_cost"], now["extra_entries"]) == (0.0, 0)
    assert later["ahead_m"] == pytest.approx(96.0, abs=3.0)
    assert later["gauge_over_damage_probability"] >= now["gauge_over_damage_probability"]
    assert later["over_limit_probability"] > now["over_limit_probability"]
    last = next(row for row in body["last_stops"] if row["window"] == NEXT)
    assert "small river" in last["because"]

    again, text, _ = call(*words)
    assert again == code
    part = text.split("If the first proposed stop is passed")[1]
    pack = (tmp_path / "pack" / "pack.md").read_text(encoding="utf-8")
    page = (tmp_path / "pack" / "pack.html").read_text(encoding="utf-8")
    for row in body["deferral"]:
        window = row["window"]
        # A saving that only a broken rule allows is not told.
        told = ["—" if row["breaks"] and row["extra_cost"] < 0 else _money(row["extra_cost"])]
        told += [_percent(row[f"{key}_probability"]) for key in ("over_limit", "over_damage", "gauge_over_damage")]
        told.append(str(row["extra_entries"]))
        (line,) = (x for x in part.splitlines() if f"  {window}  " in x and len(_cells(x, r"\s{2,}")) > 6)
        assert _cells(line, r"\s{2,}")[2:7] == told
        (line,) = (x for x in pack.splitlines() if x.startswith("|") and f"| {window} |" in x and x.count("|") > 9)
        assert _cells(line, r"\s*\|\s*")[2:7] == told
        (cells,) = (
            x for x in re.findall(r"(?s)<tr[^>]*>(.*?)</tr>", page) if f">{window}<" in x and x.count("<td") > 8
        )
        plain = [re.sub(r"<[^>]+>", "", x) for x in re.findall(r"(?s)<td[^>]*>.*?</td>", cells)]
        assert [_plain(x) for x in plain[2:7]] == told
    for shown in (" ".join(text.split()), pack, page):
        assert f"{NEXT} (2+0" in shown
        assert "is the last place to stop before" in shown
        assert "below the small river" in shown


def _cells(line: str, between: str) -> list[str]:
    return [_plain(cell) for cell in re.split(between, line.strip()) if cell]


def _plain(text: str) -> str:
    return re.sub(r"\s", " ", text.replace("&lt;", "<").replace("&gt;", ">").replace("\\", "")).strip()


def _money(value: float) -> str:
    return f"{round(value):,}".replace(",", " ")


def _percent(share: float) -> str:
    if 0 < share < 0.005:
        return "< 1 %"
    if share >= 0.995:
        return "> 99 %"
    return f"{round(100 * share)} %"
