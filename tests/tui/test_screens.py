"""Every screen at both sizes: what it shows, that it fits, and the main task of its user."""

from __future__ import annotations

import csv
import re
import shutil
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.tui.pilot import LARGE, SIZES, SMALL, drive, opened, settle, text_of, type_in
from tests.tui.small import SmallRooms, small_site
from wearplan.site.records import Fault
from wearplan.tui.keep import Settings
from wearplan.tui.widgets.bars import CAUTION
from wearplan.tui.widgets.facemap import FaceMap
from wearplan.tui.widgets.tableview import TableView

SAYS = {
    "f2": [
        "ON THE WHEEL NOW F3",
        "2 past the limit",
        "in 70 rings",
        "1+105.0 (ring 670), block [2],",
        "1 tool, 3 entries, 31 h",
        "ORDER NOW F8",
        "first look: nothing to compare with",
        "windows",
    ],
    "f3": ["Place 24", "not read; reckoned", "reaches its limit", "Worst first", "next stop"],
    "f4": ["N begins a new inspection", "20260303T0600-aaaa2a"],
    "f5": ["0.0200 (0.0128–0.0272)", "readings", "wears 20 % more"],
    "f6": ["windows", "barred", "××× river", "Past their limit here", "from the crown: CL, SG", "at its limit"],
    "f7": ["1+105.0", "compressed air", "block [2]", "gap 0.0 %", "Ground can fall"],
    "f8": ["To do", "Stock"],
    "f9": ["No fault was found"],
}


@pytest.mark.parametrize("size", SIZES)
def test_every_screen_says_what_it_is_for_and_carries_the_caution(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=size) as (app, pilot):
            for key, words in SAYS.items():
                await pilot.press(key)
                await pilot.pause()
                text = text_of(app)
                flat = " ".join(text.split())
                for word in words:
                    assert word in flat, (key, word, text)
                assert CAUTION in text, key
                assert "Small drive [red]" in text, "what a user wrote is never read as markup"
                assert "invented" in text
                assert all(len(line) <= size[0] for line in text.splitlines())
                assert "safe" not in flat.lower().replace("not a safety decision", "")

    drive(flow)


