"""Taking files in from the app: questions by dialog, the preview, and what is then on record."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.take import office
from tests.take.test_layouts import ENGLISH, LOG, SAID, matrix_down
from tests.take.test_writing import ANSWERS, TYPES
from tests.tui.pilot import SIZES, drive, opened, settle, text_of, type_in
from tests.tui.small import SmallRooms
from wearplan.cli.main import main
from wearplan.site import load
from wearplan.tui.widgets.dialogs import Ask, Choose, Confirm

pytest.importorskip("openpyxl")


class FolderRooms(SmallRooms):
    """The folder as it is; answers that take long from the small site."""

    def read(self, snapshot: Any, progress: Any, should_stop: Any) -> dict[str, Any]:
        loaded = load(snapshot.folder)
        return {"site": loaded.site, "faults": loaded.faults}


@pytest.mark.parametrize("size", SIZES)
def test_next_months_workbook_is_taken_in_by_keys(tmp_path: Path, size: tuple[int, int]) -> None:
    rows = [["Wear, used, radial, mm"], *matrix_down()]
    first = [*rows[:2], *[row[:-1] for row in rows[2:]]]
    sheets = {"Layout": [*SAID, *ENGLISH], "Types": TYPES, "Log": LOG, "Wear": first}
    (tmp_path / "a.toml").write_text(ANSWERS)
    folder = tmp_path / "site"
    book = office.save(tmp_path / "all.xlsx", sheets)
    assert main(["new", str(folder), "--from", str(book), "--mapping", str(tmp_path / "a.toml"), "--yes"]) == 0
    rows[6][4] = 330.0  # a lost decimal point at the new stop
    later = office.save(tmp_path / "next.xlsx", {"Wear": rows})

    async def flow() -> None:
        async with opened(folder, size=size, rooms=FolderRooms()) as (app, pilot):
            await pilot.press("f4", "t")
            await pilot.pause()
            assert isinstance(app.screen, Ask)
            await type_in(pilot, "nowhere.xlsx\n")
            assert "There is no file" in text_of(app)
            app.screen.query_one("Input").value = str(later)
            await pilot.press("enter")
            await wait_for(app, pilot, Choose)
            assert "lost decimal point" in app.screen._question
            await pilot.pause(0.2)
            await pilot.press("enter")
            await wait_for(app, pilot, Confirm)
            assert "Would be written" in "\n".join(app.screen._lines)
            await pilot.press("y")
            await settle(app, pilot)
            assert len(app.snapshot.site.inspections) == 4

    drive(flow)
    assert "33" in next(p for p in (folder / "inspections").iterdir() if "ring = 80\n" in p.read_text()).read_text()


@pytest.mark.parametrize("size", SIZES)
def test_what_is_held_back_can_be_accepted_with_a_reason(tmp_path: Path, size: tuple[int, int]) -> None:
    wear = [["Wear, used, radial, mm"], *matrix_down()]
    sheets = {"Layout": [*SAID, *ENGLISH], "Types": TYPES, "Log": LOG, "Wear": wear}
    (tmp_path / "a.toml").write_text(ANSWERS)
    folder = tmp_path / "site"
    book = office.save(tmp_path / "all.xlsx", sheets)
    assert main(["new", str(folder), "--from", str(book), "--mapping", str(tmp_path / "a.toml"), "--yes"]) == 0
    step = [b - a if isinstance(a, int | float) else None for a, b in zip(LOG[-2], LOG[-1], strict=True)]
    odd = [[a + n * d if d is not None else a for a, d in zip(LOG[-1], step, strict=True)] for n in (1, 2)]
    odd[0][0], odd[1][0] = 1860, 1990
    later = office.save(tmp_path / "log.xlsx", {"Log": [*LOG, *odd]})

    async def flow() -> None:
        async with opened(folder, size=size, rooms=FolderRooms()) as (app, pilot):
            await pilot.press("f4", "t")
            await pilot.pause()
            app.screen.query_one("Input").value = str(later)
            await pilot.press("enter")
            await wait_for(app, pilot, Choose)
            assert "contradicts" in app.screen._question
            await pilot.pause(0.2)
            await pilot.press("down", "enter")
            await wait_for(app, pilot, Ask)
            await type_in(pilot, "A. Lead\n")
            await pilot.pause(0.2)
            await type_in(pilot, "\n")
            assert "not accepted without a reason" in text_of(app)
            await type_in(pilot, "new numbers\n")
            await wait_for(app, pilot, Choose)
            await pilot.pause(0.2)
            assert "1 thing" in app.screen._question
            await pilot.press("enter")
            await wait_for(app, pilot, Confirm)
            assert "Not written, since the folder contradicts it (1)" in "\n".join(app.screen._lines)
            await pilot.press("y")
            await settle(app, pilot)

    drive(flow)
    site = load(folder).site
    assert len({1860, 1990} & {row.ring for row in site.rings}) == 1
    assert [event.note for event in site.events if "A. Lead" in event.note and "new numbers" in event.note]


async def wait_for(app: Any, pilot: Any, kind: type) -> None:
    for _ in range(200):
        if isinstance(app.screen, kind):
            return
        await pilot.pause(0.05)
    raise AssertionError(f"no {kind.__name__}: {text_of(app)}")
