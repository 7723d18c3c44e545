"""Nothing that was acknowledged is ever lost, doubled or torn: kills, full and read-only disks, renamed folders."""

from __future__ import annotations

import contextlib
import dataclasses
import os
import random
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from tests.site.crew import NOW, child, in_child, inspection, killed_while, loaded, ring, small_site
from tests.site.small_site import ADVANCE
from wearplan.site.records import Event, SensorWord
from wearplan.site.records.naming import new_inspection_id
from wearplan.site.write.appending import append_event, append_rings, append_sensor_word
from wearplan.site.write.drafts import Draft, load_drafts, save_draft
from wearplan.site.write.durable import NotWritten
from wearplan.site.write.edits import Put, edit_toml, see
from wearplan.site.write.writing import correct_inspection, write_inspection

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs processes that can be forked")
LAST_RING = 200  # of the small drive


def kill_and_look(root: Path, kills: int, seed: int, *, longest_s: float = 0.06) -> Counter[str]:
    """Kill a busy writer again and again; after each kill everything promised must be there and nothing be faulty.

    Returns
    -------
    Counter
        How many facts of each kind had been acknowledged.
    """
    rng = random.Random(seed)
    acknowledged: Counter[str] = Counter()
    next_ring = 61
    for turn in range(kills):
        if turn % 20 == 0 or next_ring > LAST_RING - 40:  # the drive must not come to its end under the writer
            folder = small_site(root / f"site-{turn}")
            usual = loaded(folder).faults
            promised: dict[str, set[str]] = {"inspection": set(), "ring": set(), "draft": set(), "limit": {"40.0"}}
            next_ring = 61

        def work(tell, folder=folder, first=next_ring):
            seen = see(folder / "wheel.toml")
            number = first
            while True:
                for _ in range(5):
                    found = inspection()
                    write_inspection(folder, found)
                    tell(f"inspection={found.id}")
                append_rings(folder, [ring(number)])
                tell(f"ring={number}")
                draft = Draft(id=f"draft-{number}", what="inspection", who="x", begun_at=NOW)
                for key in range(3):
                    draft = save_draft(folder, dataclasses.replace(draft, values={"typed": key}), now=NOW)
                tell(f"draft={draft.id}")
                limit = 40.0 + number
                seen = edit_toml(
                    seen.path, [Put(("tool_type", {"code": "scraper"}, "wear_limit_mm"), limit)], seen
                ).seen
                tell(f"limit={limit}")
                number += 1

        words = killed_while(work, rng=rng, longest_s=longest_s)
        for word in words:
            kind, value = word.split("=")
            acknowledged[kind] += 1
            promised[kind] = {value} if kind == "limit" else promised[kind] | {value}
        found = loaded(folder)
        # the writer tells of one stop over and over, which is named and is no fault of writing
        assert [fault for fault in found.faults if fault.code != "stop-told-twice"] == list(usual)
        site = found.site
        assert promised["inspection"] <= {one.id for one in site.inspections}
        numbers = [row.ring for row in site.rings]
        assert {int(number) for number in promised["ring"]} <= set(numbers)
        assert len(numbers) == len(set(numbers))
        assert promised["draft"] <= {draft.id for draft in load_drafts(folder) if draft.values == {"typed": 2}}
        limit = site.wheel.tool_type("scraper").wear_limit_mm
        assert limit >= float(max(promised["limit"], key=float))
        promised["limit"] = {str(limit)}
        next_ring = max(numbers) + 1
    return acknowledged


def test_nothing_acknowledged_is_lost_by_kill_9(tmp_path: Path) -> None:
    acknowledged = kill_and_look(tmp_path, kills=30, seed=random.randrange(10**6))
    assert acknowledged.total() >= 30


CALLS = ("open", "write", "fsync", "link", "unlink", "rename", "replace", "close")


