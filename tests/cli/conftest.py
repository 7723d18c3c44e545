"""Commands run in this process on the sample drive."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from wearplan.cli.main import main

SAMPLE = Path(__file__).parents[2] / "sample_wheel"


_LEARNT: list[tuple[Any, Any]] = []
"""Sites and their fits; a fit does not depend on where the folder lies."""
_AHEAD: dict[tuple[int, tuple], Any] = {}


@pytest.fixture(autouse=True)
def learnt_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands are tried for what they say: what the same site learns and foresees is worked out once a process."""
    from wearplan.wear import fit
    from wearplan.wear.outlooks import look

    learn, look_ahead = fit.learn, look.look_ahead

    def learn_once(site, **more):
        here = replace(site, folder=None)
        found = next((known for other, known in _LEARNT if other == here), None)
        if found is None:
            found = learn(site, **more)
            _LEARNT.append((here, found))
        return found

    def look_once(site, found, **more):
        key = id(found), tuple(sorted(more.items()))
        if key not in _AHEAD:
            _AHEAD[key] = look_ahead(site, found, **more)
        return _AHEAD[key]

    monkeypatch.setattr(fit, "learn", learn_once)
    monkeypatch.setattr(look, "look_ahead", look_once)


@pytest.fixture
def sample() -> Path:
    return SAMPLE


@pytest.fixture
def call(capsys):
    """Run a command line; gives (exit code, stdout, stderr)."""

    def run(*words: object) -> tuple[int, str, str]:
        code = main([str(word) for word in words])
        out, err = capsys.readouterr()
        return int(code), out, err

    return run


@pytest.fixture
def answer(call):
    """Run a command with --json; gives the object."""

    def run(*words: object) -> dict:
        code, out, err = call(*words, "--json")
        assert code == 0, err
        return json.loads(out)

    return run


@pytest.fixture
def folder(sample, tmp_path):
    copy = tmp_path / "site"
    shutil.copytree(sample, copy)
    return copy


def filled(text: str, readings: dict[int, str]) -> str:
    lines = text.splitlines()
    head = next(index for index, line in enumerate(lines) if line.startswith("place,"))
    columns = lines[head].split(",")
    said = {"ring": "1200", "started_at": "2026-11-22T06:00+00:00", "mode": "free air", "method": "gauge"}
    lines[:head] = [f"{line.split(',')[0]},{said.get(line.split(',')[0], '')}" for line in lines[:head]]
    for index in range(head + 1, len(lines)):
        cells = lines[index].split(",")
        cells[columns.index("wear_mm")] = readings.get(int(cells[0]), "")
        lines[index] = ",".join(cells)
    return "\n".join(lines) + "\n"


@pytest.fixture
def sheet(call, folder, tmp_path):
    def write(readings: dict[int, str]):
        code, out, _ = call("sheet", folder)
        assert code == 0
        path = tmp_path / "filled.csv"
        path.write_text(filled(out, readings), encoding="utf-8")
        return path

    return write
