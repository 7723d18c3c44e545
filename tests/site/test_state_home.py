"""Drafts, last looks and logs lie in one folder, which the environment may name."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import pytest

from wearplan.site.write.drafts import _state_home
from wearplan.site.write.state_home import settings_folder, state_folder, state_root, write_fault_log
from wearplan.tui.keep import Look, write_log, write_look

LINUX = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="other systems have their own place")


@pytest.mark.parametrize(
    ("variable", "below"),
    [
        ("WEARPLAN_STATE_DIR", "."),
        ("XDG_STATE_HOME", "wearplan"),
        pytest.param("HOME", ".local/state/wearplan", marks=LINUX),
    ],
)
def test_one_folder_for_all(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, variable: str, below: str) -> None:
    for name in ("WEARPLAN_STATE_DIR", "XDG_STATE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv(variable, str(tmp_path))
    wanted = tmp_path / below
    write_look(Look(folder="x", name="x", at="2026-01-01T00:00+00:00"))
    assert (wanted / "looks.json").is_file()
    assert Path(write_log("a trace", what="trying")).parent == wanted
    log = write_fault_log("the trace", what="wearplan check")
    assert log is not None
    assert log.parent == wanted
    assert log.read_text(encoding="utf-8").splitlines()[1] == "wearplan check"
    assert _state_home(tmp_path / "site").parents[1] == wanted


def test_the_folder_itself_goes_before_the_one_it_lies_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "own"))
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "all"))
    assert state_root() == state_folder() == tmp_path / "own"


def test_where_it_cannot_be_made_logs_go_where_only_this_user_writes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "file" / "below"))
    folder = state_folder()
    assert folder.parent == Path(tempfile.gettempdir())
    assert folder.stat().st_mode & 0o077 == 0
    assert state_folder() == folder
    assert write_fault_log("a trace", what="trying") is not None


def test_a_log_that_cannot_be_written_is_no_second_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Path, "write_text", lambda *_, **__: (_ for _ in ()).throw(OSError("disk full")))
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path))
    assert write_fault_log("a trace", what="trying") is None
    assert "no log" in write_log("a trace", what="trying")


def test_settings_lie_where_the_environment_says(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert settings_folder() == tmp_path / "wearplan"
