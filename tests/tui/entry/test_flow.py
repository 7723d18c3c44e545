"""Logging an inspection on the screen, into a real folder: from the first key to the record and what it means."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from tests.tui.pilot import LARGE, SIZES, SMALL, drive, killed_once_it_speaks, opened, rush, settle, text_of, type_in
from tests.tui.small import SmallRooms
from wearplan.site import Draft, load_drafts, save_draft
from wearplan.site.records import Gauging
from wearplan.tui.app import WearplanApp
from wearplan.tui.screens.entry import EntryScreen
from wearplan.tui.screens.headform import HeadForm
from wearplan.tui.widgets.tableview import TableView

HEAD = "600\n\nyesterday 22:10\n\nf"


@pytest.fixture(autouse=True)
def site_folder(tmp_path: Path) -> None:
    """Records are written into folders that say they are a site."""
    (tmp_path / "site.toml").write_text("format = 1\n", encoding="utf-8")


def sheet_of(app: WearplanApp) -> EntryScreen:
    assert isinstance(app.screen, EntryScreen)
    return app.screen


@pytest.mark.parametrize("size", SIZES)
def test_from_the_first_key_to_the_record(tmp_path: Path, size: tuple[int, int]) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=size) as (app, pilot):
            await pilot.press("f4", "n")
            await pilot.pause()
            await rush(app, pilot, HEAD)
            assert "chainage 1000.0, from ring 600" in text_of(app)
            await pilot.press("f10")
            await pilot.pause()
            assert "ring 600" in text_of(app)
            assert "0 of 24 read, 24 empty (NOT READ)" in text_of(app)
            await type_in(pilot, "14.5\n")
            await settle(app, pilot)
            screen = sheet_of(app)
            if "outside" in text_of(app):
                await pilot.press("enter")
            await type_in(pilot, "n")
            await type_in(pilot, "17.5c\n")
            await pilot.press("enter")
            await pilot.pause()
            counts = screen.typist.sheet.counts()
            assert counts["read"] == 2
            assert counts["not reached"] == 1
            await settle(app, pilot)
            assert "draft kept at" in text_of(app)
            await pilot.press("f10")
            await pilot.pause()
            text = " ".join(text_of(app).split())
            assert "This will be written" in text
            assert "2 of 24 read, 1 not reached, 21 empty (NOT READ)" in text
            assert not list(tmp_path.glob("inspections/*.toml")), "nothing is written before yes"
            await pilot.press("y")
            await settle(app, pilot)
            files = list((tmp_path / "inspections").glob("*.toml"))
            assert len(files) == 1
            data = tomllib.loads(files[0].read_text(encoding="utf-8"))
            assert data["ring"] == 600
            assert data["mode"] == "free air"
            assert [m.get("wear_mm") for m in data["measurement"]] == [14.5, None, 17.5]
            assert data["measurement"][1]["not_read"] == "not reached"
            assert data["measurement"][2]["condition"] == "chipped"
            assert load_drafts(tmp_path) == ()
            await settle(app, pilot)
            assert f"Written: {files[0].stem}" in " ".join(text_of(app).split())
            assert "3 tools more likely than not past the limit before block [2]: 22, 23, 24." in " ".join(
                text_of(app).split()
            )

    drive(flow)


def test_the_row_a_draft_goes_on_at_is_on_the_screen(tmp_path: Path) -> None:
    """What is typed must be seen, on a small screen and when it is made smaller."""

    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f4", "n")
            await pilot.pause()
            await rush(app, pilot, HEAD)
            await pilot.press("f10")
            await pilot.pause()
            await pilot.press(*("n" * 21), "escape")
            await settle(app, pilot)
            await pilot.press("r")
            await settle(app, pilot)
            number = sheet_of(app).typist.number
            for size in (SMALL, (80, 16)):
                await pilot.resize_terminal(*size)
                await settle(app, pilot)
                assert any(
                    line.startswith(">") and line[1:].split()[0] == str(number) for line in text_of(app).split("\n")
                )

    drive(flow)


def test_the_methods_of_the_site_are_named_where_one_is_asked_for(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            site = app.snapshot.site
            assert site is not None
            ways = tuple(Gauging(method=name, sd_mm=1.0, step_mm=0.5) for name in ("gauge", "by eye"))
            app.push_screen(HeadForm(replace(site, wheel=replace(site.wheel, gauging=ways)), {}))
            await pilot.pause()
            assert "gauge · by eye; empty: the coarsest" in text_of(app)
            form = app.screen
            await pilot.press("f1")
            await pilot.pause()
            assert app.screen is not form
            assert "Type what is known of the stop." in " ".join(text_of(app).split())
            await pilot.press("escape")
            await pilot.pause()
            assert app.screen is form

    drive(flow)


def test_leaving_and_coming_back(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f4", "n")
            await pilot.pause()
            await rush(app, pilot, HEAD)
            await pilot.press("f10")
            await pilot.pause()
            await type_in(pilot, "n5.5\n")
            await pilot.press("enter", "escape")
            await settle(app, pilot)
            assert "A draft is here" in text_of(app)
            await pilot.press("r")
            await settle(app, pilot)
            sheet = sheet_of(app).typist.sheet
            assert sheet.counts()["not reached"] == 1
            assert sheet.head["ring"] == "600"
            assert sheet_of(app).typist.at > 0, "goes on where nothing is typed yet"
            text = " ".join(text_of(app).split())
            assert "nothing typed yet" not in text
            assert "draft of" in text
            assert "1 read, 1 not reached and the stop's data" in text
            await type_in(pilot, "n")
            await settle(app, pilot)
            assert "Brought back" not in text_of(app)

    drive(flow)


@pytest.mark.parametrize("keys", [("down", "up"), ("down", "down", "up"), ("up",), ()])
def test_the_row_under_the_cursor_is_corrected(tmp_path: Path, keys: tuple[str, ...]) -> None:
    now = datetime.now().astimezone()
    draft = Draft(id="begun", what="inspection", who="", begun_at=now, values={"lines": {"1": {"wear": "2"}}})

    async def flow() -> None:
        save_draft(tmp_path, draft, now=now)
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f4")
            await settle(app, pilot)
            table = app.screen.query_one("#log-table", TableView)
            assert table.cursor_row == 0, "on the draft, which came to the first row after the records were there"
            await pilot.press(*keys)
            under = table.key_at_cursor()
            await pilot.press("c")
            await pilot.pause()
            if under == "draft begun":
                assert "This row is a draft" in " ".join(text_of(app).split())
            else:
                assert under is not None
                assert f"Why is {under.removeprefix('record ')} corrected?" in text_of(app)

    drive(flow)


def test_undo_on_the_screen_and_a_bad_number(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f4", "n")
            await pilot.pause()
            await pilot.press("escape")
            await type_in(pilot, "1.2.3\n")
            assert "is no wear" in text_of(app)
            await pilot.press("ctrl+z")
            await type_in(pilot, "nn")
            await pilot.press("ctrl+z")
            assert sheet_of(app).typist.sheet.counts()["not reached"] == 1
            await pilot.press("f10")
            assert "Not yet" in text_of(app)
            assert "mode:" in text_of(app)

    drive(flow)


def test_a_correction_replaces_and_keeps(tmp_path: Path) -> None:
    from wearplan.site import write_inspection

    async def flow() -> None:
        rooms = SmallRooms()
        last = rooms.site.inspections[-1]
        write_inspection(tmp_path, last)
        async with opened(tmp_path, size=LARGE, rooms=rooms) as (app, pilot):
            await pilot.press("f4", "c")
            await type_in(pilot, "typed wrong\n")
            await pilot.pause()
            screen = sheet_of(app)
            assert screen.typist.sheet.counts()["read"] == 23
            await type_in(pilot, "g1\n2.5\n")
            if "less than" in text_of(app) or "outside" in text_of(app):
                await pilot.press("enter")
            await pilot.press("f10")
            await pilot.pause()
            assert f"Takes the place of {last.id}" in text_of(app)
            await pilot.press("y")
            await settle(app, pilot)
            files = sorted((tmp_path / "inspections").glob("*.toml"))
            assert len(files) == 2
            fresh = next(tomllib.loads(f.read_text(encoding="utf-8")) for f in files if f.stem != last.id)
            assert fresh["corrects"] == last.id
            assert fresh["reason"] == "typed wrong"
            assert next(m for m in fresh["measurement"] if m["position"] == 1)["wear_mm"] == 2.5

    drive(flow)


def test_a_draft_that_cannot_be_kept_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import wearplan.site.write.drafts as drafts
    from wearplan.site import NotWritten

    def refuse(*args: object, **kwargs: object) -> None:
        raise NotWritten(tmp_path, "disk-full", "the disk is full")

    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            monkeypatch.setattr(drafts, "replace_whole", refuse)
            await pilot.press("f4", "n")
            await pilot.pause()
            await pilot.press("escape")
            await type_in(pilot, "n")
            await settle(app, pilot)
            assert "DRAFT NOT KEPT: the disk is full" in text_of(app)

    drive(flow)


KILLED = """
import asyncio, os, sys
from pathlib import Path
from tests.tui.pilot import SMALL, opened, settle, type_in

