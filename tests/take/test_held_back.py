"""What a take brings passes the gate: what the folder contradicts is listed and held back, the rest is written."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from tests.take import office
from tests.take.test_layouts import LOG
from tests.take.test_writing import body, taken, workbook  # noqa: F401
from wearplan.gate import ACCEPTANCE
from wearplan.site import load
from wearplan.take.keep.holding import Accepted, Gate

pytest.importorskip("openpyxl")
SAMPLE = Path(__file__).parents[2] / "sample_wheel"
NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)


def test_a_slip_among_stops_is_held_back_and_the_true_ones_after_it_pass() -> None:
    site = load(SAMPLE).site
    assert site is not None
    *earlier, one, two, three = site.inspections
    slip = replace(two, ring=two.ring - 180)
    gate = Gate(replace(site, inspections=tuple(earlier)), NOW)
    assert [gate.stop(each) is not None for each in (one, slip, three)] == [True, False, True]
    name = f"ring-and-chainage@{slip.ring}"
    assert name in {each.name for each in gate.held}
    names = [each.name for each in gate.held]
    said = Accepted(who="A", why=dict.fromkeys(names, "rings counted anew"))
    kept = Gate(replace(site, inspections=tuple(earlier)), NOW, said).stop(slip)
    assert kept is not None
    assert name in (kept.note or "")
    assert "rings counted anew" in (kept.note or "")


@pytest.mark.usefixtures("taken")
def test_rings_that_contradict_are_listed_and_the_others_written(tmp_path, capsys) -> None:
    site = tmp_path / "site"
    last, before = LOG[-1], LOG[-2]
    step = [b - a if isinstance(a, int | float) else None for a, b in zip(before, last, strict=True)]

    def later(number: int, ring: int | None = None) -> list[object]:
        row = [a + number * d if d is not None else a for a, d in zip(last, step, strict=True)]
        return [ring if ring is not None else row[0], *row[1:]]

    path = office.save(tmp_path / "log.xlsx", {"Log": [*LOG, later(1), later(2, ring=1860), later(3)]})
    count = len(load(site).site.rings)
    code, said = body(capsys, "take", str(site), str(path), "--yes")
    names = [each["name"] for each in said["contradicted"]]
    assert (code, names) == (1, ["ring-and-chainage:1860"])
    assert len(load(site).site.rings) == count + 2
    accepting = ["--accept", names[0], "--because", "new numbers", "--by", "A. Lead"]
    assert body(capsys, "take", str(site), str(path), "--yes", *accepting)[0] == 0
    loaded = load(site).site
    assert len(loaded.rings) == count + 3
    assert ["A. Lead" in event.note for event in loaded.events if event.kind == ACCEPTANCE] == [True]


def test_a_first_take_is_judged_as_well(tmp_path, capsys) -> None:
    from tests.take.test_layouts import ENGLISH, SAID, matrix_down
    from tests.take.test_writing import ANSWERS, TYPES

    wrong = [1860, *LOG[-2][1:]]
    rows = [["Wear, used, radial, mm"], *matrix_down()]
    sheets = {"Layout": [*SAID, *ENGLISH], "Types": TYPES, "Log": [*LOG[:-2], wrong, LOG[-1]], "Wear": rows}
    path = office.save(tmp_path / "office.xlsx", sheets)
    (tmp_path / "answers.toml").write_text(ANSWERS)
    site = tmp_path / "new"
    answers = str(tmp_path / "answers.toml")
    code, said = body(capsys, "new", str(site), "--from", str(path), "--mapping", answers, "--yes")
    assert (code, [each["name"] for each in said["contradicted"]]) == (1, ["ring-and-chainage:1860"])
    loaded = load(site).site
    assert LOG[-1][0] in {row.ring for row in loaded.rings}
    assert 1860 not in {row.ring for row in loaded.rings}
    assert len(loaded.inspections) == 4


def test_an_open_price_holds_no_stop_with_a_change_back(tmp_path, capsys) -> None:
    from tests.take.test_layouts import ENGLISH, SAID, matrix_down
    from tests.take.test_writing import ANSWERS, TYPES

    unpriced = [row[:4] for row in TYPES]
    changes: list[list[object]] = [["Date", "Ring", "Position", "Serial removed", "Serial fitted", "Reason"]]
    for (place, stop), (old, new) in office.CHANGED.items():
        ring = office.RINGS[stop]
        changes.append([office.ring_time(ring), ring, office.NAMES[place - 1], old, new, "worn"])
    rows = [["Wear, used, radial, mm"], *matrix_down()]
    sheets = {"Layout": [*SAID, *ENGLISH], "Types": unpriced, "Log": LOG, "Wear": rows, "Changes": changes}
    path = office.save(tmp_path / "office.xlsx", sheets)
    (tmp_path / "answers.toml").write_text(ANSWERS)
    site = tmp_path / "new"
    answers = str(tmp_path / "answers.toml")
    code, said = body(capsys, "new", str(site), "--from", str(path), "--mapping", answers, "--yes")
    assert 'price = "?"' in (site / "wheel.toml").read_text()
    assert (code, said["contradicted"]) == (0, [])
    records = [each.read_text() for each in (site / "inspections").glob("*.toml")]
    assert len(records) == 4
    assert sum("[[fitting]]" in each for each in records) == 1
