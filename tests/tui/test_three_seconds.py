"""What each screen must answer at a glance, at three sizes, with the same numbers as the command."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.tui.pilot import drive, opened, settle, text_of
from tests.tui.small import SmallRooms
from wearplan.report.reaches import reach_words, stop_reaches
from wearplan.report.words import chance_text
from wearplan.tui.keep import Settings
from wearplan.tui.widgets.facemap import FaceMap

SIZES = [(80, 24), (100, 30), (160, 48)]


@pytest.mark.parametrize("size", SIZES)
def test_each_screen_answers_its_question(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=size) as (app, pilot):
            plan, history, outlook = app.snapshot.plan, app.snapshot.history, app.snapshot.outlook
            assert plan is not None
            assert history is not None
            assert history.calendar is not None
            assert outlook is not None
            off = reach_words(stop_reaches(plan, history.calendar)[0])
            rings = " ".join(off.split()[:3]).rstrip(",")

            def flat() -> str:
                return " ".join(text_of(app).split())

            start = flat()
            assert rings in start, "the next stop in rings"
            assert "2 past the limit" in start
            for key in ("F3", "F7", "F8", "F4"):
                assert key in start
            await pilot.press("f3")
            await settle(app, pilot)
            wheel = flat()
            assert "Worst first" in wheel
            assert "▼" in wheel, "which are changed at the next stop"
            assert "0 rings" in wheel
            face = app.screen.query_one(FaceMap)
            assert {text for row in face._rows for text, style, _ in row if style == "arm name"} == set("ABCD")
            await pilot.press("p")
            await settle(app, pilot)
            assert "discs" in flat()
            assert "limit ⠉" in flat() or "limit" in flat()
            await pilot.press("p", "f6")
            await settle(app, pilot)
            ahead = flat()
            for words in ("crown", "invert", "windows", "river", "stops", "face", "at its limit"):
                assert words in ahead, words
            await pilot.press("f7")
            await settle(app, pilot)
            stops = flat()
            assert f"Stop {off}" in stops
            assert chance_text(plan.stops[0].changes[0].over_limit_probability_if_left) in stops
            assert "23 stands at 24.0 mm (limit 25.0 mm) at 1+100.0." in stops, "the reason, whole"
            assert "Cautions" in stops
            if size[0] >= 110:
                assert "If stop 1 is passed rock 3 in 200 rings: 44 % past a limit, +EUR 22 000" in " ".join(
                    line[95:].strip() for line in text_of(app).splitlines() if line[95:].strip()
                )  # fmt: skip

    drive(flow)


def test_charts_in_plain_signs_are_drawn_so_and_not_turned_afterwards(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=(160, 48), settings=Settings(plain_signs=True)) as (app, pilot):
            for key in ("f2", "f3", "f6", "f8"):
                await pilot.press(key)
                await settle(app, pilot)
                from wearplan.tui.widgets.drawn import Drawn

                for drawn in app.screen.query(Drawn).results(Drawn):
                    for row in drawn._rows:
                        assert all(text.isascii() for text, _, _ in row), (key, drawn.id, row)

    drive(flow)


def test_no_widget_is_painted_again_whose_content_did_not_change(tmp_path: Path) -> None:
    async def flow() -> None:
        from wearplan.tui.widgets.drawn import Drawn

        async with opened(tmp_path, size=(160, 48), rooms=SmallRooms()) as (app, pilot):
            await pilot.press("f3")
            await settle(app, pilot)
            painted: list[str] = []
            for drawn in app.screen.query(Drawn).results(Drawn):
                drawn.refresh = lambda *a, _id=drawn.id, **k: painted.append(str(_id))  # type: ignore[method-assign]
            app.screen.show_again()  # type: ignore[attr-defined]
            assert painted == []

    drive(flow)
