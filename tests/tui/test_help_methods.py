"""F1 shows, beside the keys, how the numbers of the screen are worked out."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.pilot import LARGE, SMALL, drive, opened, text_of


@pytest.mark.parametrize("size", [SMALL, LARGE])
def test_help_on_the_stops_holds_the_planning_page(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=size) as (app, pilot):
            await pilot.press("f7")
            await pilot.pause()
            await pilot.press("f1")
            await pilot.pause()
            shown = text_of(app)
            for _ in range(12):
                await pilot.press("pagedown")
                await pilot.pause()
                shown += text_of(app)
            assert "How it is worked out: Planning, and its gap" in shown
            assert "gap = (cost of the plan - lower bound) / cost of the plan" in shown
            assert ">>>" not in shown

    drive(flow)
