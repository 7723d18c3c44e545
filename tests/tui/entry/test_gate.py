"""F10 and corrections in the app refuse what the folder contradicts, until each finding is accepted with a reason."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from tests.tui.pilot import SIZES, SMALL, drive, opened, rush, settle, text_of


@pytest.fixture(autouse=True)
def site_folder(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text("format = 1\n", encoding="utf-8")


def test_a_ring_of_a_month_back_is_not_written_by_yes(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f4", "n")
            await pilot.pause()
            await rush(app, pilot, "500\n\nyesterday 22:10\n\nf")
            await pilot.press("f10")
            await rush(app, pilot, "nn")
            await pilot.press("f10")
            await settle(app, pilot, workers=False)
            text = " ".join(text_of(app).split())
            assert "The folder contradicts this" in text
            assert "[date-after-ring]" in text
            await pilot.press("n")
            await pilot.pause()
            assert not list(tmp_path.glob("inspections/*.toml"))
            await pilot.press("f10", "y")
            await settle(app, pilot, workers=False)
            assert "Who accepts it?" in text_of(app)
            await rush(app, pilot, "Lead\n")
            await settle(app, pilot, workers=False)
            await pilot.press("enter")
            await pilot.pause()
            assert "not accepted without a reason" in " ".join(text_of(app).split())
            while "This will be written" not in text_of(app):
                await rush(app, pilot, "back at 500\n")
                await settle(app, pilot, workers=False)
            assert not list(tmp_path.glob("inspections/*.toml")), "nothing is written before yes"
            await pilot.press("y")
            await settle(app, pilot)
            data = tomllib.loads(next(tmp_path.glob("inspections/*.toml")).read_text(encoding="utf-8"))
            assert data["ring"] == 500
            assert "Accepted by Lead: date-after-ring. Why: back at 500" in data["note"]

    drive(flow)


@pytest.mark.parametrize("size", SIZES)
def test_the_present_ring_is_offered_and_a_time_to_come_asked_about(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=size) as (app, pilot):
            await pilot.press("f4", "n")
            await pilot.pause()
            form = app.screen
            assert "present ring 600, face 1+000.0" in " ".join(text_of(app).split())
            await pilot.press("ctrl+r")
            await rush(app, pilot, "\n\n01.01.2999 06:10\n\nf")
            assert "later than now" in " ".join(text_of(app).split())
            await pilot.press("f10")
            await pilot.pause()
            assert app.screen is form
            assert "F10 again keeps it" in " ".join(text_of(app).split())
            await pilot.press("f10")
            await pilot.pause()
            assert app.screen is not form
            assert "ring 600" in text_of(app)

    drive(flow)
