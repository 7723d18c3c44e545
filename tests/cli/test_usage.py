"""Exit codes and words where something is wrong with the call or the folder."""

from __future__ import annotations

import shutil

import pytest

from wearplan.cli.main import COMMANDS, main, parser


def test_every_command_has_help_and_a_docstring():
    for name in COMMANDS:
        sub = parser(name)._subparsers._group_actions[0].choices[name]
        assert sub.description
        assert len(sub.format_help()) > 100


@pytest.mark.parametrize("argv", [["nonsense"], ["plan"], ["plan", "x", "--json", "--csv"], ["outlook", "x", "--at"]])
def test_usage_is_two(call, argv):
    code, out, err = call(*argv)
    assert code == 2
    assert out == ""
    assert "usage" in err


@pytest.mark.parametrize("command", ["check", "rates", "outlook", "plan", "demand", "backtest"])
def test_an_empty_folder_is_three_with_a_sentence(call, tmp_path, command):
    code, out, err = call(command, tmp_path)
    assert code == 3
    assert "wearplan new" in out + err
    assert "Traceback" not in out + err


def test_a_file_instead_of_a_folder(call, tmp_path):
    path = tmp_path / "site"
    path.write_text("x")
    code, out, err = call("check", path)
    assert code == 3
    assert "Traceback" not in out + err


def test_a_newer_format_is_refused(call, sample, tmp_path):
    folder = tmp_path / "site"
    shutil.copytree(sample, folder)
    site = folder / "site.toml"
    site.write_text(site.read_text(encoding="utf-8").replace("format = 1", "format = 2"), encoding="utf-8")
    code, out, _ = call("check", folder)
    assert code == 3
    assert "newer" in out


def test_an_unknown_place_and_serial(call, sample):
    assert call("outlook", sample, "--place", 9999)[0] == 2
    assert call("life", sample, "NO-SUCH")[0] == 1
    assert call("life", sample, 9999)[0] == 1


def test_chainage_behind_the_face_and_nonsense(call, sample):
    assert call("outlook", sample, "--at", "0+200")[0] == 2
    assert call("outlook", sample, "--at", "there")[0] == 2


def test_our_own_fault_is_seventy_and_kept_in_a_log(monkeypatch, capsys, tmp_path, sample):
    monkeypatch.delenv("WEARPLAN_STATE_DIR", raising=False)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    import wearplan.site

    def broken(folder):
        raise ZeroDivisionError("made to fail")

    monkeypatch.setattr(wearplan.site, "load", broken, raising=False)
    assert main(["check", str(sample)]) == 70
    assert "fault of its own" in capsys.readouterr().err
    assert "made to fail" in next((tmp_path / "wearplan").glob("fault-*.log")).read_text()


def test_what_could_not_be_written_is_refused_before_the_work(call, sample, tmp_path):
    code, out, err = call("report", sample, "-o", tmp_path / "none" / "page.html")
    assert code == 2
    assert f"there is no folder {tmp_path / 'none'}" in err
    assert call("report", sample, "-o", tmp_path)[0] == 2
    code, out, err = call("plan", sample, "--pack", tmp_path / "pack")
    assert code == 2
    assert "--read-by NAME" in err
    assert out == ""
