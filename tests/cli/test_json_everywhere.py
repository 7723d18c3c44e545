"""Every command but `open` has --json, also those whose answer is what they wrote."""

from __future__ import annotations

import json
import shutil

import pytest

from wearplan.cli.main import COMMANDS, parser


@pytest.fixture
def folder(sample, tmp_path):
    copy = tmp_path / "site"
    shutil.copytree(sample, copy)
    return copy


@pytest.mark.parametrize("name", [name for name in COMMANDS if name != "open"])
def test_every_command_takes_it(name, capsys):
    with pytest.raises(SystemExit):
        parser(name).parse_args([name, "--help"])
    assert "--json" in capsys.readouterr().out


def test_what_was_written_as_json(call, folder, tmp_path):
    def body(*words, code=0):
        got, out, err = call(*words, "--json")
        assert got == code, err
        told = json.loads(out)
        assert told["format"] == 1
        assert told["answer"] == words[0]
        return told

    assert len(body("new", tmp_path / "fresh")["written"]) == 6
    assert len(body("sheet", folder)["places"]) == 108
    sheet = tmp_path / "filled.csv"
    sheet.write_text(
        "ring,1200\nstarted_at,2026-11-22T06:00+00:00\nmode,free air\n\nplace,wear_mm,method\n15,35,gauge\n"
    )
    asked = body("log", folder, sheet, "--no-bands", code=1)
    assert asked["written"] is None
    assert [odd["position"] for odd in asked["odd"]] == [15]
    assert body("log", folder, sheet, "--no-bands", "--yes")["written"].endswith(".toml")
    assert body("event", folder, "boulder", "--ring", "1100")["added"] == 1
    export = tmp_path / "export.csv"
    export.write_text("Ring Nr.;Station Ende [m];Ende\n1;1500,5;01.11.2026 07:30\n", encoding="latin-1")
    assert "[columns]" in body("rings", folder, export, code=1)["proposed_mapping"]
