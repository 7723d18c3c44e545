"""Keys in any order, at any size, never bring the app down or make a step fail."""

from __future__ import annotations

import asyncio
import random
from pathlib import Path

import pytest
from textual import events

from tests.tui.pilot import LARGE, SMALL, drive, opened, settle

_FUNCTION = [f"f{n}" for n in range(1, 11)]
_MOVES = "enter escape tab shift+tab up down left right home end pagedown pageup backspace delete"
_SINGLE = "n p w s u x f m b e o c r t v i k y C M 1 2 9 5 full_stop less_than_sign question_mark slash plus minus"
_OTHER = "right_square_bracket left_square_bracket ctrl+u ctrl+z ctrl+t ctrl+x ctrl+r"
KEYS = [*_FUNCTION, *_MOVES.split(), *_SINGLE.split(), *_OTHER.split()]
SIGNS = {"full_stop": ".", "space": " ", "less_than_sign": "<", "question_mark": "?"}


@pytest.mark.parametrize("seed", [3, 11])
def test_keys_in_any_order(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int) -> None:
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "site.toml").write_text("format = 1\n", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    chance = random.Random(seed)

    async def flow() -> None:
        async with opened(folder, size=chance.choice([SMALL, LARGE, (60, 16)])) as (app, pilot):
            for number in range(160):
                key = chance.choice(KEYS)
                app.post_message(events.Key(key, key if len(key) == 1 else SIGNS.get(key)))
                await asyncio.sleep(0.003)
                if number % 40 == 39:
                    await pilot.resize_terminal(*chance.choice([SMALL, LARGE, (40, 12)]))
            await settle(app, pilot)
            assert not [job.words for job in app.snapshot.jobs.values() if job.state == "failed"]

    drive(flow)
