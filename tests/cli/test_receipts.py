"""What was written is acknowledged, whatever comes after; 0 says that it stands."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.site import small_site
from wearplan.cli.codes import Exit
from wearplan.cli.commands import log
from wearplan.site import load
from wearplan.site.write import writing


def records(folder: Path) -> int:
    return len(list((folder / "inspections").glob("*.toml")))


@pytest.mark.parametrize(
    "trouble", [RuntimeError("what it means is not known"), KeyboardInterrupt(), BrokenPipeError()]
)
def test_what_fails_after_the_write_denies_nothing(call, folder, sheet, monkeypatch, trouble):
    def meaning(*_):
        raise trouble

    monkeypatch.setattr(log, "_meaning", meaning)
    before = records(folder)
    code, out, err = call("log", folder, sheet({9: "16.5"}), "--yes", "--no-bands")
    assert code == Exit.DONE
    assert records(folder) == before + 1
    newest = load(folder).site.inspections[-1].id
    assert f"written: {folder / 'inspections' / newest}.toml" in out
    assert "what was written stands" in err.casefold()
    assert "Nothing" not in err


@pytest.mark.parametrize(
    ("trouble", "code"),
    [(RuntimeError("no"), Exit.OURS), (KeyboardInterrupt(), Exit.INTERRUPTED), (BrokenPipeError(), 1)],
)
def test_what_fails_before_the_write_says_that_nothing_stands(call, folder, sheet, monkeypatch, trouble, code):
    def preview(*_, **__):
        raise trouble

    monkeypatch.setattr(log, "_preview", preview)
    before = records(folder)
    found, _, err = call("log", folder, sheet({9: "16.5"}), "--yes", "--no-bands")
    assert found == code
    assert records(folder) == before
    assert "nothing" in err.casefold()


def test_ctrl_c_during_the_write_waits_until_it_is_whole(call, folder, sheet, monkeypatch):
    create = writing.create_once

    def pressed(path, content):
        os.kill(os.getpid(), signal.SIGINT)
        create(path, content)

    monkeypatch.setattr(writing, "create_once", pressed)
    before = records(folder)
    code, out, err = call("log", folder, sheet({9: "16.5"}), "--yes", "--no-bands")
    assert code == Exit.DONE
    assert records(folder) == before + 1
    assert "written: " in out
    assert "interrupted; what was written stands" in err


def test_the_very_same_record_again_is_no_failure(call, folder, sheet):
    path = sheet({9: "16.5"})
    assert call("log", folder, path, "--yes", "--no-bands")[0] == Exit.DONE
    before = records(folder)
    code, out, _ = call("log", folder, path, "--yes", "--no-bands", "--json")
    assert code == Exit.DONE
    assert json.loads(out)["written"] is False
    assert records(folder) == before


COMMANDS = (
    "check .", "rates . --json", "outlook .", "plan .", "demand .", "backtest .", "life . 1", "sheet .",
    "rings . no.csv", "sensor . 1 'line proved' --ring 500", "event . boulder --ring 500", "take . no.xlsx",
    "log . sheet.csv --yes --no-bands", "report . -o page.html", "carry .", "methods", "schema wheel.toml",
    "new fresh", "fleet . --jobs 2",
)  # fmt: skip


def test_no_command_runs_what_lies_in_the_folder(tmp_path):
    """A stranger's folder full of modules named like those the program imports."""
    import shlex

    folder = small_site.write(tmp_path / "site", dict(small_site.texts()))
    marks = tmp_path / "marks"
    marks.mkdir()
    names = {name.partition(".")[0] for name in sys.modules} | {"multiprocessing", "joblib", "cloudpickle", "pickle"}
    for name in names - {"__main__", "__mp_main__"}:
        text = f"open({str(marks / name)!r}, 'w').close()\n"
        (folder / f"{name}.py").write_text(text, encoding="utf-8")
    (folder / "sheet.csv").write_text("ring,600\nplace,wear_mm\n1,9\n", encoding="utf-8")
    script = tmp_path / "wearplan_script.py"
    script.write_text("from wearplan.cli import run\nrun()\n", encoding="utf-8")
    top = str(Path(__file__).parents[2])
    path = os.pathsep.join([top, *filter(None, [os.environ.get("PYTHONPATH")])])
    for command in COMMANDS:
        subprocess.run(
            [sys.executable, str(script), *shlex.split(command)], cwd=folder, capture_output=True, timeout=120,
            env={**os.environ, "PYTHONPATH": path},
        )  # fmt: skip
        assert not list(marks.iterdir()), command