def die_at(step: int) -> None:
    """Let this process die at its so many-th call of the system; a write then leaves half of its bytes behind."""
    left = [step]

    def dying(real, name):
        def call(*args, **kwargs):
            left[0] -= 1
            if left[0] == 0:
                if name == "write":
                    real(args[0], bytes(args[1])[: len(args[1]) // 2])
                os._exit(0)
            return real(*args, **kwargs)

        return call

    for name in CALLS:
        setattr(os, name, dying(getattr(os, name), name))


def test_death_at_every_single_step_of_every_write(tmp_path: Path) -> None:
    told: list[str] = []
    for step in range(1, 200):
        folder = small_site(tmp_path / f"{step}")
        usual = loaded(folder).faults
        new, seen = inspection(), see(folder / "wheel.toml")
        draft = Draft(id="d-1", what="inspection", who="x", begun_at=NOW, values={"1": "9"})
        steps = {
            "inspection": lambda: write_inspection(folder, new),  # noqa: B023
            "ring": lambda: append_rings(folder, [ring(61)]),  # noqa: B023
            "draft": lambda: save_draft(folder, draft, now=NOW),  # noqa: B023
            "limit": lambda: edit_toml(seen.path, [Put(("wheel", "bore_diameter_m"), 7.01)], seen),  # noqa: B023
        }
        reading, writing = os.pipe()
        process = os.fork()
        if process == 0:
            tell = os.write
            die_at(step)
            for name, work in steps.items():
                work()
                tell(writing, f"{name} ".encode())
            os._exit(0)
        os.close(writing)
        os.waitpid(process, 0)
        told = os.read(reading, 1000).decode().split()
        os.close(reading)
        found = loaded(folder)
        torn = [fault for fault in found.faults if fault.file == "advance.csv"]
        assert not torn or "ring" not in told  # a row torn before it was promised is named, and forbids nothing
        assert not any(fault.forbids for fault in torn)
        assert [fault for fault in found.faults if fault.file != "advance.csv"] == list(usual)
        assert "inspection" not in told or new.id in {one.id for one in found.site.inspections}
        assert "ring" not in told or found.site.rings[-1].ring == 61
        assert "draft" not in told or load_drafts(folder)[0].values == {"1": "9"}
        assert "limit" not in told or found.site.wheel.bore_diameter_m == 7.01
        for work in list(steps.values())[:3]:  # what was begun can be done again, and is then there once
            work()
        found = loaded(folder)
        assert [one.id for one in found.site.inspections].count(new.id) == 1
        assert sum(row.ring == 61 and not row.damaged for row in found.site.rings) == 1
        if len(told) == len(steps):
            break
        shutil.rmtree(folder)
    assert len(told) == len(steps)
    assert step > 30


def test_eight_processes_write_fifty_inspections_each(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    program = (
        "import sys; from pathlib import Path; from tests.site.crew import inspection; "
        "from wearplan.site.write.writing import write_inspection\n"
        "for _ in range(50): print(write_inspection(Path(sys.argv[1]), inspection()).stem)"
    )
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", program, str(folder)], stdout=subprocess.PIPE, cwd=Path.cwd(), text=True
        )
        for _ in range(8)
    ]
    told = [name for writer in writers for name in writer.communicate(timeout=120)[0].split()]
    assert [writer.returncode for writer in writers] == [0] * 8
    assert len(told) == len(set(told)) == 400
    names = [one.id for one in loaded(folder).site.inspections]
    assert sorted(names) == sorted([*told, "20251110T0640-aaaa", "20251118T0640-bbbb"])
    assert not list((folder / "inspections").glob(".*"))


def test_four_processes_append_at_once(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")

    def append(tell, first):
        for number in range(first, first + 40, 4):
            append_rings(folder, [ring(number)])
        tell("done")

    with contextlib.ExitStack() as stack:
        pipes = [stack.enter_context(child(lambda tell, at=at: append(tell, 61 + at)))[1] for at in range(4)]
        assert [os.read(pipe, 10) for pipe in pipes] == [b"done\n"] * 4
    found = loaded(folder).site.rings
    assert sorted(row.ring for row in found) == list(range(1, 101))
    assert not any(row.damaged for row in found)


def test_two_copies_merge(tmp_path: Path) -> None:
    first = small_site(tmp_path / "first")
    second = tmp_path / "second"
    shutil.copytree(first, second)
    for folder in (first, second):
        for number in range(2):
            write_inspection(folder, inspection(ring=50 + number))
    corrected = correct_inspection(
        first, "20251110T0640-aaaa", inspection("", ring=20), "typed at the wrong place", now=NOW
    )
    other = correct_inspection(second, "20251118T0640-bbbb", inspection("", ring=40), "other shift's sheet", now=NOW)
    shutil.copytree(second, first, dirs_exist_ok=True)
    site = loaded(first).site
    assert len(site.inspections) == 6  # three written on each side, of which one each stands for an earlier record
    assert {one.id for one in site.corrected} == {"20251110T0640-aaaa", "20251118T0640-bbbb"}
    by_id = {one.id: one for one in site.inspections}
    assert by_id[corrected.stem].corrects == "20251110T0640-aaaa"
    assert by_id[other.stem].corrects == "20251118T0640-bbbb"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 256 kB; skipped where mounting is not allowed."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)], capture_output=True, check=False
    )
    if mounted.returncode:
        pytest.skip("mounting is not allowed here")
    yield disk
    subprocess.run(["umount", str(disk)], check=True)


def fill(path: Path) -> None:
    """Write until the disk is full."""
    with path.open("wb", buffering=0) as file:
        while True:
            file.write(b"x" * 512)


def test_full_disk(small_disk: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "state"))
    folder = small_site(small_disk / "site")
    draft = save_draft(folder, Draft(id="d-1", what="inspection", who="x", begun_at=NOW, values={"1": "9"}), now=NOW)
    ballast = small_disk / "ballast"
    with pytest.raises(OSError, match="No space"):
        fill(ballast)
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    new = inspection()
    for refused in (
        lambda: write_inspection(folder, new),
        lambda: append_rings(folder, [ring(number) for number in range(61, 200)]),
        lambda: edit_toml(folder / "wheel.toml", [Put(("wheel", "bore_diameter_m"), 7.01)], see(folder / "wheel.toml")),
    ):
        with pytest.raises(NotWritten) as refusal:
            refused()
        assert refusal.value.fault.code == "disk-full"
        assert "Make room" in str(refusal.value)
    later = save_draft(folder, dataclasses.replace(draft, values={"1": "9", "2": "11"}), now=NOW)
    assert later.kept_at is not None
    assert later.kept_at.is_relative_to(tmp_path / "state")
    assert load_drafts(folder)[0].values == {"1": "9", "2": "11"}
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    ballast.unlink()
    write_inspection(folder, new)
    assert append_rings(folder, [ring(number) for number in range(61, 200)]).added == 139
    site = loaded(folder).site
    assert new.id in {one.id for one in site.inspections}
    assert len(site.rings) == 199


