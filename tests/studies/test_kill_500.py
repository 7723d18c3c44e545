"""Five hundred kills at random moments of a busy writer: nothing acknowledged is lost, nothing is left faulty."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.site.test_durability import kill_and_look, pytestmark  # noqa: F401


@pytest.mark.parametrize("seed", range(5))
def test_a_hundred_kills(tmp_path: Path, seed: int) -> None:
    acknowledged = kill_and_look(tmp_path, kills=100, seed=seed, longest_s=0.25)
    print(f"acknowledged before 100 kills: {dict(acknowledged)}")
    assert all(acknowledged[kind] > 0 for kind in ("inspection", "ring", "draft", "limit"))
