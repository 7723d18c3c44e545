"""What is written: nothing twice, a corrected cell as a correction, a whole take withdrawn; bad files named."""

from __future__ import annotations

import json
import zipfile
from pathlib import Path

import pytest

from tests.take import office
from tests.take.test_layouts import ENGLISH, LOG, SAID, matrix_down
from wearplan.cli.main import main
from wearplan.site import load
from wearplan.take.files.book import NotRead
from wearplan.take.files.opening import open_book

openpyxl = pytest.importorskip("openpyxl")

ANSWERS = """
[answers]
"time zone" = "+00:00"
"chainage of rings" = "face"
method = "gauge"
mode = "free air"
"empty cell" = "no record"

[site]
name = "Invented"
invented = true
end_chainage_m = 400.0
advance_m_per_day = 10.0
working_days_per_week = 6
bore_diameter_m = 5.0
"""
TYPES = [
    ["Type", "Kind", "Diameter new [mm]", "Wear limit [mm]", "Price", "Lead time [weeks]"],
    ["disc 17", "disc", 432.0, 25.0, 3000.0, 8],
    ["scraper", "scraper", None, 20.0, 700.0, 4],
]


def workbook(folder: Path, **changed: float) -> Path:
    rows = [["Wear, used, radial, mm"], *matrix_down()]
    for cell, value in changed.items():
        rows[int(cell[1:]) - 1][ord(cell[0]) - 65] = value
    return office.save(folder / "office.xlsx", {"Layout": [*SAID, *ENGLISH], "Types": TYPES, "Log": LOG, "Wear": rows})


@pytest.fixture
def taken(tmp_path, capsys):
    answers = tmp_path / "answers.toml"
    answers.write_text(ANSWERS)
    site = tmp_path / "site"
    assert main(["new", str(site), "--from", str(workbook(tmp_path)), "--mapping", str(answers), "--yes"]) == 0
    capsys.readouterr()
    return site


