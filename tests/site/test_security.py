"""A folder from a stranger: nothing outside it is read, nothing in it steers, runs, hangs or fills the memory."""

from __future__ import annotations

import os
import resource
import time

import pytest

from tests.site.small_site import ADVANCE, FIRST, FIRST_FILE, GROUND, HEADER, SITE, by_code, changed, texts, write
from wearplan.site import load
from wearplan.site.parse.files import LARGEST, MEGABYTE
from wearplan.site.parse.text import CONTROL

SECRET = "do-not-read-me"


@pytest.fixture
def outside(tmp_path):
    folder = tmp_path / "outside"
    write(folder, texts())
    (folder / "secret.toml").write_text(f'name = "{SECRET}"')
    return folder


@pytest.mark.parametrize("name", [*texts(), "ground", "inspections"])
def test_link_that_leads_out_is_refused_and_named(tmp_path, outside, name):
    site = write(tmp_path / "site", texts())
    path = site / name
    if path.is_dir():
        path.rename(tmp_path / "moved")
    else:
        path.unlink()
    path.symlink_to(outside / name)
    loaded = load(site)
    refused = by_code(loaded, "link-out")
    assert [fault.file.rstrip("/") for fault in refused] == [name]
    if name != "events.csv":
        assert refused[0].forbids
    if loaded.site and name == "inspections":
        assert loaded.site.inspections == ()


@pytest.mark.parametrize("target", ["../../outside/secret.toml", "/etc/passwd", "../" * 40 + "etc/passwd"])
def test_nothing_of_what_a_link_leads_to_is_told(tmp_path, outside, target):
    site = write(tmp_path / "site", texts())
    (site / "inspections" / "x.toml").symlink_to(target)
    loaded = load(site)
    assert by_code(loaded, "link-out")
    told = "\n".join(map(str, loaded.faults))
    assert SECRET not in told
    assert "root:" not in told


def test_link_inside_and_link_to_the_folder_are_followed(tmp_path):
    site = write(tmp_path / "site", texts())
    (site / "wheel.toml").rename(site / "kept")
    (site / "wheel.toml").symlink_to("kept")
    (tmp_path / "shortcut").symlink_to(site)
    assert load(tmp_path / "shortcut").faults == ()


def test_links_in_a_circle_and_dead_links_are_named(tmp_path):
    site = write(tmp_path / "site", texts())
    (site / "stores.toml").unlink()
    (site / "stores.toml").symlink_to("stores.toml")
    (site / "inspections" / "x.toml").symlink_to("nowhere")
    loaded = load(site)
    assert {fault.file for fault in by_code(loaded, "dead-link")} == {"stores.toml", "inspections/x.toml"}


def test_names_written_in_files_are_no_paths(tmp_path, outside):
    """An id, a correction, an arm named like a path is a name and nothing else."""
    nasty = "../outside/secret"
    files = texts()
    files[FIRST_FILE] = FIRST.replace("20251110T0640-aaaa", nasty).replace(
        "ring = 20", f'corrects = "{nasty}2"\nreason = "x"\nring = 20'
    )
    loaded = load(write(tmp_path / "site", files))
    assert loaded.site is not None
    assert SECRET not in repr(loaded)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
@pytest.mark.parametrize("name", ["stores.toml", "advance.csv", "inspections/pipe.toml"])
def test_a_pipe_is_refused_and_does_not_hang(tmp_path, name):
    site = write(tmp_path / "site", texts())
    (site / name).unlink(missing_ok=True)
    os.mkfifo(site / name)
    assert [fault.file for fault in by_code(load(site), "not-a-file")] == [name]


def test_a_folder_in_place_of_a_file_and_the_other_way(tmp_path):
    site = write(tmp_path / "site", {name: text for name, text in texts().items() if name != "stops.toml"})
    (site / "stops.toml").mkdir()
    assert [fault.file for fault in load(site).faults] == ["stops.toml"]
    site = write(tmp_path / "other", {name: text for name, text in texts().items() if "/" not in name})
    (site / "ground").write_text("a file")
    assert by_code(load(site), "not-a-folder")


