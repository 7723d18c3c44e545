from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def own_home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Settings and last looks of the tests go to a folder of their own."""
    home = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("XDG_STATE_HOME", str(home / "state"))
    monkeypatch.delenv("WEARPLAN_STATE_DIR", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(home / "config"))
    return home
