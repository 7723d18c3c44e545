"""The screen of the stops: reasons, cautions, wishes, and a plan that takes long."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import pytest

from tests.tui.pilot import LARGE, SIZES, SMALL, drive, opened, settle, text_of, type_in
from tests.tui.small import SmallRooms
from wearplan.tui.keep import Settings
from wearplan.tui.widgets.facemap import FaceMap


def test_why_in_three_keys_down_to_the_readings(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f7", "enter", "enter")
            assert "23 stands at 24.0 mm" in text_of(app)
            assert "20260303T0600-aaaa2a" in text_of(app)
            await pilot.press("enter")
            await settle(app, pilot)
            text = text_of(app)
            assert "place 23" in text
            assert "19.9 mm" in text, "the reading itself"
            await pilot.press("f3")
            await pilot.pause()
            assert app.screen.query(FaceMap), "a task's key leads out of a life at once"
            await pilot.press("enter")
            await settle(app, pilot)
            await pilot.press("escape")
            assert app.screen.query(FaceMap)

    drive(flow)


def test_cautions_stay_in_view_with_every_stop(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f7")
            for keys in (["down"], ["enter"], ["v"], ["up"]):
                await pilot.press(*keys)
                assert "Ground can fall from the face in free air too." in text_of(app), keys

    drive(flow)


@pytest.mark.parametrize("size", SIZES)
def test_forbid_force_shift_and_let_go(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=size) as (app, pilot):
            await pilot.press("f7", "x")
            await settle(app, pilot)
            flat = " ".join(text_of(app).split())
            assert app.snapshot.wishes is not None
            assert app.snapshot.wishes.forbidden_windows == ("block [2]",)
            assert "not in block [2]" in flat
            assert "+EUR 41 000" in flat
            assert "entries under pressure 3 > 0" in flat
            await pilot.press("u")
            await settle(app, pilot)
            assert app.snapshot.wishes is None
            await pilot.press("up", "right_square_bracket")
            await settle(app, pilot)
            assert app.snapshot.wishes is not None
            assert app.snapshot.wishes.forced_m == (1006.5,)
            assert app.snapshot.wishes.forbidden_m == (1005.0,)
            await pilot.press("u")
            await settle(app, pilot)
            await pilot.press("v", "down", "f")
            await settle(app, pilot)
            assert app.snapshot.wishes is not None
            assert app.snapshot.wishes.forced_windows == ("rock 3",)
            await pilot.press("m")
            await type_in(pilot, "few\n")
            assert "A whole number" in text_of(app)
            await pilot.press("backspace", "backspace", "backspace")
            await type_in(pilot, "2\n")
            await settle(app, pilot)
            assert app.snapshot.wishes.max_entries == 2
            assert "at most 2 entries under pressure" in " ".join(text_of(app).split())
            await pilot.press("M")
            await type_in(pilot, "half\n")
            await settle(app, pilot)
            assert app.snapshot.wishes.margin == "half"
            assert "half of every cap left in hand" in " ".join(text_of(app).split())
            await pilot.press("h")
            await settle(app, pilot)
            assert app.snapshot.wishes.standing
            assert "what to change where the drive stands" in " ".join(text_of(app).split())
            await pilot.press("h")
            await settle(app, pilot)
            assert not app.snapshot.wishes.standing
            plans = app.desk.rooms.calls.count("plan")
            await pilot.press("u")
            await settle(app, pilot)
            assert app.snapshot.wishes is None
            assert app.snapshot.plan is app.snapshot.free_plan
            assert app.desk.rooms.calls.count("plan") == plans, "letting go plans nothing anew"

    drive(flow)


def test_a_long_plan_shows_progress_and_can_be_stopped(tmp_path: Path) -> None:
    class Long(SmallRooms):
        def plan(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
            done = 0.0
            while not should_stop():
                time.sleep(0.02)
                done = min(0.99, done + 0.01)
                progress("weighing stops", done)
            return super().plan(snapshot, progress, should_stop)

    async def flow() -> None:
        from wearplan.tui.app import WearplanApp

        app = WearplanApp(tmp_path, rooms=Long(), settings=Settings())
        async with app.run_test(size=LARGE) as pilot:
            for _ in range(100):
                await pilot.pause(0.02)
                if "weighing stops" in text_of(app):
                    break
            assert "weighing stops" in text_of(app)
            assert "%" in text_of(app).splitlines()[0]
            await pilot.press("f3", "1", "2")
            assert app.screen.query_one(FaceMap).selected == 12, "the app goes on while it works"
            await pilot.press("ctrl+x")
            await settle(app, pilot)
            assert app.snapshot.plan is not None, "the best found so far is taken"

    drive(flow)