def test_read_only_disk(small_disk: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "state"))
    folder = small_site(small_disk / "site")
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    _refused_as_read_only(folder, tmp_path)


def test_read_only_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "state"))
    folder = small_site(tmp_path / "site")
    (tmp_path / "state").mkdir()
    for path in (folder, folder / "inspections"):
        path.chmod(0o555)
    (folder / "advance.csv").chmod(0o444)
    try:
        if os.getuid() != 0:
            _refused_as_read_only(folder, tmp_path)
            return
        for above in (tmp_path, *list(tmp_path.parents)[:-2]):  # root may write anywhere: look through other eyes
            above.chmod(above.stat().st_mode | 0o055)
        (tmp_path / "state").chmod(0o777)

        def as_nobody() -> str:
            os.setgid(65534)
            os.setuid(65534)
            _refused_as_read_only(folder, tmp_path)
            return "refused"

        assert in_child(as_nobody) == "refused"
    finally:
        for path in (folder, folder / "inspections"):
            path.chmod(0o755)


def _refused_as_read_only(folder: Path, tmp_path: Path) -> None:
    for refused in (
        lambda: write_inspection(folder, inspection()),
        lambda: append_rings(folder, [ring(61)]),
        lambda: edit_toml(folder / "wheel.toml", [Put(("wheel", "bore_diameter_m"), 7.01)], see(folder / "wheel.toml")),
    ):
        with pytest.raises(NotWritten) as refusal:
            refused()
        assert refusal.value.fault.code == "read-only"
    draft = save_draft(folder, Draft(id="d-1", what="inspection", who="x", begun_at=NOW, values={"1": "9"}), now=NOW)
    assert draft.kept_at is not None
    assert draft.kept_at.is_relative_to(tmp_path / "state")
    assert [found.values for found in load_drafts(folder)] == [{"1": "9"}]


def test_folder_renamed_under_the_program(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "state"))
    folder = small_site(tmp_path / "site")
    new = inspection()
    draft = Draft(id=new.id, what="inspection", who="x", begun_at=NOW, site_name="Test drive", values={"1": "9"})
    draft = save_draft(folder, draft, now=NOW)
    folder.rename(tmp_path / "moved")
    for refused in (lambda: write_inspection(folder, new), lambda: append_rings(folder, [ring(61)])):
        with pytest.raises(NotWritten) as refusal:
            refused()
        assert refusal.value.fault.code == "folder-gone"
        assert not folder.exists()
    save_draft(folder, dataclasses.replace(draft, values={"1": "9", "2": "8"}), now=NOW)
    moved = tmp_path / "moved"
    assert load_drafts(moved, site_name="Test drive")[0].values == {"1": "9", "2": "8"}
    write_inspection(moved, new)
    assert load_drafts(moved, site_name="Test drive") == ()


