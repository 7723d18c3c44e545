# ruff: noqa: E501
"""The app over the real rooms: the same numbers as the JSON, an empty site, changes on disk, stock, papers."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.tui.pilot import LARGE, SMALL, drive, opened, settle, text_of, type_in
from tests.tui.small import SmallRooms, small_plan, small_site
from wearplan.plan import Wishes
from wearplan.report.bodies import outlook_body, plain_data, plan_body, rates_body
from wearplan.report.tables.table import Band, shown
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
            assert "face at 0+100.0" in text
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


def test_the_first_frame_pays_for_none_of_the_heavy_rooms() -> None:
    code = (
        "import sys, wearplan.tui.app, wearplan.tui.screens.start;"
        "print([m for m in ('numpy', 'scipy', 'sklearn', 'pydantic', 'tomlkit', 'highspy') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_no_plan_that_keeps_the_rules_is_said_with_what_clashes(tmp_path: Path) -> None:
    from dataclasses import replace

    from wearplan.plan import Clash

    class None_(SmallRooms):
        def plan(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
            clash = Clash(
                rule="cap", places=("23",), positions=(23,), from_m=900.0, to_m=1200.0, from_chainage_m=1000.0,
                to_chainage_m=1300.0, sentence="Place 23 passes its limit between 1+000.0 and 1+300.0, and no window lies there.",
            )  # fmt: skip
            plan = replace(
                small_plan(Wishes()), status="impossible", stops=(), expected_cost=None, lower_bound=None, gap=None,
                deferral=(), tradeoff=(), comparison=(), why_impossible=clash,
            )  # fmt: skip
            return {"plan": plan, "free_plan": plan}

    async def flow() -> None:
        async with opened(tmp_path, rooms=None_()) as (app, pilot):
            assert "no plan keeps the rules" in text_of(app)
            await pilot.press("f7")
            text = " ".join(text_of(app).split())
            assert "Place 23 passes its limit between 1+000.0 and 1+300.0" in text
            for key in ("enter", "f", "x", "right_square_bracket", "u", "w"):
                await pilot.press(key)
            assert "The plan has no stop." in text_of(app)
            await pilot.press("f8")
            assert app.is_running

    drive(flow)


def test_past_outlooks_are_tested_on_request_and_told_in_words(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=LARGE) as (app, pilot):
            await pilot.press("f5", "b")
            await settle(app, pilot)
            text = " ".join(text_of(app).split())
            assert "120 readings were foretold" in text
            assert "too high" in text
            assert "90 %" in text

    drive(flow)


def test_past_outlooks_of_a_drive_without_any_are_told_in_words(tmp_path: Path) -> None:
    from wearplan.wear.scoring.hindsight import Backtest, remarks_on, summarise

    class NoPast(SmallRooms):
        def backtest(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
            return {"backtest": Backtest(methods=summarise([]), stops=0, cases=(), remarks=remarks_on([]))}

    async def flow() -> None:
        async with opened(tmp_path, size=LARGE, rooms=NoPast()) as (app, pilot):
            await pilot.press("f5", "b")
            await settle(app, pilot)
            text = " ".join(text_of(app).split())
            assert "No past stop could be tested." in text
            assert "too few stops with readings" in text

    drive(flow)


def test_another_site_is_opened_from_the_recent_ones(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()

    async def flow() -> None:
        async with opened(other) as (app, pilot):
            await pilot.press("ctrl+q")
        async with opened(tmp_path) as (app, pilot):
            await pilot.press("o")
            await pilot.pause()
            assert "Small drive [red]" in text_of(app)
            await pilot.press("enter")
            await settle(app, pilot)
            assert app.snapshot.folder == other.resolve()
            assert app.snapshot.plan is not None

    drive(flow)


def test_wear_typed_in_inches_is_kept_in_inches_and_written_in_millimetres(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text("format = 1\n", encoding="utf-8")

    async def flow() -> None:
        async with opened(tmp_path, settings=Settings(us=True)) as (app, pilot):
            await pilot.press("f4", "n")
            await pilot.pause()
            await type_in(pilot, "600\n\nyesterday 22:10\n\nf")
            await pilot.press("f10", "ctrl+u")
            await pilot.pause()
            await type_in(pilot, "0.2\n")
            await pilot.press("f10")
            await pilot.pause()
            await pilot.press("y")
            await settle(app, pilot)
            text = next((tmp_path / "inspections").glob("*.toml")).read_text(encoding="utf-8")
            assert "wear_mm = 5.08" in text

    drive(flow)


def filled(record: Any, **given: Any) -> Any:
    """A record with every field the test says nothing of filled by its kind."""
    from dataclasses import MISSING, fields
    from datetime import date

    from tests.tui.small import quantiles

    kinds = {
        "Quantiles": quantiles(6.0), "float": 6.0, "int": 6, "str": "x", "bool": False, "date": date(2026, 6, 1),
        "date | None": None, "float | None": None, "int | None": None,
    }  # fmt: skip
    found = {}
    for field in fields(record):
        if field.name not in given and field.default is MISSING and field.default_factory is MISSING:
            found[field.name] = kinds.get(str(field.type), ())
    return record(**found, **given)


def test_the_store_tells_what_to_order_and_draws_the_stock(tmp_path: Path) -> None:
    from datetime import date

    from textual.widgets import TabbedContent

    from wearplan.demand import Action, Demand, Period, StockLine

    class WithDemand(SmallRooms):
        def demand(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
            period = filled(Period, month="2026-06", tool_type="disc-17")
            words = {"tool_type": "disc-17", "quantity": 8, "why": "not needed 9 in 100"}
            order = filled(Action, what="order", now=True, sure=True, low=8, high=8, **words)
            dates = (date(2026, 6, 1), date(2026, 7, 1), date(2026, 8, 1))
            line = filled(
                StockLine,
                tool_type="disc-17",
                dates=dates,
                p05=(4.0, 0.0, -3.0),
                p50=(4.0, 2.0, 0.0),
                p95=(4.0, 4.0, 3.0),
            )
            return {
                "demand": filled(
                    Demand,
                    drives=("x",),
                    currency="EUR",
                    service=0.95,
                    periods=(period,),
                    orders=(order,),
                    stock_lines=(line,),
                    warnings=("disc-17: 12 were due on 2026-05-01",),
                )
            }

    async def flow() -> None:
        async with opened(tmp_path, rooms=WithDemand(), size=LARGE) as (app, pilot):
            await pilot.press("f8")
            await pilot.pause()
            text = " ".join(text_of(app).split())
            assert "! To do before the next look: order 8 disc-17 by 2026-06-01." in text
            assert "nine in ten, if nothing more is ordered" in text
            assert "9 in 100" in text
            assert "░" in text
            app.screen.query_one("#store-tabs", TabbedContent).active = "pane-warnings"
            await pilot.pause()
            assert "12 were due on 2026-05-01" in " ".join(text_of(app).split())

    drive(flow)
