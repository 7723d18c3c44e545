"""Day one: the sheet out, the sheet back, a correction, an event, a sensor word; nothing lost, nothing doubled."""

from __future__ import annotations

from wearplan.site import load


def test_the_sheet_is_blind_unless_asked(call, folder):
    _, blind, _ = call("sheet", folder)
    _, seeing, _ = call("sheet", folder, "--expected")
    assert "expected_mm" not in blind
    assert "expected_mm" in seeing


def test_a_filled_sheet_comes_back(call, folder, sheet):
    before = len(load(folder).site.inspections)
    code, out, err = call("log", folder, sheet({9: "16.5", 10: "<1", 11: ">25", 12: "3/4/3.5"}), "--yes", "--no-bands")
    assert code == 0, err
    site = load(folder).site
    assert len(site.inspections) == before + 1
    read = {m.position: m for m in site.inspections[-1].measurements}
    assert set(read) == {9, 10, 11, 12}
    assert read[9].wear_mm == 16.5
    assert read[10].wear_below_mm == 1.0
    assert read[11].wear_above_mm == 25.0
    assert read[12].points_mm == (3.0, 4.0, 3.5)
    assert "4 of 108 places read" in out


def test_without_yes_nothing_is_written(call, folder, sheet, monkeypatch):
    monkeypatch.setattr("sys.stdin.isatty", lambda: False, raising=False)
    before = sorted(folder.rglob("*"))
    code, _, err = call("log", folder, sheet({9: "16.5"}), "--no-bands")
    assert code == 1
    assert "Nothing was written" in err
    assert sorted(folder.rglob("*")) == before


def test_odd_readings_are_asked_about(call, folder, sheet):
    _, out, _ = call("log", folder, sheet({9: "2.0", 13: "24.9"}), "--yes")
    assert "? place 9" in out
    assert "expected" in out


def test_a_correction_and_its_undoing(call, folder, sheet):
    call("log", folder, sheet({9: "16.5"}), "--yes", "--no-bands")
    first = load(folder).site.inspections[-1]
    code, _, err = call(
        "log", folder, sheet({9: "17.0"}), "--yes", "--no-bands", "--corrects", first.id, "--reason", "misread"
    )
    assert code == 0, err
    second = load(folder).site.inspections[-1]
    assert second.corrects == first.id
    assert second.measurements[0].wear_mm == 17.0
    code, _, err = call("log", folder, "--undo", second.id, "--reason", "it was right")
    assert code == 0, err
    site = load(folder).site
    assert site.inspections[-1].measurements[0].wear_mm == 16.5
    assert {inspection.id for inspection in site.corrected} == {first.id, second.id}


def test_a_bad_sheet_writes_nothing_and_names_every_fault(call, folder, sheet):
    before = len(load(folder).site.inspections)
    code, _, err = call("log", folder, sheet({9: "abc", 10: "-4"}), "--yes", "--no-bands")
    assert code == 1
    assert "abc" in err
    assert "-4" in err
    assert len(load(folder).site.inspections) == before


def test_an_event_asks_which_places_to_look_at(call, folder):
    before = len(load(folder).site.events)
    code, out, _ = call("event", folder, "boulder", "--ring", 1190, "--note", "bang")
    assert code == 0
    assert "look at" in out
    assert len(load(folder).site.events) == before + 1


def test_a_sensor_word(call, folder):
    place = next(p for p in load(folder).site.wheel.positions if p.sensor_mm)
    before = len(load(folder).site.sensor_words)
    assert call("sensor", folder, place.number, "line proved", "--ring", 1190)[0] == 0
    assert call("sensor", folder, place.number, f"reported {place.sensor_mm[0]}", "--ring", 1190)[0] == 0
    assert len(load(folder).site.sensor_words) == before + 2
    assert call("sensor", folder, place.number, "hums", "--ring", 1190)[0] == 2


def test_rings_twice_add_nothing_twice(call, folder, tmp_path):
    rows = (folder / "advance.csv").read_text(encoding="utf-8").splitlines()
    export = tmp_path / "export.csv"
    last = load(folder).site.rings[-1]
    row = dict(zip(rows[0].split(","), rows[-1].split(","), strict=True))
    row |= {
        "ring": str(last.ring + 1),
        "start_chainage_m": str(last.end_chainage_m),
        "end_chainage_m": str(last.end_chainage_m + 1.5),
    }
    export.write_text("\n".join([rows[0], ",".join(row.values())]) + "\n", encoding="utf-8")
    assert call("rings", folder, export)[0] == 0
    assert call("rings", folder, export)[0] == 0
    assert len(load(folder).site.rings) == len(rows)


def test_a_new_folder_names_what_only_the_site_can_say(call, tmp_path):
    folder = tmp_path / "mine"
    assert call("new", folder)[0] == 0
    code, out, _ = call("check", folder)
    assert code == 3
    assert "site.toml" in out
    assert call("new", folder)[0] == 2


def test_an_export_with_heads_of_its_own_gets_a_mapping_proposed(call, folder, tmp_path):
    export = tmp_path / "export.csv"
    export.write_text("Ring Nr.;Station Ende [m];Ende\n900;1500,5;01.11.2026 07:30\n", encoding="latin-1")
    code, out, err = call("rings", folder, export)
    assert code == 1
    assert 'end_chainage_m = "Station Ende [m]"' in out
    assert "--mapping" in err
    assert "has no column" not in err
    mapping = tmp_path / "columns.toml"
    mapping.write_text(out, encoding="utf-8")
    code, out, err = call("rings", folder, export, "--mapping", mapping, "--dry-run")
    assert (code, out) == (0, "1 ring read, 900 to 900; nothing written\n")


def test_the_sheet_is_written_as_its_name_ends(call, folder, tmp_path):
    for end, begins in (("html", "<!doctype html>"), ("csv", "ring,"), ("md", "# ")):
        assert call("sheet", folder, "-o", tmp_path / f"sheet.{end}")[0] == 0
        assert (tmp_path / f"sheet.{end}").read_text(encoding="utf-8").lower().startswith(begins)


def test_a_correction_is_not_held_against_what_it_replaces(call, folder, sheet):
    assert call("log", folder, sheet({15: "35"}), "--yes", "--no-bands")[0] == 0
    wrong = load(folder).site.inspections[-1].id
    code, out, _ = call(
        "log", folder, sheet({15: "13.5"}), "--no-bands", "--corrects", wrong, "--reason", "typed wrong"
    )
    assert code == 1
    assert "read before" not in out
    assert "35 mm was read before" in call("log", folder, sheet({15: "13.5"}), "--no-bands")[1]


def test_where_schemas_cannot_be_written(call, tmp_path):
    (tmp_path / "file").write_text("mine")
    code, _, err = call("schema", "--write", tmp_path / "file")
    assert code == 1
    assert "cannot be written" in err


def test_a_sheet_taken_in_twice_is_asked_about(call, folder, sheet):
    path = sheet({9: "16.5", 10: "<1"})
    _, first, _ = call("log", folder, path, "--yes", "--no-bands")
    path = sheet({9: "16.5", 10: "<2"})
    _, out, _ = call("log", folder, path, "--no-bands")
    assert "they count twice" not in first
    assert f"? {load(folder).site.inspections[-1].id} is of ring 1200 too and has 2 places of these" in out
