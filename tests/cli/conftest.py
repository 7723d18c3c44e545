"""Commands run in this process on the sample drive."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from wearplan.cli.main import main

SAMPLE = Path(__file__).parents[2] / "sample_wheel"


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
