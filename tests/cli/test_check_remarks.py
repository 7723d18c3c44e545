"""``check`` tells how the log of rings is read, beside its faults."""

from __future__ import annotations

import shutil

import pytest

from wearplan.cli.commands.check import MOST_REMARKS


@pytest.fixture
def gaps(sample, tmp_path):
    """The sample drive with thirty single rings lost from its log."""
    folder = tmp_path / "site"
    shutil.copytree(sample, folder)
    log = folder / "advance.csv"
    head, *rows = log.read_text(encoding="utf-8").splitlines(keepends=True)
    kept = [row for at, row in enumerate(rows) if at % 7 or not 20 < at < 240]
    log.write_text("".join([head, *kept]), encoding="utf-8")
    return folder


def test_remarks_stand_below_the_faults(call, sample):
    code, out, _ = call("check", sample)
    assert code == 0
    lines = out.splitlines()
    remarks = [line for line in lines if line.startswith("remark: ")]
    assert "remark: ring 902: revolutions missing; taken from rings nearby, ±5 %" in remarks
    assert lines[-1 - len(remarks) : -1] == remarks


def test_many_remarks_are_cut_and_counted(call, answer, gaps):
    _, out, _ = call("check", gaps)
    _, everything, _ = call("check", gaps, "--all")
    found = everything.count("remark: ")
    assert out.count("remark: ") == MOST_REMARKS < found
    assert f"... and {found - MOST_REMARKS} more remarks (--all)" in out
    body = answer("check", gaps)
    assert len(body["remarks"]) == MOST_REMARKS
    assert body["remarks_found"] == found
    assert len(answer("check", gaps, "--all")["remarks"]) == found


@pytest.mark.parametrize("lost", ["advance.csv", "ground", "wheel.toml"])
def test_a_folder_without_what_they_rest_on_has_none(call, sample, tmp_path, lost):
    folder = tmp_path / "site"
    shutil.copytree(sample, folder)
    path = folder / lost
    shutil.rmtree(path) if path.is_dir() else path.unlink()
    code, out, err = call("check", folder)
    assert code == 3
    assert "remark: ring" not in out
    assert "Traceback" not in err