STEERING = ["\x1b[2J", "\x1b]0;title\x07", "\x9b31m", "\u202e", "\u2066", "\ufeff", "\x07", "\r", "\u2028", "\x00"]


@pytest.mark.parametrize("steer", STEERING)
def test_steering_characters_are_cleaned_and_named(tmp_path, steer):
    """Policy: they are replaced by U+FFFD wherever text is read, and named; the file is left as it is."""
    escaped = "".join(f"\\u{ord(char):04x}" for char in steer)
    files = texts()
    files["site.toml"] = SITE.replace("Test drive", f"Test{escaped}drive")
    files[FIRST_FILE] = FIRST.replace("A. Person", f"A{escaped}Person").replace(
        "position = 4\n", f'position = 4\nnote = "n{escaped}n"\nserial = "s{escaped}s"\n'
    )
    raw = steer.replace("\r", "\x1b")
    files["events.csv"] = texts()["events.csv"].replace("boulder", f"boul{raw}der")
    loaded = load(write(tmp_path, files))
    assert not any(fault.forbids for fault in loaded.faults), loaded.faults
    assert len(by_code(loaded, "control-characters")) == 5
    assert not CONTROL.search(repr(loaded.site.name) + loaded.site.inspections[0].measured_by)
    for text in (loaded.site.name, loaded.site.inspections[0].measurements[3].note, loaded.site.events[0].kind):
        assert "\ufffd" in text
        assert not CONTROL.search(text)
    assert all(not CONTROL.search(str(fault)) for fault in loaded.faults)


@pytest.mark.parametrize("steer", ["\x1b[2J", "\u202e", "\x9b"])
def test_messages_never_steer(tmp_path, steer):
    """What is quoted from keys, values, headers and file names is cleaned."""
    escaped = "".join(f"\\u{ord(char):04x}" for char in steer)
    files: dict[str, str | bytes] = dict(texts())
    files["site.toml"] = f'"{escaped}key" = 1\n' + SITE
    files["wheel.toml"] = files["wheel.toml"].replace('zone = "gauge"', f'zone = "{escaped}"')
    files["stops.toml"] = files["stops.toml"] + f'\n["{escaped}"]\na = 1\n'
    files["stores.toml"] = f"on{steer}_hand = "
    files["advance.csv"] = ADVANCE.replace("\n5,", f"\n{steer}5,").replace("thrust_kn", f"thr{steer}ust_kn")
    files["sensors.csv"] = f"{steer},a,b\n1,2,3\n"
    files[f"inspections/{steer}.toml"] = "x"
    files[f"st{steer}ops.toml"] = "x"
    loaded = load(write(tmp_path, files))
    assert len(loaded.faults) >= 8
    for fault in loaded.faults:
        assert not CONTROL.search(fault.file + fault.place + fault.what), fault
        assert "\n" not in fault.what
        assert len(str(fault)) < 1500


def test_markup_and_formulas_stay_as_typed(tmp_path):
    """What shows or exports text makes it harmless there; nothing typed is lost here."""
    typed = "=cmd|'/c calc'!A1 [bold red]x[/] <script>alert(1)</script> %s {0}"
    loaded = changed(tmp_path, **{"site__toml": SITE.replace("Test drive", typed)})
    assert loaded.site.name == typed


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def timed(folder):
    """What came of it, seconds of work (the machine may be busy with other things), MB grown."""
    before, start = peak_mb(), time.process_time()
    loaded = load(folder)
    return loaded, time.process_time() - start, peak_mb() - before


