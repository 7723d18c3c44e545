"""Back and forward between screens and places."""

from __future__ import annotations

from pathlib import Path

from tests.tui.pilot import SMALL, drive, opened, settle, text_of
from wearplan.tui.screens.base import TaskScreen
from wearplan.tui.trail import Spot, Trail
from wearplan.tui.widgets.facemap import FaceMap


def test_a_new_way_forgets_what_lay_ahead() -> None:
    trail = Trail().to(Spot("wheel")).leaving("7").to(Spot("ahead")).step(-1)
    assert trail.here == Spot("wheel", "7")
    assert trail.step(1).here == Spot("ahead")
    other = trail.to(Spot("stops"))
    assert other.step(1) == other
    assert other.step(-9).here == Spot("start")


def test_the_same_spot_twice_is_one_step() -> None:
    assert Trail().to(Spot("start")) == Trail()


def test_back_leads_to_the_place_that_was_left_and_forward_again(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):

            def task() -> str:
                return app.screen.task_name if isinstance(app.screen, TaskScreen) else ""

            await pilot.press("f3", "1", "7")
            app.go_to("ahead", "1200.0")
            await settle(app, pilot)
            await pilot.press("f7")
            await settle(app, pilot)
            await pilot.press("<")
            await settle(app, pilot)
            assert task() == "ahead"
            assert "1+300.0" in text_of(app)
            await pilot.press("backspace")
            await settle(app, pilot)
            await pilot.press("n")
            assert task() in ("wheel", "ahead")
            while task() != "wheel":
                await pilot.press("<")
                await settle(app, pilot)
            assert app.screen.query_one(FaceMap).selected in (17, 18)
            await pilot.press(">")
            await settle(app, pilot)
            assert task() == "ahead"
            for _ in range(6):
                await pilot.press("<")
            await settle(app, pilot)
            assert task() == "start"
            assert "This is where you began." in " ".join(text_of(app).split())

    drive(flow)