def body(capsys, *argv: str) -> tuple[int, dict]:
    code = main([*argv, "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_a_new_folder_from_files_and_every_record_keeps_its_cell(taken):
    site = load(taken).site
    assert [i.ring for i in site.inspections] == office.RINGS
    assert len(site.rings) == 84
    reading = next(m for m in site.inspections[1].measurements if m.position == 3)
    file, cell, sha = reading.taken_from.split(" | ")
    assert (file, cell) == ("office.xlsx", "Wear!C7")
    assert len(sha.removeprefix("sha256 ")) == 64
    assert site.rings[0].extra["taken_from"].startswith("office.xlsx | Log!A2")
    assert {p.number: p.track_radius_mm for p in site.wheel.positions}[12] == 2400.0
    assert not [fault for fault in site.faults if "outlook" in fault.forbids and not fault.file.startswith("ground")]


def test_the_same_file_again_adds_nothing(taken, tmp_path, capsys):
    before = sorted(p.name for p in taken.rglob("*"))
    code, said = body(capsys, "take", str(taken), str(tmp_path / "office.xlsx"), "--yes")
    assert code == 0
    assert said["questions"] == []
    assert said["would_write"]["stops_as_on_record"] == 4
    assert not said["written"]
    assert sorted(p.name for p in taken.rglob("*")) == before


def test_a_corrected_cell_comes_as_a_correction_and_the_take_can_be_withdrawn(taken, tmp_path, capsys):
    workbook(tmp_path, C7=3.3)
    code, said = body(capsys, "take", str(taken), str(tmp_path / "office.xlsx"), "--yes")
    assert (code, said["would_write"]["corrections"]) == (0, 1)
    site = load(taken).site
    second = site.inspections[1]
    assert next(m.wear_mm for m in second.measurements if m.position == 3) == 3.3
    assert "place 3 (Wear!C7)" in second.reason
    assert len(site.inspections) == 4
    code, gone = body(capsys, "take", str(taken), "--withdraw", said["take"], "--reason", "the wrong file")
    assert (code, len(gone["written"])) == (0, 1)
    again = load(taken).site.inspections[1]
    assert next(m.wear_mm for m in again.measurements if m.position == 3) == office.wear(3, 1)


def test_a_whole_first_take_can_be_withdrawn(taken, capsys):
    take_id = load(taken).site.inspections[0].taken_from.split(" | ")[0]
    assert body(capsys, "take", str(taken), "--withdraw", take_id, "--reason", "not ours")[0] == 0
    site = load(taken).site
    assert site.inspections == ()
    assert len([one for one in site.corrected if not one.withdraws]) == 4


def test_json_names_tables_and_questions_and_answers_by_name_go_on(tmp_path, capsys):
    path, site = workbook(tmp_path), tmp_path / "s"
    code, said = body(capsys, "take", str(site), str(path))
    assert code == 1
    assert {t["what"].split(",")[0] for t in said["tables"]} >= {"layout", "ring log", "tool types", "readings"}
    assert all({"name", "sentence", "count", "example", "choices"} <= set(q) for q in said["questions"])
    answers = tmp_path / "take.toml"
    answers.write_text(ANSWERS)
    code, said = body(capsys, "take", str(site), str(path), "--mapping", str(answers))
    assert said["questions"] == []
    assert not site.exists()


def test_a_typed_record_is_never_replaced(taken, tmp_path, capsys):
    path = next(p for p in (taken / "inspections").iterdir() if "ring = 20\n" in p.read_text())
    path.write_text(
        "\n".join(line for line in path.read_text().splitlines() if not line.startswith("taken_from")) + "\n"
    )
    workbook(tmp_path, B5=9.9)
    said = body(capsys, "take", str(taken), str(tmp_path / "office.xlsx"), "--yes")[1]
    assert said["would_write"]["corrections"] == 0
    assert any("was typed" in line for line in said["differs"])


def test_bad_files_are_told_and_the_rest_is_read(tmp_path, capsys):
    good = workbook(tmp_path)
    half = tmp_path / "half.xlsx"
    half.write_bytes(good.read_bytes()[: good.stat().st_size // 2])
    locked = tmp_path / "locked.xlsx"
    locked.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600)
    said = body(capsys, "take", str(tmp_path / "s"), str(half), str(locked), str(good))[1]
    refused = {cell["file"]: cell["what"] for cell in said["cells"] if cell["duty"] == "refused"}
    assert "half written" in refused["half.xlsx"]
    assert "password" in refused["locked.xlsx"]
    assert any(t["file"] == "office.xlsx" for t in said["tables"])


def test_bombs_and_entities_are_refused(tmp_path):
    bomb = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as out:
        out.writestr("xl/workbook.xml", "<x/>")
        out.writestr("xl/worksheets/sheet1.xml", b"0" * 60_000_000)
    with pytest.raises(NotRead, match="would unpack"):
        open_book(bomb)
    evil = tmp_path / "evil.ods"
    with zipfile.ZipFile(evil, "w") as out:
        out.writestr("content.xml", '<!DOCTYPE x [<!ENTITY a "b">]><x>&a;</x>')
    with pytest.raises(NotRead, match="entities"):
        open_book(evil)


def test_a_formula_without_a_stored_value_is_not_an_empty_cell(tmp_path):
    sheet = open_book(workbook(tmp_path, B5="=1+1")).sheets[-1]  # type: ignore[arg-type]
    assert "stored value" in sheet.at(5, 2).trouble


def test_another_drives_workbook_is_told_and_nothing_of_it_written(taken, tmp_path, capsys):
    log = [LOG[0], *[[row[0], row[1] + 5000.0, row[2] + 5000.0, *row[3:]] for row in LOG[1:]]]
    path = office.save(tmp_path / "other.xlsx", {"Log": log, "Wear": [["Wear, used, mm"], *matrix_down()]})
    code, said = body(capsys, "take", str(taken), str(path), "--yes")
    assert code == 1
    assert [q["name"] for q in said["questions"]] == ["drive"]
    assert not said["written"]


def test_next_months_sheet_alone_is_understood(tmp_path, capsys):
    names = [f"W{n:02d}" for n in range(1, 13)]
    plan = [ENGLISH[0], *[[name, *row[1:]] for name, row in zip(names, ENGLISH[1:], strict=True)]]
    rows = matrix_down()
    for name, row in zip(names, rows[3:], strict=True):
        row[0] = name
    wear = [["Wear, used, radial, mm"], *[row[:-1] for row in rows]]
    path = office.save(tmp_path / "all.xlsx", {"Layout": [*SAID, *plan], "Types": TYPES, "Log": LOG, "Wear": wear})
    answers, site = tmp_path / "a.toml", tmp_path / "site"
    answers.write_text(ANSWERS)
    assert main(["take", str(site), str(path), "--mapping", str(answers), "--yes"]) == 0
    capsys.readouterr()
    later = office.save(tmp_path / "next.xlsx", {"Wear": [["Wear, used, radial, mm"], *rows]})
    code, said = body(capsys, "take", str(site), str(later), "--yes")
    assert (code, said["questions"], said["would_write"]["stops"], said["would_write"]["stops_as_on_record"]) == (
        0,
        [],
        1,
        3,
    )
    assert load(site).site.inspections[-1].ring == 80


def test_rings_that_say_otherwise_are_told_and_left(taken, tmp_path, capsys):
    log = [LOG[0], *[[*row[:4], row[4] + (5.0 if row[0] == 30 else 0.0), row[5]] for row in LOG[1:]]]
    path = office.save(tmp_path / "log.xlsx", {"Log": log})
    said = body(capsys, "take", str(taken), str(path), "--yes")[1]
    assert said["would_write"]["rings"] == 0
    assert any("1 rings of the log say otherwise than advance.csv, first 30" in line for line in said["differs"])


def test_a_stop_that_joins_meets_the_checks_of_typed_records(taken, tmp_path, capsys):
    rows = [["Wear, used, radial, mm"], ["Pos."], ["Ring", 84]]
    rows += [
        [name, 0.1 if place == 1 else office.wear(place, 3) or 1.0] for place, name in enumerate(office.NAMES, start=1)
    ]
    path = office.save(tmp_path / "next.xlsx", {"Wear": rows})
    said = body(capsys, "take", str(taken), str(path))[1]
    assert any("ring 84: place 1: 0.1 mm, but" in line for line in said["odd"])
