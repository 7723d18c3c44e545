"""What a user may hand over instead of a sound folder: one clear sentence each, no traceback."""

from __future__ import annotations

import os
import sys

import pytest

from tests.site.small_site import FIRST_FILE, GROUND_FILE, HEADER, SITE, by_code, changed, texts, write
from wearplan.site import load
from wearplan.site.records import ANSWERS


def only(loaded):
    assert len(loaded.faults) == 1, [str(fault) for fault in loaded.faults]
    return loaded.faults[0]


def test_no_folder(tmp_path):
    loaded = load(tmp_path / "nowhere")
    assert loaded.site is None
    assert (only(loaded).code, only(loaded).forbids) == ("no-folder", ANSWERS)


def test_file_instead_of_a_folder(tmp_path):
    (tmp_path / "site.toml").write_text(SITE)
    assert only(load(tmp_path / "site.toml")).code == "not-a-folder"


def test_empty_folder(tmp_path):
    assert only(load(tmp_path)).code == "empty-folder"
    assert "wearplan new" in only(load(tmp_path)).what


@pytest.mark.parametrize("name", ["a\0b", "x" * 5000])
def test_impossible_names(name):
    loaded = load(name)
    assert loaded.site is None
    assert only(loaded).forbids == ANSWERS


def test_newer_format_is_refused_before_all_else(tmp_path):
    loaded = changed(tmp_path, site__toml="format = 2\nquite = 'different'\n")
    assert loaded.site is None
    assert (only(loaded).code, only(loaded).line, only(loaded).place) == ("newer-format", 1, "format")
    assert "newer wearplan" in only(loaded).what


@pytest.mark.parametrize("version", ["0", "-1", "'1'", "1.0", "true"])
def test_other_formats_are_faults(tmp_path, version):
    loaded = changed(tmp_path, site__toml=SITE.replace("format = 1", f"format = {version}"))
    assert only(loaded).place == "format"


@pytest.mark.parametrize(
    ("name", "forbids"),
    [
        ("site.toml", ANSWERS),
        ("wheel.toml", ANSWERS),
        ("stops.toml", ("plan", "demand")),
        ("stores.toml", ("demand",)),
        (GROUND_FILE, ANSWERS),
        ("advance.csv", ANSWERS),
    ],
)
def test_missing_file(tmp_path, name, forbids):
    loaded = load(write(tmp_path, {other: text for other, text in texts().items() if other != name}))
    fault = only(loaded)
    assert (fault.code, fault.forbids) == ("missing-file", forbids)
    assert (loaded.site is None) == (name in ("site.toml", "wheel.toml"))


def test_folder_before_the_first_ring(tmp_path):
    files = {name: text for name, text in texts().items() if not name.endswith(".csv") and "insp" not in name}
    fault = only(load(write(tmp_path, files)))
    assert (fault.code, fault.forbids, fault.file) == ("missing-file", (), "advance.csv")
    files["advance.csv"] = HEADER + "\n"
    assert load(write(tmp_path, files)).faults == ()


def test_no_inspections_yet(tmp_path):
    files = {name: text for name, text in texts().items() if "insp" not in name}
    fault = only(load(write(tmp_path, files)))
    assert (fault.code, fault.forbids) == ("no-inspections", ())


@pytest.mark.parametrize("name", ["site.toml", "wheel.toml", "stops.toml", GROUND_FILE, FIRST_FILE])
def test_text_that_is_not_utf_8(tmp_path, name):
    files: dict[str, str | bytes] = dict(texts())
    files[name] = ("# Bögen\n" + texts()[name]).encode("latin-1")
    fault = by_code(load(write(tmp_path / "latin", files)), "not-utf-8")[0]
    assert (fault.file, fault.line) == (name, 1)
    assert fault.forbids
    files[name] = texts()[name].encode("utf-16")
    assert by_code(load(write(tmp_path / "utf16", files)), "not-utf-8")


def test_one_bad_byte_in_a_log_costs_its_row(tmp_path):
    rows = texts()["advance.csv"].encode().replace(b"\n7,109", b"\n7,1\xff9")
    loaded = changed(tmp_path, advance__csv=rows)
    assert [fault.code for fault in loaded.faults] == ["not-utf-8", "ring-damaged"]
    assert [row.ring for row in loaded.site.rings if row.damaged] == [7]


def test_logs_with_other_separators_point_to_the_import(tmp_path):
    loaded = changed(tmp_path, advance__csv=texts()["advance.csv"].replace(",", ";"))
    assert "wearplan rings" in only(loaded).what


def test_files_with_almost_the_right_name_are_named(tmp_path):
    files = texts()
    files["sensor.csv"] = files.pop("sensors.csv")
    files["notes.txt"] = "mine"
    files["inspections/notes.txt"] = "mine"
    loaded = load(write(tmp_path, files))
    assert [(fault.file, fault.forbids) for fault in loaded.faults] == [
        ("inspections/notes.txt", ()),
        ("sensor.csv", ()),
    ]
    assert 'did you mean "sensors.csv"?' in loaded.faults[1].what


def test_hidden_files_are_left_alone(tmp_path):
    files = texts()
    files[".wearplan/drafts/x.toml"] = "no"
    files["inspections/.part-x.toml"] = "no"
    files[".git/config"] = "no"
    assert load(write(tmp_path, files)).faults == ()


@pytest.mark.parametrize("cut", [0.1, 0.3, 0.5, 0.7, 0.9, 0.99])
def test_files_cut_off(tmp_path, cut):
    """As after a full disk: never a traceback, always a word, unless what is left is whole."""
    for name, text in texts().items():
        files = {**texts(), name: text[: int(len(text) * cut)]}
        loaded = load(write(tmp_path / f"{name.replace('/', '-')}-{cut}", files))
        assert loaded.faults or name not in ("site.toml", "wheel.toml", GROUND_FILE)


def test_cut_record_makes_no_place_look_better(tmp_path):
    """Cut within a reading: either all answers fall, or that place is damaged; no reading changes."""
    text = texts()[FIRST_FILE]
    whole = {m.position: m for m in changed(tmp_path / "whole").site.inspections[0].measurements}
    for at in range(text.index("[[measurement]]"), len(text), 7):
        files = {**texts(), FIRST_FILE: text[:at]}
        loaded = load(write(tmp_path / str(at), files))
        first = next((one for one in loaded.site.inspections if one.origin.file == FIRST_FILE), None)
        if first is None:
            assert loaded.site.forbidding("plan")
            continue
        for reading in first.measurements[:-1]:
            assert reading == whole[reading.position]


@pytest.mark.skipif(sys.platform != "linux", reason="names are bytes on Linux only")
def test_file_name_that_is_no_text(tmp_path):
    site = write(tmp_path, texts())
    with open(os.fsencode(site) + b"/inspections/\xff\x1b.toml", "wb") as file:  # noqa: PTH123 - a name in bytes
        file.write(b"x")
    (fault,) = load(site).faults
    assert fault.file == "inspections/\ufffd\ufffd.toml"


def test_record_that_goes_away_while_the_folder_is_read(tmp_path, monkeypatch):
    from wearplan.site.parse.files import Folder

    site = write(tmp_path, texts())
    names = Folder.names

    def one_more(self, sub=""):
        return [*names(self, sub), *(["gone.toml"] if sub else [])]

    monkeypatch.setattr(Folder, "names", one_more)
    loaded = load(site)
    assert {fault.file for fault in loaded.faults} == {"ground/gone.toml", "inspections/gone.toml"}
    assert all(fault.forbids == ANSWERS for fault in loaded.faults)
