"""A terminal of few letters, a folder of a strange name: an answer all the same."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import pytest

from tests.site.small_site import texts, write


def run(*words: str, **env: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "wearplan.cli", *words],
        capture_output=True,
        env={**os.environ, **env},
        timeout=120,
        check=False,
    )


@pytest.fixture
def strange(tmp_path):
    return str(write(tmp_path / "Ünit ölé, site 1", texts()))


@pytest.mark.parametrize(
    "env",
    [
        {"PYTHONIOENCODING": "ascii"},
        {"PYTHONIOENCODING": "latin-1"},
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
        {"LC_ALL": "POSIX"},
    ],
    ids=["ascii", "latin-1", "C", "POSIX"],
)
def test_any_locale(strange, env):
    done = run("rates", strange, **env)
    assert done.returncode == 0, done.stderr
    assert b"mm per 1,000 m" in done.stdout
    assert b"readings" in done.stdout


def test_json_is_the_same_answer_in_ascii(strange):
    plain, wide = (
        json.loads(run("life", strange, "1", "--json", PYTHONIOENCODING=encoding).stdout)
        for encoding in ("ascii", "utf-8")
    )
    plain.pop("generated_at"), wide.pop("generated_at")
    assert plain == wide
