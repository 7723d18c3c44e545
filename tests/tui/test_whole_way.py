"""The app over the real rooms: the same numbers as the JSON, an empty site, changes on disk, stock, papers."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from tests.tui.pilot import LARGE, SMALL, drive, opened, settle, text_of, type_in
from tests.tui.small import SmallRooms, small_site
from wearplan.report.bodies import outlook_body, plain_data, plan_body, rates_body
from wearplan.report.table import Band, shown
from wearplan.site import new_folder
from wearplan.tui.keep import Settings, read_settings, settings_file
from wearplan.tui.rooms import Rooms
from wearplan.tui.widgets.tableview import TableView

SAMPLE = Path(__file__).resolve().parents[2] / "sample_wheel"


class QuickRooms(Rooms):
    """The real rooms on the small site; the plan without what takes long."""

    def read(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
        return SmallRooms().read(snapshot, progress, should_stop)

    def plan(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
        from dataclasses import replace

        from wearplan.plan import Wishes

        quick = replace(snapshot.wishes or Wishes(), tradeoff=False, comparison=False, deferral=False, time_limit_s=5.0)
        found = super().plan(snapshot.having(wishes=quick), progress, should_stop)
        return {"plan": found["plan"], "free_plan": found["plan"]}


def test_the_screens_show_the_numbers_of_the_json(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE, rooms=QuickRooms()) as (app, pilot):
            snapshot = app.snapshot
            assert snapshot.fit is not None, [job.words for job in snapshot.troubled]
            await pilot.press("f5")
            rates = json.loads(json.dumps(plain_data(rates_body(snapshot.fit))))["rates"]
            table = app.screen.query_one("#table-rates", TableView).table
            assert table is not None
            assert len(table.rows) == len(rates)
            for row, rate in zip(table.rows, rates, strict=True):
                assert row[:2] == (rate["kind"], rate["unit"])
                band = rate["mm_per_km"]
                assert row[2] == Band(band["p05"], band["p50"], band["p95"])
                assert shown(row[2], "sig") in text_of(app)
            assert snapshot.outlook is not None
            body = json.loads(json.dumps(plain_data(outlook_body(snapshot.outlook, 1000.0))))
            await pilot.press("f3")
            for tool in body["tools"][:6]:
                await type_in(pilot, str(tool["position"]))
                await pilot.pause()
                text = text_of(app)
                assert f"Place {tool['position']} " in text
                assert f"{tool['wear_now_mm']['p50']:.1f} of {tool['limit_mm']:.1f} mm" in text
                app.screen._typed = ""  # type: ignore[attr-defined]
            await pilot.press("f6", "w")
            await pilot.pause()
            chances = {one["position"]: one["over_limit_probability"] for one in body["at"]["tools"]}
            assert f"{sum(chances.values()):.1f} tools expected" in text_of(app)
            assert snapshot.plan is not None, [job.words for job in snapshot.troubled]
            plan = json.loads(json.dumps(plain_data(plan_body(snapshot.plan))))
            await pilot.press("f7")
            listed = app.screen.query_one("#stops-list", TableView).table
            assert listed is not None
            assert [row[0] for row in listed.rows] == [
                f"{stop['chainage_m'] / 1000:.4f}"[:1] + f"+{stop['chainage_m'] % 1000:05.1f}" for stop in plan["stops"]
            ]
            for stop in plan["stops"]:
                assert stop["window"] in text_of(app)

    drive(flow)


def test_a_site_without_rings_or_readings(tmp_path: Path) -> None:
    class Bare(Rooms):
        def read(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
            from dataclasses import replace

            site = replace(small_site(inspections=0), rings=(), folder=snapshot.folder, stops=None, stores=None)
            return {"site": site, "faults": ()}

    async def flow() -> None:
        async with opened(tmp_path, size=SMALL, rooms=Bare()) as (app, pilot):
            text = " ".join(text_of(app).split())
            assert "0 m driven of 1 500 m" in text
            assert "No inspection is recorded yet: F4 logs the first one." in text
            for key in ("f3", "f4", "f5", "f6", "f7", "f8", "f9"):
                await pilot.press(key)
                await pilot.pause()
                await pilot.pause()
            await pilot.press("f3")
            assert "Not read" in text_of(app) or "not read" in text_of(app) or "?" in text_of(app)

    drive(flow)


def test_a_folder_from_new_opens_with_what_the_site_must_say(tmp_path: Path) -> None:
    folder = tmp_path / "fresh"
    new_folder(folder)

    async def flow() -> None:
        async with opened(folder, size=SMALL, rooms=Rooms()) as (app, pilot):
            for key in ("f2", "f3", "f4", "f5", "f6", "f7", "f8", "f9"):
                await pilot.press(key)
                await pilot.pause()
            assert app.is_running
            assert ":" in text_of(app), "each fault has its place"

    drive(flow)


def test_changes_on_disk_are_noticed(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text("format = 1\n", encoding="utf-8")

    async def flow() -> None:
        rooms = SmallRooms()
        async with opened(tmp_path, rooms=rooms) as (app, pilot):
            assert rooms.calls.count("read") == 1
            app._look_at_disk()
            (tmp_path / "advance.csv").write_text("ring\n", encoding="utf-8")
            app._watch()
            await settle(app, pilot)
            assert rooms.calls.count("read") == 2
            app._watch()
            await settle(app, pilot)
            assert rooms.calls.count("read") == 2

    drive(flow)


@pytest.mark.skipif(not (SAMPLE / "stores.toml").is_file(), reason="needs the sample")
def test_stock_is_edited_and_comments_stay(tmp_path: Path) -> None:
    for name in ("site.toml", "stores.toml"):
        shutil.copy(SAMPLE / name, tmp_path / name)
    before = (tmp_path / "stores.toml").read_text(encoding="utf-8")

    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f8")
            app.screen.query_one("#store-tabs").active = "pane-stock"  # type: ignore[attr-defined]
            await pilot.pause()
            app.screen.query_one("#table-stock").focus()
            await pilot.press("e")
            await pilot.pause()
            assert "Stock of disc-17" in text_of(app)
            await pilot.press("end", "backspace", "9", "f10")
            await settle(app, pilot)
            after = (tmp_path / "stores.toml").read_text(encoding="utf-8")
            assert after == before.replace("on_hand = 14", "on_hand = 9", 1), (
                "one value changed, comments and order as they were"
            )

    drive(flow)


def test_stock_changed_by_someone_else_is_not_overwritten(tmp_path: Path) -> None:
    for name in ("site.toml", "stores.toml"):
        shutil.copy(SAMPLE / name, tmp_path / name)

    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f8")
            app.screen.query_one("#store-tabs").active = "pane-stock"  # type: ignore[attr-defined]
            await pilot.pause()
            app.screen.query_one("#table-stock").focus()
            await pilot.press("e")
            await pilot.pause()
            path = tmp_path / "stores.toml"
            theirs = path.read_text(encoding="utf-8").replace("in_rebuild = 6", "in_rebuild = 3", 1)
            path.write_text(theirs, encoding="utf-8")
            await pilot.press("end", "7", "f10")
            await pilot.pause()
            text = text_of(app)
            assert "changed by someone else" in text
            assert "in_rebuild = 3" in text
            assert path.read_text(encoding="utf-8") == theirs

    drive(flow)


def test_sheet_and_pack_are_written_where_the_user_started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "out"
    out.mkdir()
    monkeypatch.chdir(out)

    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f7", "t", "down", "enter")
            await settle(app, pilot)
            sheet = next(out.glob("wearplan-sheet-*.csv")).read_text(encoding="utf-8")
            assert len(sheet.splitlines()) >= 25
            await pilot.press("w")
            await pilot.press("enter")
            await pilot.pause()
            assert "say who has read the cautions" in text_of(app)
            await type_in(pilot, "A. Reader\n")
            await settle(app, pilot)
            packs = list(out.glob("wearplan-pack-*/*"))
            assert {path.name for path in packs} >= {"pack.md", "pack.html", "sheet.csv"}
            assert "A. Reader" in next(p for p in packs if p.name == "pack.md").read_text(encoding="utf-8")

    drive(flow)


def test_settings_are_read_and_what_is_wrong_in_them_is_named() -> None:
    path = settings_file()
    path.parent.mkdir(parents=True)
    path.write_text('display = "US"\ncolour = 3\n[keys]\nwheel.next = "m"\nwheel.nxt = "q"\n', encoding="utf-8")
    settings = read_settings(frozenset({"wheel.next"}))
    assert settings.us
    assert settings.keys == {"wheel.next": "m"}
    assert len(settings.faults) == 2
    path.write_text("display = [", encoding="utf-8")
    assert "not used" in read_settings(frozenset()).faults[0]


def test_plain_signs_leave_none_but_plain_ones(tmp_path: Path) -> None:
    async def flow() -> None:
        from textual.color import Color

        async with opened(tmp_path, size=LARGE, settings=Settings(plain_signs=True)) as (app, pilot):
            for key in ("f3", "f6", "f7"):
                await pilot.press(key)
                await pilot.pause()
                for line in app.screen._compositor.render_strips():
                    for one in app._filters:
                        line = line.apply_filter(one, Color.parse("#101418"))
                    assert line.text.isascii(), (key, line.text)

    drive(flow)


def test_no_animation_over_ssh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from wearplan.tui.app import WearplanApp

    monkeypatch.setenv("SSH_CONNECTION", "10.0.0.1 22 10.0.0.2 22")
    monkeypatch.delenv("TEXTUAL_ANIMATIONS", raising=False)
    assert WearplanApp(tmp_path, settings=Settings()).animation_level == "none"
