"""Rows of the logs at the gate: the other rows are written, what contradicts is listed, acceptance is kept."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from wearplan.cli.main import main
from wearplan.gate import ACCEPTANCE, contradicted, judge_rings, judge_word
from wearplan.site import load
from wearplan.site.records import Event, SensorWord

SAMPLE = Path(__file__).parents[2] / "sample_wheel"
NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def site():
    return load(SAMPLE).site


@pytest.mark.parametrize("cut", [0, 300, 1100])
def test_the_true_log_passes_row_by_row_gaps_and_all(site, cut):
    with_gaps = [row for row in site.rings[cut:] if row.ring % 40]
    judged = judge_rings(replace(site, rings=site.rings[:cut]), [*with_gaps, *with_gaps[-3:]], now=NOW)
    assert [one.findings for one in judged if one.findings] == []


ROWS = {
    "a ring of a month back": ({"ring": 980}, "ring-and-chainage:980"),
    "a digit too many": ({"ring": 12000}, "ring-and-chainage:12000"),
    "next year": ({"finished_at": datetime(2027, 11, 20, tzinfo=UTC)}, "future-ring:1201"),
    "last year": ({"finished_at": datetime(2025, 11, 20, tzinfo=UTC)}, "ring-and-date:1201"),
    "chainage of another place": ({"end_m": 1000.0}, "ring-and-chainage:1201"),
}


@pytest.mark.parametrize("slip", ROWS)
def test_a_wrong_ring_row_is_caught_and_the_next_true_one_passes(site, slip):
    facts, name = ROWS[slip]
    log = tuple(row for row in site.rings if row.ring != 980)
    last = log[-1]
    true = replace(last, ring=1201, end_m=last.end_m + 1.5, finished_at=last.finished_at + timedelta(hours=3))
    after = replace(true, ring=1202, end_m=true.end_m + 1.5, finished_at=true.finished_at + timedelta(hours=3))
    bad, good = judge_rings(replace(site, rings=log), [replace(true, **facts), after], now=NOW)
    assert name in {each.name for each in bad.findings}
    assert good.findings == ()


@pytest.mark.parametrize(
    ("facts", "name"),
    [
        ({"ring": 1020}, "ring-and-chainage"),
        ({"at": datetime(2027, 11, 20, tzinfo=UTC)}, "future-time"),
        ({"at": datetime(2025, 11, 20, tzinfo=UTC)}, "date-before-ring"),
        ({"ring": 1020, "chainage_m": 1710.0, "driven_m": 1530.0}, "date-after-ring"),
    ],
)
def test_a_wrong_event_or_word_is_caught(site, facts, name):
    true = {"ring": 1200, "chainage_m": 1980.0, "driven_m": 1800.0, "at": datetime(2026, 11, 20, 6, tzinfo=UTC)}
    for make in (
        lambda **said: Event(kind="boulder", **said),
        lambda **said: SensorWord(position=9, reported_mm=12.0, **said),
    ):
        assert judge_word(site, make(**true), now=NOW) == ()
        found = contradicted(judge_word(site, make(**{**true, **facts}), now=NOW))
        assert name in {each.name for each in found}


@pytest.fixture
def folder(tmp_path):
    shutil.copytree(SAMPLE, tmp_path / "site")
    return tmp_path / "site"


def test_rings_writes_the_others_lists_the_rest_and_keeps_who_accepted(folder, tmp_path, capsys):
    lines = (folder / "advance.csv").read_text(encoding="utf-8").splitlines()
    head, row = lines[0].split(","), dict(zip(lines[0].split(","), lines[-1].split(","), strict=True))
    end = float(row["end_chainage_m"])

    def text(ring, start):
        said = {"ring": ring, "start_chainage_m": f"{start}", "end_chainage_m": f"{start + 1.5}"}
        return ",".join({**row, **said}.values())

    export = tmp_path / "export.csv"
    export.write_text("\n".join([",".join(head), text("1201", end), text("1902", end + 1.5)]) + "\n", encoding="utf-8")
    count = len(load(folder).site.rings)
    assert main(["rings", str(folder), str(export), "--json"]) == 1
    out, err = capsys.readouterr()
    name = "ring-and-chainage:1902"
    assert name in [each["name"] for each in json.loads(out)["contradicted"]]
    assert name in err
    assert len(load(folder).site.rings) == count + 1
    accepting = ["--accept", name, "--because", "the rings were counted anew"]
    assert main(["rings", str(folder), str(export), *accepting]) == 2, "without who"
    assert main(["rings", str(folder), str(export), *accepting, "--by", "A. Lead"]) == 0
    site = load(folder).site
    assert len(site.rings) == count + 2
    kept = [event for event in site.events if event.kind == ACCEPTANCE]
    assert [(event.ring, name in event.note, "A. Lead" in event.note) for event in kept] == [(1902, True, True)]


def test_an_event_and_a_word_of_the_wrong_time_are_not_written(folder, capsys):
    before = {name: (folder / name).read_bytes() for name in ("events.csv", "sensors.csv") if (folder / name).exists()}
    place = next(p for p in load(folder).site.wheel.positions if p.sensor_mm)
    late = ["--ring", "1020", "--time", "2026-11-20T06:00+00:00"]
    assert main(["event", str(folder), "boulder", *late, "--json"]) == 1
    assert "date-after-ring" in [each["name"] for each in json.loads(capsys.readouterr().out)["contradicted"]]
    assert main(["sensor", str(folder), str(place.number), "line proved", *late]) == 1
    assert "date-after-ring" in capsys.readouterr().err
    assert before == {name: (folder / name).read_bytes() for name in before}
    accepting = ["--accept", "date-after-ring", "--because", "found in the bin", "--by", "B"]
    assert main(["sensor", str(folder), str(place.number), "line proved", *late, *accepting]) == 0
    assert [event.note for event in load(folder).site.events if event.kind == ACCEPTANCE] == [
        "Accepted by B: date-after-ring. Why: found in the bin"
    ]


def test_a_correction_taken_back_is_judged_by_what_then_holds(folder, capsys):
    from wearplan.site import correct_inspection

    last = load(folder).site.inspections[-1]
    wrong = correct_inspection(folder, last.id, replace(last, id="", ring=1020), "typed wrong")
    right = correct_inspection(folder, wrong.stem, replace(last, id=""), "as on paper")
    count = len(list((folder / "inspections").iterdir()))
    undo = ["log", str(folder), "--undo", right.stem, "--reason", "no"]
    assert main(undo) == 1
    assert "ring-and-chainage" in capsys.readouterr().err
    assert len(list((folder / "inspections").iterdir())) == count
