"""What `demand` writes where there is little to say, and where a file cannot be used."""

from __future__ import annotations

import json
from datetime import date
from types import SimpleNamespace

import pytest

import wearplan.demand.answer
import wearplan.report.tables.demand
from wearplan.cli.commands import demand as command
from wearplan.report.tables.table import Column, Table


@pytest.fixture
def quick(monkeypatch):
    """The command without the work: what is foretold is made up."""
    for step in ("read_site", "learn", "look_ahead", "propose"):
        monkeypatch.setattr(command, step, lambda *_: None)
    asked = {}

    def made_up(uses, as_of, pace):
        asked.update(as_of=as_of, pace=pace)
        return SimpleNamespace()

    monkeypatch.setattr(wearplan.demand.answer, "uses_of", lambda drives: [None] * len(drives))
    monkeypatch.setattr(wearplan.demand.answer, "with_pace", made_up)
    return asked


def test_nothing_to_order_is_said(call, sample, monkeypatch, quick):
    """The notes under the orders, such as what on order is not needed, stand with an empty table too."""

    def table(title, note):
        return Table(title=title, columns=(Column(key="tool_type", head="tool type"),), rows=(), notes=(note,))

    tables = [table("What to do", "the 20 on order are not needed"), table("Other", "hidden")]
    monkeypatch.setattr(wearplan.report.tables.demand, "demand_tables", lambda _: tables)
    code, out, _ = call("demand", sample, "--on", "2026-11-30")
    assert code == 0
    assert out.splitlines()[0] == "What to do"
    assert "(none)" in out
    assert "the 20 on order are not needed" in out
    assert "hidden" not in out
    assert quick == {"as_of": date(2026, 11, 30), "pace": 1.0}


def test_an_earlier_answer_that_is_not_there(call, sample, tmp_path):
    code, _, err = call("demand", sample, "--since", tmp_path / "none.json")
    assert code == 2
    assert "No such file" in err
    assert "Errno" not in err
    old = tmp_path / "old.json"
    old.write_text(json.dumps({"answer": "demand"}), encoding="utf-8")
    code, _, err = call("demand", sample, "--since", old)
    assert code == 2
    assert "not a forecast kept" in err


def test_nothing_is_kept_yet(call, sample):
    for since in (["--since"], ["--since", "2026-11-01"]):
        code, _, err = call("demand", sample, *since)
        assert code == 1
        assert "No forecast is kept in" in err


def test_one_folder_twice_is_refused(call, sample):
    code, _, err = call("demand", sample, sample.parent / "." / sample.name)
    assert code == 2
    assert "are the same folder" in err


def test_a_day_that_is_none(call, sample):
    code, _, err = call("demand", sample, "--on", "soon")
    assert code == 2
    assert "'soon' is no date: write 2026-11-30" in err
