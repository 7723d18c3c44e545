"""Two copies of one folder: by git without a conflict, by stick with the merge command; what contradicts is left."""

from __future__ import annotations

import shutil
import subprocess
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.site import small_site
from wearplan.cli.codes import Exit
from wearplan.site import append_event, append_rings, append_sensor_word, load, new_folder, write_inspection
from wearplan.site.records import Event, RingRow, SensorWord, Site

NOTHING_ELSE: dict[str, Any] = {"fittings": (), "structure": (), "corrects": None, "reason": None}


def site_of(folder: Path) -> Site:
    site = load(folder).site
    assert site is not None
    return site


def night(folder: Path, *, event: str, ring: int, stop: str, sensor: str) -> None:
    """What one shift adds: an event, the next ring, a stop, a sensor's word."""
    site = site_of(folder)
    last, base = site.rings[-1], site.inspections[-1]
    assert last.end_m is not None
    length = site.drive.ring_length_m
    at = site.drive.chainage_m(last.end_m)
    append_event(folder, Event(chainage_m=at, driven_m=last.end_m, ring=None, at=None, kind=event))
    ends = [last.end_m + (ring - 1) * length, last.end_m + ring * length]
    row = RingRow(
        ring=last.ring + ring, start_chainage_m=round(site.drive.chainage_m(ends[0]), 3),
        end_chainage_m=round(site.drive.chainage_m(ends[1]), 3), start_m=ends[0], end_m=ends[1],
        revolutions_boring=last.revolutions_boring, revolutions_idle=last.revolutions_idle,
    )  # fmt: skip
    append_rings(folder, [row])
    number = next(place.number for place in site.wheel.positions if place.sensor_mm)
    told = datetime.fromisoformat(sensor)
    word = SensorWord(position=number, chainage_m=at, driven_m=last.end_m, ring=None, at=told, reported_mm=None)
    append_sensor_word(folder, word)
    began = (last.finished_at or base.started_at) + timedelta(hours=ring)
    readings = tuple(replace(one, serial=None) for one in base.measurements[:1])
    record = replace(base, id=stop, number=None, ring=last.ring, chainage_m=round(at, 3), driven_m=last.end_m)
    write_inspection(folder, replace(record, started_at=began, ended_at=None, measurements=readings, **NOTHING_ELSE))


@pytest.fixture
def two(tmp_path: Path) -> tuple[Path, Path]:
    mine = small_site.write(tmp_path / "mine", dict(small_site.texts()))
    fresh = new_folder(tmp_path / "fresh")[0].parent
    shutil.copy(fresh / ".gitattributes", mine / ".gitattributes")
    return mine, tmp_path / "theirs"


def git(folder: Path, *words: str) -> str:
    whole = ["git", "-c", "user.name=t", "-c", "user.email=t@example.org", "-C", str(folder), *words]
    done = subprocess.run(whole, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.skipif(shutil.which("git") is None, reason="git is not installed")
def test_two_clones_that_both_appended_merge_without_conflict(two: tuple[Path, Path]) -> None:
    mine, theirs = two
    git(mine, "init", "-q", "-b", "main")
    git(mine, "add", "-A")
    git(mine, "commit", "-qm", "as it was")
    git(mine.parent, "clone", "-q", str(mine), str(theirs))
    before = site_of(mine)
    night(mine, event="boulder", ring=1, stop="mine", sensor="2026-01-02T06:00:00+00:00")
    night(theirs, event="steel", ring=2, stop="theirs", sensor="2026-01-03T06:00:00+00:00")
    for folder in two:
        git(folder, "add", "-A")
        git(folder, "commit", "-qm", "the night")
    git(mine, "pull", "-q", "--no-rebase", "--no-edit", str(theirs), "main")
    site = site_of(mine)
    assert len(site.events) == len(before.events) + 2
    assert len(site.rings) == len(before.rings) + 2
    assert len(site.sensor_words) == len(before.sensor_words) + 2
    assert {"mine", "theirs"} <= {one.id for one in site.inspections}
    assert not [fault for fault in site.faults if fault.forbids]


def test_merge_takes_what_is_new_and_nothing_twice(two: tuple[Path, Path], call) -> None:
    mine, theirs = two
    shutil.copytree(mine, theirs)
    night(theirs, event="steel", ring=1, stop="theirs", sensor="2026-01-03T06:00:00+00:00")
    code, out, _ = call("merge", mine, theirs, "--yes")
    assert code == Exit.DONE, out
    assert "1 inspection, 1 ring row, 1 sensor word, 1 event" in out
    one, other = site_of(mine), site_of(theirs)
    assert [row.ring for row in one.rings] == [row.ring for row in other.rings]
    assert [each.id for each in one.inspections] == [each.id for each in other.inspections]
    assert len(one.events) == len(other.events)
    code, out, _ = call("merge", mine, theirs, "--yes")
    assert code == Exit.DONE
    assert "nothing new" in out


def test_what_contradicts_is_listed_and_left(two: tuple[Path, Path], call) -> None:
    mine, theirs = two
    shutil.copytree(mine, theirs)
    base = site_of(mine).inspections[-1]
    wrong = replace(base, id="wrong", ring=base.ring - 150, started_at=base.started_at + timedelta(days=1))
    write_inspection(theirs, replace(wrong, ended_at=None, **NOTHING_ELSE))
    code, out, _ = call("merge", mine, theirs, "--yes")
    assert code == Exit.NO
    assert "contradicted: inspection wrong" in out
    assert not (mine / "inspections" / "wrong.toml").exists()


def test_another_drive_is_refused(two: tuple[Path, Path], call) -> None:
    mine, theirs = two
    shutil.copytree(mine, theirs)
    text = (theirs / "site.toml").read_text(encoding="utf-8")
    (theirs / "site.toml").write_text(text.replace("Test drive", "Other drive"), encoding="utf-8")
    code, _, err = call("merge", mine, theirs, "--yes")
    assert code == Exit.USAGE
    assert "another drive" in err


@pytest.mark.parametrize("name", ["stops.toml", "events.csv", "advance.csv"])
def test_marks_of_a_merge_left_in_a_file_are_named_as_such(tmp_path: Path, name: str) -> None:
    text = small_site.texts()[name].rstrip("\n").split("\n")
    marked = [*text[:-1], "<<<<<<< HEAD", text[-1], "=======", text[-1], ">>>>>>> theirs", ""]
    files = dict(small_site.texts()) | {name: "\n".join(marked)}
    faults = load(small_site.write(tmp_path, files)).faults
    named = [fault for fault in faults if fault.code == "merge-marks"]
    assert len(named) == 1
    assert named[0].file == name
    assert named[0].line == len(text)