def test_folder_renamed_between_the_steps_of_a_write(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from wearplan.site.write import durable

    folder = small_site(tmp_path / "site")
    new = inspection()
    renamed = []

    def rename_first(path: Path) -> None:
        if path.name == "inspections" and not renamed:
            renamed.append(folder.rename(tmp_path / "moved"))
        sync(path)

    sync = durable.sync_folder
    monkeypatch.setattr(durable, "sync_folder", rename_first)
    with pytest.raises(NotWritten) as refusal:
        write_inspection(folder, new)
    assert refusal.value.fault.code == "folder-gone"
    monkeypatch.undo()
    write_inspection(tmp_path / "moved", new)  # again where it is now: written once, whichever way the first try went
    names = [one.id for one in loaded(tmp_path / "moved").site.inspections]
    assert names.count(new.id) == 1


def test_a_clock_running_back_changes_nothing_but_names(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    first = inspection(ring=50, at=NOW)
    second = inspection(ring=52, at=NOW - timedelta(days=400))
    write_inspection(folder, first)
    write_inspection(folder, second)
    correction = correct_inspection(
        folder, first.id, dataclasses.replace(first, note="again"), "a slip", now=NOW - timedelta(days=800)
    )
    assert correction.stem < second.id < first.id
    site = loaded(folder).site
    assert [one.ring for one in site.inspections] == [20, 40, 50, 52]
    assert site.inspections[2].note == "again"
    assert [one.id for one in site.corrected] == [first.id]


def test_without_links_no_file_is_overwritten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_: object) -> None:
        raise OSError(95, "Operation not supported")

    folder = small_site(tmp_path / "site")
    monkeypatch.setattr(os, "link", no_links)
    new = inspection()
    path = write_inspection(folder, new)
    content = path.read_bytes()
    assert write_inspection(folder, new) == path
    with pytest.raises(NotWritten) as refusal:
        write_inspection(folder, dataclasses.replace(new, note="another"))
    assert refusal.value.fault.code == "exists"
    assert path.read_bytes() == content
    assert not list((folder / "inspections").glob(".*"))
    late = inspection()
    (folder / "inspections" / f".{late.id}.toml.claim").touch()  # of a writer that was killed before its rename
    monkeypatch.setattr("wearplan.site.write.durable._CLAIM_WAIT_S", 0.001)
    assert write_inspection(folder, late).is_file()


def test_two_writers_of_one_name(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    name = new_inspection_id(NOW)

    def one(tell, note):
        try:
            write_inspection(folder, dataclasses.replace(inspection(name), note=note))
            tell("written")
        except NotWritten as refusal:
            tell(refusal.fault.code)

    with child(lambda tell: one(tell, "a")) as (_, a), child(lambda tell: one(tell, "b")) as (_, b):
        said = sorted([os.read(a, 100).decode().strip(), os.read(b, 100).decode().strip()])
    assert said == ["exists", "written"]


def test_links_are_never_followed_out_of_the_folder(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "wheel.toml").write_bytes((folder / "wheel.toml").read_bytes())
    (outside / "advance.csv").write_text(ADVANCE)
    shutil.move(folder / "inspections", outside / "inspections")
    for name in ("wheel.toml", "advance.csv"):
        (folder / name).unlink()
    for name in ("wheel.toml", "advance.csv", "inspections", ".wearplan"):
        (folder / name).symlink_to(outside / name)
    before = sorted(outside.rglob("*"))
    event = Event(chainage_m=110.0, driven_m=10.0, ring=7, at=NOW, kind="boulder")
    word = SensorWord(position=3, chainage_m=110.0, driven_m=10.0, ring=7, at=NOW, reported_mm=None)
    for name in ("events.csv", "sensors.csv"):
        (folder / name).unlink()
        (folder / name).symlink_to(outside / name)
    for refused in (
        lambda: write_inspection(folder, inspection()),
        lambda: append_rings(folder, [ring(61)]),
        lambda: append_event(folder, event),
        lambda: append_sensor_word(folder, word),
        lambda: edit_toml(
            folder / "wheel.toml", [Put(("wheel", "bore_diameter_m"), 7.01)], see(outside / "wheel.toml")
        ),
    ):
        with pytest.raises(NotWritten) as refusal:
            refused()
        assert refusal.value.fault.code == "leads-outside"
    assert sorted(outside.rglob("*")) == before
    assert (outside / "advance.csv").read_text() == ADVANCE


@pytest.mark.parametrize("name", ["../out", "a/b", "..", "", ".hidden", "a\\b", "a\0b", "x" * 65, "nul\n"])
def test_a_name_never_becomes_a_path(tmp_path: Path, name: str) -> None:
    folder = small_site(tmp_path / "site")
    before = sorted(tmp_path.rglob("*"))
    for refused in (
        lambda: write_inspection(folder, dataclasses.replace(inspection(), id=name)),
        lambda: correct_inspection(folder, name, inspection(), "why"),
        lambda: save_draft(folder, Draft(id=name, what="inspection", who="x", begun_at=NOW), now=NOW),
    ):
        with pytest.raises(NotWritten):
            refused()
    assert sorted(tmp_path.rglob("*")) == before
