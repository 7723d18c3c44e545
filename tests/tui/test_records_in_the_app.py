"""The life of a record in the app: read whole, taken back, a draft discarded on purpose, events and sensor words."""

from __future__ import annotations

import csv
import tomllib
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from tests.tui.pilot import SMALL, drive, opened, rush, settle, text_of
from tests.tui.small import SmallRooms
from wearplan.site import Draft, load_drafts, save_draft, undo_correction, write_inspection
from wearplan.tui.screens.record import RecordScreen


@pytest.fixture(autouse=True)
def site_folder(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text("format = 1\n", encoding="utf-8")


def words(app: object) -> str:
    return " ".join(text_of(app).split())  # type: ignore[arg-type]


def test_a_record_is_read_whole_and_taken_back_with_a_reason(tmp_path: Path) -> None:
    rooms = SmallRooms()
    last = rooms.site.inspections[-1]
    write_inspection(tmp_path, last)

    async def flow() -> None:
        async with opened(tmp_path, size=SMALL, rooms=rooms) as (app, pilot):
            await pilot.press("f4", "enter")
            await pilot.pause()
            assert isinstance(app.screen, RecordScreen)
            shown = "\n".join(app.screen._lines)
            assert last.id in words(app)
            for one in last.measurements:
                assert f"{one.position:>4}  " + (one.not_read or f"{one.wear_mm:g} mm") in shown
            assert "C correct" in words(app)
            await pilot.press("w")
            await settle(app, pilot, workers=False)
            assert f"Why is {last.id}" in words(app)
            await rush(app, pilot, "\n")
            await pilot.pause()
            assert len(list(tmp_path.glob("inspections/*.toml"))) == 1, "not without a reason"
            await rush(app, pilot, "another wheel\n")
            await settle(app, pilot)
            texts = [path.read_text(encoding="utf-8") for path in tmp_path.glob("inspections/*.toml")]
            fresh = next(text for text in texts if "corrects" in text)
            assert len(texts) == 2
            assert f'corrects = "{last.id}"' in fresh
            assert 'reason = "another wheel"' in fresh
            assert "[[measurement]]" not in fresh

    drive(flow)


def test_a_record_is_corrected_from_where_it_is_read(tmp_path: Path) -> None:
    rooms = SmallRooms()
    write_inspection(tmp_path, rooms.site.inspections[-1])

    async def flow() -> None:
        async with opened(tmp_path, size=SMALL, rooms=rooms) as (app, pilot):
            await pilot.press("f4", "enter")
            await pilot.pause()
            await pilot.press("c")
            await pilot.pause()
            assert f"Why is {rooms.site.inspections[-1].id} corrected?" in words(app)

    drive(flow)


def test_what_was_taken_back_is_shown_and_can_be_brought_back(tmp_path: Path) -> None:
    rooms = SmallRooms()
    *others, last = rooms.site.inspections
    path = write_inspection(tmp_path, last)
    taken = undo_correction(tmp_path, last.id, "another wheel", now=datetime.now().astimezone())
    back = replace(last, id=taken.stem, corrects=last.id, reason="another wheel", measurements=())
    rooms.site = replace(rooms.site, inspections=tuple(others), corrected=(last, back))

    async def flow() -> None:
        async with opened(tmp_path, size=(200, 30), rooms=rooms) as (app, pilot):
            await pilot.press("f4")
            await settle(app, pilot)
            assert f"replaced by {taken.stem}" in words(app)
            assert f"takes {last.id} back" in words(app)
            await pilot.press("end", "w")
            await pilot.pause()
            assert "choose that one" in words(app)
            await pilot.press("up", "w")
            await settle(app, pilot, workers=False)
            assert f"{last.id} holds again" in words(app)
            await rush(app, pilot, "it was ours\n")
            await settle(app, pilot)
            fresh = [one for one in tmp_path.glob("inspections/*.toml") if one not in (path, taken)]
            data = tomllib.loads(fresh[0].read_text(encoding="utf-8"))
            assert data["corrects"] == taken.stem
            assert len(data["measurement"]) == len(last.measurements)

    drive(flow)


def test_a_draft_is_discarded_only_on_purpose(tmp_path: Path) -> None:
    now = datetime.now().astimezone()
    draft = Draft(id="begun", what="inspection", who="", begun_at=now, values={"lines": {"1": {"wear": "2"}}})
    save_draft(tmp_path, draft, now=now)

    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f4")
            await settle(app, pilot)
            await pilot.press("d")
            await pilot.pause()
            assert "Discard this draft?" in words(app)
            await pilot.press("escape")
            assert len(load_drafts(tmp_path)) == 1
            await pilot.press("d", "y")
            await settle(app, pilot)
            assert load_drafts(tmp_path) == ()
            assert "A draft is here" not in words(app)
            await pilot.press("d")
            await pilot.pause()
            assert "This row is no draft" in words(app)

    drive(flow)


def test_an_event_is_written_from_the_app_and_a_wrong_time_asked_about(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f4", "e")
            await settle(app, pilot, workers=False)
            await rush(app, pilot, "boulder\n")
            await settle(app, pilot, workers=False)
            await rush(app, pilot, "\n")
            await settle(app, pilot, workers=False)
            await rush(app, pilot, "01.01.2999 06:00\n")
            await settle(app, pilot, workers=False)
            await rush(app, pilot, "bang\n")
            await settle(app, pilot, workers=False)
            assert "[future-time]" in words(app)
            await pilot.press("n")
            await settle(app, pilot)
            assert not (tmp_path / "events.csv").exists()
            await pilot.press("e")
            for said in ("boulder\n", "\n", "\n", "bang\n"):
                await settle(app, pilot, workers=False)
                await rush(app, pilot, said)
            await settle(app, pilot, workers=False)
            assert "This event will be written" in words(app)
            await pilot.press("y")
            for _ in range(200):
                await pilot.pause(0.01)
                if (tmp_path / "events.csv").exists():
                    break
            with (tmp_path / "events.csv").open(encoding="utf-8") as file:
                rows = list(csv.DictReader(file))
            assert [(row["ring"], row["kind"], row["note"]) for row in rows] == [("600", "boulder", "bang")]

    drive(flow)


def test_a_sensor_word_is_written_from_the_app(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            await pilot.press("f4", "s")
            await settle(app, pilot, workers=False)
            assert "place 7, at 12 mm" in words(app)
            await pilot.press("enter")
            await settle(app, pilot, workers=False)
            await rush(app, pilot, "reported 11\n")
            await pilot.pause()
            assert "reports at 12 mm, not at 11 mm" in words(app)
            await pilot.press(*["backspace"] * 2)
            for said in ("12\n", "\n", "\n"):
                await rush(app, pilot, said)
                await settle(app, pilot, workers=False)
            assert "This word will be written" in words(app)
            await pilot.press("y")
            await settle(app, pilot)
            assert (tmp_path / "sensors.csv").read_text(encoding="utf-8").count("reported 12") == 1

    drive(flow)