def test_first_frame_comes_before_anything_is_read(tmp_path: Path) -> None:
    class Stuck(SmallRooms):
        def read(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
            while not should_stop():
                time.sleep(0.01)
            return {}

    async def flow() -> None:
        from wearplan.tui.app import WearplanApp

        app = WearplanApp(tmp_path, rooms=Stuck(), settings=Settings())
        async with app.run_test(size=SMALL) as pilot:
            await pilot.pause()
            assert "reading the folder" in text_of(app)
            assert CAUTION in text_of(app)
            for key in ("f3", "f4", "f5", "f6", "f7", "f8", "f9"):
                await pilot.press(key)
                assert "reading the folder" in text_of(app) or "waits for" in text_of(app), key
            app.desk.stop()

    drive(flow)


@pytest.mark.parametrize("size", SIZES)
def test_wheel_by_keys_number_mouse_and_ways_of_showing(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=size) as (app, pilot):
            await pilot.press("f3")
            face = app.screen.query_one(FaceMap)
            await pilot.press("2", "3")
            assert face.selected == 23
            assert "Place 23" in text_of(app)
            before = face.selected
            for key in ("up", "left", "down", "right"):
                await pilot.press(key)
            assert face.selected != before or size == SMALL
            await pilot.press("n")
            await pilot.press("w")
            assert face.selected == 24, "the place that was never read comes first"
            await pilot.press("w")
            assert face.selected == 23
            assert face.face is not None
            spot = next(placed for placed in face.face.placed if placed.mark.number == 7)
            await pilot.click(FaceMap, offset=(spot.column, spot.row))
            assert face.selected == 7
            assert "sensor at 12.0 mm: no word yet" in " ".join(text_of(app).split())
            for words in ("chance of passing", "when last read", "zone and arm", "place numbers", "wear now"):
                await pilot.press("s")
                assert words in text_of(app)
            await pilot.press("right_square_bracket")
            assert "1+300.0" in text_of(app)
            assert sorted(p.mark.number for p in face.face.placed) == list(range(1, 25))

    drive(flow)


def test_wheel_shows_wear_without_colour(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f3")
            text = text_of(app)
            assert "█23▼" in text, "over its limit, and changed at the next stop"
            assert "▇21" in text
            assert "▁1" in text
            assert "?24" in text, "what was not read is not shown as unworn"

    drive(flow)


def test_resizing_in_the_middle_keeps_the_place(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f3", "1", "9")
            for key, size in (("f3", SMALL), ("f6", LARGE), ("f7", SMALL), ("f5", LARGE), ("f3", (100, 30))):
                await pilot.press(key)
                await pilot.resize_terminal(*size)
                await pilot.pause()
                await pilot.pause()
                assert all(len(line) <= size[0] for line in text_of(app).splitlines())
            assert app.screen.query_one(FaceMap).selected == 19
            assert "Place 19" in text_of(app)

    drive(flow)


def test_csv_and_svg_of_what_is_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "out"
    out.mkdir()
    monkeypatch.chdir(out)

    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f5", "ctrl+e", "ctrl+g")
            await pilot.pause()
            table = app.screen.query_one("#table-rates", TableView).table
            assert table is not None
            found = sorted(path.suffix for path in out.iterdir())
            assert found == [".csv", ".svg"]
            rows = list(csv.reader(next(out.glob("*.csv")).open(encoding="utf-8")))
            assert float(rows[1][rows[0].index("mm_per_km_p50")]) == app.snapshot.fit.rates[0].mm_per_km.p50  # type: ignore[union-attr]
            drawn = next(out.glob("*.svg")).read_text(encoding="utf-8")
            assert drawn.startswith("<svg")
            assert re.findall(r"https?://[^\"' ]+", drawn) == ["http://www.w3.org/2000/svg"], "nothing is fetched"

    drive(flow)


def test_us_units_turn_every_screen_and_back(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("ctrl+u")
            for key, word in (
                ("f2", "32+80.8"),
                ("f3", " in"),
                ("f5", "in per mile"),
                ("f6", "52+49.3"),
                ("f7", "psi"),
            ):
                await pilot.press(key)
                await pilot.pause()
                assert word in text_of(app), key
            await pilot.press("ctrl+u", "f2")
            await pilot.pause()
            assert "1+000.0" in text_of(app)

    drive(flow)


def test_help_is_of_the_part_in_focus_and_lists_the_keys(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f3", "f1")
            text = text_of(app)
            assert "to scale" in text
            assert "To the next most worn place" in text
            assert "Find a place by number or serial" in text
            await pilot.press("escape", "f7", "f1")
            assert "F forces" in " ".join(text_of(app).split())

    drive(flow)


def test_other_keys_from_the_settings_reach_bindings_and_help(tmp_path: Path) -> None:
    async def flow() -> None:
        settings = Settings(keys={"wheel.next": "m"})
        async with opened(tmp_path, size=LARGE, settings=settings) as (app, pilot):
            await pilot.press("f3", "m")
            assert app.screen.query_one(FaceMap).selected == 1, "after 24 the numbers begin again"
            await pilot.press("f1")
            assert "m            Next number" in text_of(app)

    drive(flow)


def test_find_and_palette_go_where_they_say(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("slash")
            await type_in(pilot, "place 17\n")
            await pilot.pause()
            await pilot.pause()
            assert app.screen.query_one(FaceMap).selected == 17
            await pilot.press("slash")
            await type_in(pilot, "rock\n")
            await pilot.pause()
            await pilot.pause()
            assert "Window rock 3" in text_of(app)
            await pilot.press("ctrl+p")
            await type_in(pilot, "metric")
            await pilot.pause(0.3)
            await pilot.press("enter")
            await pilot.pause(0.1)
            assert app.units.us

    drive(flow)


def test_a_folder_with_faults_opens_with_them_and_the_rest_usable(tmp_path: Path) -> None:
    faults = (
        Fault(
            file="stores.toml",
            line=7,
            place="[[stock]] on_hand",
            what="is text [bold]; write a number",
            code="x",
            forbids=("demand",),
        ),
        Fault(file="advance.csv", line=611, place="ring", what="ring 611 is missing; its advance counts", code="y"),
    )

    async def flow() -> None:
        rooms = SmallRooms(site=replace(small_site(), stores=None), faults=faults)
        async with opened(tmp_path, rooms=rooms) as (app, pilot):
            assert "2 faults" in text_of(app)
            await pilot.press("f9")
            text = text_of(app)
            assert "stores.toml:7" in text
            assert "[bold]" in text
            assert "These answers are not given: demand." in " ".join(text.split())
            await pilot.press("f7")
            assert "1+105.0" in text_of(app)

    drive(flow)


def test_a_fault_that_forbids_everything_is_told_once_on_the_start_page(tmp_path: Path) -> None:
    from wearplan.tui.rooms import Rooms

    folder = tmp_path / "site"
    shutil.copytree(Path(__file__).resolve().parents[2] / "sample_wheel", folder)
    wheel = folder / "wheel.toml"
    wheel.write_text(
        re.sub(r"^price = .*", 'price = "dear"', wheel.read_text("utf-8"), count=1, flags=re.M), encoding="utf-8"
    )

    async def flow() -> None:
        async with opened(folder, rooms=Rooms()) as (app, _pilot):
            text = " ".join(text_of(app).split())
            assert text.count("The rates are not given: wheel.toml:") == 1
            assert text.count("not known: see above") == 3

    drive(flow)


def test_no_site_at_all_shows_why(tmp_path: Path) -> None:
    from wearplan.tui.rooms import Rooms

    async def flow() -> None:
        async with opened(tmp_path, rooms=Rooms()) as (app, pilot):
            text = " ".join(text_of(app).split())
            assert "No site can be made of this folder" in text
            for key in ("f2", "f3", "f4", "f5", "f6", "f7", "f8", "f9"):
                await pilot.press(key)
                await pilot.pause()
            await pilot.press("f4", "n")
            assert app.is_running

    drive(flow)


def test_a_fault_of_ours_is_a_sentence_and_a_log(tmp_path: Path, own_home: Path) -> None:
    class Broken(SmallRooms):
        def rates(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
            raise RuntimeError("a matrix was singular")

    async def flow() -> None:
        async with opened(tmp_path, rooms=Broken()) as (app, pilot):
            flat = " ".join(text_of(app).split())
            assert "learning wear rates failed (RuntimeError: a matrix was singular)" in flat
            logs = list((own_home / "state" / "wearplan").glob("fault-*.log"))
            assert len(logs) == 1
            assert "Traceback" in logs[0].read_text(encoding="utf-8")
            await pilot.press("f3")
            assert "Place 24" in text_of(app), "the rest stays usable"

    drive(flow)


def test_no_color(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")

    async def flow() -> None:
        async with opened(tmp_path, settings=Settings(theme="ansi-dark")) as (app, pilot):
            assert app.no_color
            assert not app.theme.startswith("ansi")
            for key in ("f2", "f3", "f7"):
                await pilot.press(key)
                await pilot.pause()
                hues = set()
                for line in app.screen._compositor.render_strips():
                    for segment in apply_filters(app, line):
                        for colour in (segment.style.color, segment.style.bgcolor) if segment.style else ():
                            if colour is not None and colour.triplet is not None:
                                hues.add(max(colour.triplet) - min(colour.triplet))
                assert max(hues) <= 1, "greys only"
            await pilot.press("f3")
            assert "Place 24" in text_of(app)
            assert "●" in text_of(app), "over its limit by sign"

    drive(flow)


def apply_filters(app: Any, line: Any) -> Any:
    from textual.color import Color

    for one in app._filters:
        line = line.apply_filter(one, Color.parse("#101418"))
    return line


def test_what_changed_since_the_last_look(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path) as (app, pilot):
            assert "first look: nothing to compare with" in " ".join(text_of(app).split())
            await pilot.press("ctrl+q")
        site = small_site(inspections=2)
        first = replace(site, inputs_sha256="11" * 32)
        async with opened(tmp_path, rooms=SmallRooms(site=first)) as (app, pilot):
            flat = " ".join(text_of(app).split())
            assert "Changed since your last look, " in flat
            assert "1 inspection fewer" in flat

    drive(flow)


def test_old_answers_are_marked_while_newer_facts_are_worked_in(tmp_path: Path) -> None:
    class Slow(SmallRooms):
        slow = False

        def rates(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
            while self.slow and not should_stop():
                time.sleep(0.01)
            return super().rates(snapshot, progress, should_stop)

    async def flow() -> None:
        rooms = Slow()
        async with opened(tmp_path, rooms=rooms) as (app, pilot):
            assert "old: rests on" not in text_of(app)
            rooms.slow = True
            await pilot.press("ctrl+r")
            for _ in range(200):
                await pilot.pause(0.02)
                if "old: rests on" in " ".join(text_of(app).split()):
                    break
            flat = " ".join(text_of(app).split())
            assert "old: rests on ring 600" in flat
            assert "1+105.0 (ring 670)" in flat, "and the old answer stays in view"
            rooms.slow = False
            await settle(app, pilot)
            assert "old: rests on" not in text_of(app)

    drive(flow)
