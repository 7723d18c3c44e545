"""A night's entry: killed at reading 44, brought back, one place corrected, saved, found wrong, withdrawn."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

from tests.tui.pilot import SMALL, drive, killed_once_it_speaks, opened, rush, settle, text_of
from tests.tui.small import SmallRooms, small_site
from wearplan.site import load_drafts
from wearplan.tui.screens.entry import EntryScreen
from wearplan.tui.screens.log import LogScreen

PLACES = 60
TYPING = """
import asyncio, sys, time
from pathlib import Path
from tests.tui.pilot import SMALL, opened, rush, settle
from tests.tui.small import SmallRooms, small_site

async def flow():
    rooms = SmallRooms(small_site(places=60))
    async with opened(Path(sys.argv[1]), size=SMALL, rooms=rooms) as (app, pilot):
        await pilot.press("f4", "n")
        await rush(app, pilot, "600\\n\\nyesterday 22:10\\n\\nf")
        await pilot.press("f10")
        typist = app.screen.typist
        app.screen.typist.expected = {}
        await rush(app, pilot, "".join(f"{number % 9 + 1}.5\\n" for number in range(43)) + "44")
        await settle(app, pilot)
        print(typist.sheet.counts()["read"], typist.number, flush=True)
        time.sleep(60)

asyncio.run(flow())
"""


def test_a_night(tmp_path: Path, own_home: Path) -> None:
    folder = tmp_path / "site"
    folder.mkdir()
    (folder / "site.toml").write_text("format = 1\n", encoding="utf-8")
    said = killed_once_it_speaks(TYPING, folder).split()
    assert said[0] == "43"

    async def flow() -> None:
        rooms = SmallRooms(small_site(places=PLACES))
        async with opened(folder, size=SMALL, rooms=rooms) as (app, pilot):
            await pilot.press("f4")
            await settle(app, pilot)
            assert "A draft is here" in text_of(app)
            await pilot.press("r")
            await settle(app, pilot)
            screen = app.screen
            assert isinstance(screen, EntryScreen)
            sheet = screen.typist.sheet
            assert sheet.counts()["read"] == 43
            assert screen.typist.number == int(said[1]), "it goes on at the reading it was killed at"
            screen.typist.expected = {}
            await rush(app, pilot, "4.5\n" + "n" * (PLACES - 44))
            fifth = sheet.order[4]
            assert sheet.line(fifth).wear == "5.5"
            await rush(app, pilot, f"g{fifth}\n6.5\n")
            await pilot.press("f10")
            await settle(app, pilot)
            assert "This will be written" in text_of(app)
            await pilot.press("y")
            await settle(app, pilot)
            (path,) = folder.glob("inspections/*.toml")
            whole = path.read_bytes()
            data = tomllib.loads(whole.decode())
            wears = {one["position"]: one.get("wear_mm") for one in data["measurement"]}
            assert sum(value is not None for value in wears.values()) == 44
            assert (wears[fifth], wears[int(said[1])]) == (6.5, 4.5)
            assert load_drafts(folder) == ()

            log = app.screen
            assert isinstance(log, LogScreen)
            assert log._written is not None
            rooms.site = replace(rooms.site, inspections=(*rooms.site.inspections, log._written))
            app.rework("read")
            await settle(app, pilot)
            await pilot.press("enter")
            await pilot.pause()
            assert path.stem in " ".join(text_of(app).split())
            await pilot.press("w")
            await settle(app, pilot, workers=False)
            await rush(app, pilot, "the sheet of another night\n")
            await settle(app, pilot)
            assert path.read_bytes() == whole, "what was written stays as it was"
            (fresh,) = [one for one in folder.glob("inspections/*.toml") if one != path]
            taken = tomllib.loads(fresh.read_text(encoding="utf-8"))
            assert (taken["corrects"], taken["reason"]) == (path.stem, "the sheet of another night")
            assert "measurement" not in taken

    drive(flow)