async def flow():
    async with opened(Path(sys.argv[1]), size=SMALL) as (app, pilot):
        await pilot.press("f4", "n")
        await pilot.pause()
        await type_in(pilot, "600\\n")
        await pilot.press("f10")
        await pilot.pause()
        for _ in range(9):
            await type_in(pilot, "n")
        await settle(app, pilot)
        print("typed", flush=True)
        for _ in range(15):
            await type_in(pilot, "n")
        await asyncio.sleep(60)

asyncio.run(flow())
"""


def test_a_kill_in_the_middle_brings_the_draft_back(tmp_path: Path, own_home: Path) -> None:
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "site.toml").write_text("format = 1\n", encoding="utf-8")
    assert killed_once_it_speaks(KILLED, folder, after_s=0.2) == "typed"

    async def flow() -> None:
        async with opened(folder, size=SMALL) as (app, pilot):
            await pilot.press("f4")
            await settle(app, pilot)
            assert "A draft is here" in text_of(app)
            await pilot.press("r")
            await settle(app, pilot)
            assert 9 <= sheet_of(app).typist.sheet.counts()["not reached"] <= 24
            assert sheet_of(app).typist.sheet.head["ring"] == "600"

    drive(flow)


def test_keys_faster_than_the_screen_land_in_their_fields(tmp_path: Path) -> None:
    from textual import events

    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f4", "n")
            await pilot.pause()
            for sign in HEAD:
                app.post_message(events.Key("enter", "\r") if sign == "\n" else events.Key(sign, sign))
            await settle(app, pilot)
            await pilot.press("f10")
            await pilot.pause()
            head = sheet_of(app).typist.sheet.head
            assert (head["ring"], head["started"], head["mode"]) == ("600", "yesterday 22:10", "f")
            for sign in "n14.5\n\nn":
                app.post_message(events.Key("enter", "\r") if sign == "\n" else events.Key(sign, sign))
            await settle(app, pilot)
            assert sheet_of(app).typist.sheet.tally().startswith("1 of 24 read, 2 not reached")
            assert "draft kept at" in text_of(app)
            assert "cannot be written" not in text_of(app)

    drive(flow)


@pytest.mark.parametrize("size", SIZES)
def test_the_start_page_tells_of_a_draft(tmp_path: Path, size: tuple[int, int]) -> None:
    now = datetime.now().astimezone()
    values = {"head": {"ring": "600"}, "lines": {"1": {"wear": "2"}, "4": {"not_read": "not reached"}}}
    draft = Draft(id="begun", what="inspection", who="", begun_at=now, values=values)

    async def flow() -> None:
        async with opened(tmp_path, size=size) as (app, pilot):
            assert "half typed" not in text_of(app)
            save_draft(tmp_path, draft, now=now)
            await pilot.press("f3", "f2")
            await settle(app, pilot)
            text = " ".join(text_of(app).split())
            assert f"inspection at ring 600, 2 places typed, kept {now:%Y-%m-%d %H:%M}." in text
            assert "F4 then R goes on with it." in text
            await pilot.press("f4", "r")
            await settle(app, pilot)
            assert sheet_of(app).typist.sheet.counts()["read"] == 1

    drive(flow)