def rubbish(size: int) -> bytes:
    block = os.urandom(64 * 1024)
    return (block * (size // len(block) + 1))[:size]


@pytest.mark.parametrize("name", ["advance.csv", "sensors.csv", "wheel.toml", FIRST_FILE])
def test_100_mb_of_rubbish_are_answered_at_once(tmp_path, name):
    site = write(tmp_path, texts())
    with (site / name).open("wb") as file:
        file.truncate(100 * MEGABYTE)
    loaded, seconds, grown_mb = timed(site)
    (fault,) = by_code(loaded, "too-large")
    assert "100 MB" in fault.what
    assert fault.forbids
    assert seconds < 3
    assert grown_mb < 60


@pytest.mark.parametrize(
    "make",
    [
        lambda size: HEADER.encode() + b"\n" + rubbish(size),
        lambda size: HEADER.encode() + b"\n" + (b"x,y,z\n" * (size // 6)),
        lambda size: HEADER.encode() + b"\n" + b'"' * size,
        lambda size: HEADER.encode() + b"\n" + b"," * size,
        lambda size: b"," * size,
        lambda size: b"\n" * size,
        lambda size: (HEADER + ",\n").encode() + b"1,1e5,2e5,,,,,,,,\n" * (size // 18),
    ],
    ids=["random", "words", "quotes", "commas", "header", "empty", "rows"],
)
def test_rubbish_within_the_size_is_answered_with_few_faults(tmp_path, make):
    site = write(tmp_path, {**texts(), "advance.csv": make(LARGEST[".csv"] - 200)})
    loaded, seconds, grown_mb = timed(site)
    assert len(loaded.faults) < 800
    assert seconds < 10
    assert grown_mb < 500


@pytest.mark.parametrize(
    "text",
    [
        "a = " + "[" * 100_000,
        "a = " + "[" * 400 + "]" * 400,
        "a = " + "{a=" * 300 + "1" + "}" * 300,
        "[" + "a." * 20_000 + "a]\n",
        "".join(f"[[{'a.' * 40}a]]\n" for _ in range(2000)),
        "x = " + "9" * 100_000,
        "x = 1e" + "9" * 50_000,
        "".join(f"k{number} = 1\n" for number in range(70_000)),
        'x = "' + "\\u0007" * 100_000 + '"',
        "x = '''" + "a\n" * 250_000,
        GROUND + "[[section]]\n" * 75_000,
        GROUND + "".join(f'[[unit]]\ncode = "{number}"\nname = "?"\n' for number in range(20_000)),
    ],
    ids=[
        "open",
        "nested",
        "tables",
        "dotted",
        "arrays",
        "digits",
        "power",
        "keys",
        "escapes",
        "string",
        "many",
        "fill",
    ],
)
def test_toml_made_to_hurt_is_answered(tmp_path, text):
    for name in (FIRST_FILE, "ground/0002.toml") if len(text) < 300_000 else ("ground/0002.toml",):
        site = write(tmp_path / name.replace("/", "-"), {**texts(), name: text})
        loaded, seconds, grown_mb = timed(site)
        assert loaded.faults
        assert len(loaded.faults) < 800
        assert seconds < 10
        assert grown_mb < 800


def test_too_many_files_are_named(tmp_path, monkeypatch):
    import wearplan.site.parse.files as files_module

    monkeypatch.setattr(files_module, "MOST_FILES", 20)
    files = texts()
    files |= {f"inspections/{number:04d}.toml": "" for number in range(40)}
    (fault,) = by_code(load(write(tmp_path, files)), "too-many-files")
    assert fault.forbids


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_unreadable_file_is_named(tmp_path):
    site = write(tmp_path, texts())
    (site / "stores.toml").chmod(0)
    assert [fault.code for fault in load(site).faults] == ["unreadable"]


def test_no_code_of_the_folder_is_run(tmp_path, monkeypatch):
    """Modules lying in the folder are not imported, even from inside it."""
    site = write(tmp_path, texts())
    for name in ("tomllib.py", "csv.py", "wearplan.py", "sitecustomize.py", "conftest.py"):
        (site / name).write_text("raise SystemExit('ran')")
    monkeypatch.chdir(site)
    assert load(".").faults == ()
