"""What a person waits for: `--help` must not load what only a fit needs."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("numpy", "scipy", "sklearn", "textual", "pydantic", "highspy", "tomlkit")


def loaded_by(code: str) -> set[str]:
    probe = f"{code}\nimport sys\nprint('LOADED', *[name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", probe], capture_output=True, text=True, check=True)
    last = [line for line in done.stdout.splitlines() if line.startswith("LOADED")][-1]
    return set(last.split()[1:])


@pytest.mark.parametrize("argv", [["--help"], ["plan", "--help"], ["--version"], []])
def test_help_is_light(argv):
    code = f"from wearplan.cli.main import main\nmain({argv!r})"
    assert loaded_by(code) == set()


def test_checking_a_folder_needs_no_scipy(sample):
    code = f"from wearplan.cli.main import main\nmain(['check', {str(sample)!r}])"
    assert not loaded_by(code) & {"scipy", "sklearn", "textual"}


def test_the_app_module_needs_no_scipy():
    assert not loaded_by("import wearplan.tui.app") & {"scipy", "sklearn", "highspy"}
