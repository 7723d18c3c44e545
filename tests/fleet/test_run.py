"""The work of many sites shared out: what is broken, away or deadly has its line, and the others go on."""

from __future__ import annotations

import os
import time
from datetime import date
from pathlib import Path

import pytest

from wearplan.fleet.contents import contents_of, key_of, unpack
from wearplan.fleet.kept import Kept
from wearplan.fleet.records import Asked, Line
from wearplan.fleet.run import Means, NoScheduler, run

ASKED = Asked(day=date(2026, 11, 26), since=date(2026, 11, 19))


def count(folder: str, contents: dict[str, bytes], asked: Asked) -> Line:
    """Stands for the work: the line tells what came along."""
    if b"deadly" in contents["site.toml"]:
        os._exit(9)
    return Line(folder=folder, name=Path(folder).name, state="answered", stops=len(contents), headline=str(asked.day))


def once_deadly(folder: str, contents: dict[str, bytes], asked: Asked) -> Line:
    """Dies the first time; the folder named in the file remembers."""
    marker = Path(contents["site.toml"].decode().strip())
    if marker.name == "mark" and not marker.exists():
        marker.write_text("x")
        os._exit(9)
    return Line(folder=folder, name=Path(folder).name, state="answered")


def dawdle(folder: str, contents: dict[str, bytes], asked: Asked) -> Line:
    """One site never comes to an end."""
    if b"slow" in contents["site.toml"]:
        time.sleep(60)
    return Line(folder=folder, name=Path(folder).name, state="answered")


def make(top: Path, name: str, text: str = "name") -> Path:
    folder = top / name
    (folder / "ground").mkdir(parents=True)
    (folder / "site.toml").write_text(text)
    (folder / "ground" / "g.toml").write_text("x")
    (folder / ".wearplan").mkdir()
    (folder / ".wearplan" / "draft.toml").write_text("y")
    (folder / "notes.pdf").write_bytes(b"z")
    return folder


def test_what_is_shipped_is_what_the_program_reads(tmp_path: Path) -> None:
    folder = make(tmp_path, "a")
    contents = contents_of(folder)
    assert set(contents) == {"site.toml", "ground/g.toml"}
    unpack(contents, tmp_path / "b")
    assert contents_of(tmp_path / "b") == contents
    with pytest.raises(OSError, match="No such file"):
        contents_of(tmp_path / "nowhere")


def test_the_key_changes_with_any_byte_name_setting_or_day() -> None:
    one = {"site.toml": b"a", "ground/g.toml": b"b"}
    key = key_of(one, ASKED)
    assert key == key_of(dict(reversed(one.items())), ASKED)
    others = [{**one, "site.toml": b"c"}, {"site.toml": b"a", "ground/h.toml": b"b"}, {"site.toml": b"ab"}]
    later = Asked(day=date(2026, 11, 27), since=ASKED.since)
    assert len({key, *(key_of(other, ASKED) for other in others), key_of(one, later)}) == 5
    with pytest.raises(ValueError, match="cannot be told"):
        Asked(day=ASKED.since, since=ASKED.day)


def test_lines_come_in_the_order_asked_and_what_is_away_has_its_line(tmp_path: Path) -> None:
    folders = [make(tmp_path, name) for name in ("c", "a", "b")]
    told: list[float] = []
    lines, known = run(
        [folders[0], tmp_path / "gone", *folders[1:]],
        ASKED,
        means=Means(jobs=2),
        work=count,
        progress=lambda _, share: told.append(share),
    )
    assert [line.name for line in lines] == ["c", "gone", "a", "b"]
    assert [line.state for line in lines] == ["answered", "away", "answered", "answered"]
    assert lines[0].stops == 2
    assert known == 0
    assert told[-1] == 1.0


def test_a_second_run_works_out_only_what_changed(tmp_path: Path) -> None:
    folders, kept = [make(tmp_path, name) for name in "abc"], Kept(tmp_path / "kept")
    first, _ = run(folders, ASKED, work=count, kept=kept)
    (folders[1] / "ground" / "h.toml").write_text("more")
    second, known = run(folders, ASKED, work=count, kept=kept)
    assert known == 2
    assert (second[0], second[2]) == (first[0], first[2])
    assert second[1].stops == 3
    for path in (tmp_path / "kept").iterdir():
        path.write_text("torn {")
    assert run(folders, ASKED, work=count, kept=kept)[1] == 0


def test_what_nobody_asked_for_in_a_long_time_is_dropped(tmp_path: Path) -> None:
    kept = Kept(tmp_path / "kept")
    kept.write("old", Line(folder="a", name="a", state="answered"))
    kept.write("failed", Line(folder="a", name="a", state="failed"))
    assert kept.read("old") is not None
    assert kept.read("failed") is None
    long_ago = time.time() - 100 * 86_400
    os.utime(tmp_path / "kept" / "old.json", (long_ago, long_ago))
    kept.forget_old()
    assert kept.read("old") is None


def test_a_site_that_kills_its_worker_has_its_line_and_no_other_is_lost(tmp_path: Path) -> None:
    folders = [make(tmp_path, "a"), make(tmp_path, "killer", "deadly"), make(tmp_path, "b"), make(tmp_path, "c")]
    lines, _ = run(folders, ASKED, means=Means(jobs=2), work=count)
    assert [line.state for line in lines] == ["answered", "failed", "answered", "answered"]
    assert "died" in lines[1].why


def test_a_worker_that_dies_once_has_its_site_done_again(tmp_path: Path) -> None:
    folders = [make(tmp_path, "a"), make(tmp_path, "b", str(tmp_path / "mark"))]
    lines, _ = run(folders, ASKED, means=Means(jobs=2), work=once_deadly)
    assert [line.state for line in lines] == ["answered", "answered"]


def test_a_slow_site_is_given_up_and_the_others_have_their_lines(tmp_path: Path) -> None:
    folders = [make(tmp_path, "a"), make(tmp_path, "s", "slow"), make(tmp_path, "b"), make(tmp_path, "c")]
    lines, _ = run(folders, ASKED, means=Means(jobs=2, patience_s=2.0), work=dawdle)
    assert [line.state for line in lines] == ["answered", "stopped", "answered", "answered"]
    assert "ask again" in lines[1].why


def test_a_scheduler_that_is_not_there_is_said(tmp_path: Path) -> None:
    pytest.importorskip("distributed")
    with pytest.raises(NoScheduler, match=r"tcp://127\.0\.0\.1:9"):
        run([make(tmp_path, "a")], ASKED, means=Means(scheduler="tcp://127.0.0.1:9", wait_s=0.5), work=count)
