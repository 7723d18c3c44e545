"""The check while typing: it follows results, says when it is off, and says the same as the one at F10."""

from __future__ import annotations

from pathlib import Path

from tests.tui.pilot import SMALL, drive, opened, settle, text_of, type_in
from tests.tui.small import SmallRooms
from wearplan.report.preview import odd_readings
from wearplan.site.records import Inspection
from wearplan.tui.display import Display
from wearplan.tui.entry.expecting import Expectations, basis_before, odd
from wearplan.tui.entry.record import measurement_of
from wearplan.tui.entry.sheet import Line, Sheet
from wearplan.tui.entry.words import read_wear
from wearplan.tui.screens.entry import EntryScreen
from wearplan.tui.state import Snapshot


def test_results_that_arrive_while_one_types_are_followed(tmp_path: Path) -> None:
    async def flow() -> None:
        async with opened(tmp_path, size=SMALL) as (app, pilot):
            outlook = app.snapshot.outlook
            app.snapshot = app.snapshot.having(outlook=None)
            await pilot.press("f4", "n", "escape")
            await pilot.pause()
            assert "live check off" in text_of(app)
            await type_in(pilot, "45\n")
            screen = app.screen
            assert isinstance(screen, EntryScreen)
            assert screen.typist.at == 1, "nothing to hold it against"
            app.snapshot = app.snapshot.having(outlook=outlook)
            app.tell()
            await settle(app, pilot)
            assert "live check off" not in text_of(app)
            assert screen.typist.sheet.line(screen.typist.sheet.order[0]).wear == "45"
            await type_in(pilot, "45\n")
            assert screen.typist.at == 1
            assert "outside" in text_of(app)

    drive(flow)


def test_a_correction_is_held_against_the_folder_without_its_record_and_both_checks_agree(tmp_path: Path) -> None:
    rooms = SmallRooms()
    site = rooms.site
    snapshot = Snapshot(folder=tmp_path, site=site)
    snapshot = snapshot.having(**rooms.history(snapshot, None, None))
    last = site.inspections[-1]
    basis = basis_before(snapshot, last, rooms)
    assert basis.outlook is not None, basis.why_off
    assert last.id not in {r.inspection_id for life in basis.current.values() for r in life.readings}
    assert last.id in {r.inspection_id for life in snapshot.history.current.values() for r in life.readings}
    sheet = Sheet(order=tuple(int(n) for n in basis.layout.numbers))
    known = Expectations(basis, sheet, last.driven_m)
    asked = 0
    for number in sheet.order[:8]:
        for typed in ("0.5", "3", "6", "12", "20", "<1", ">30", "4 5 6"):
            measured = measurement_of(number, Line(wear=typed), None)
            record = Inspection(
                id="new", ring=last.ring, chainage_m=last.chainage_m, driven_m=last.driven_m, mode=last.mode,
                started_at=last.started_at, measurements=(measured,), corrects=last.id,
            )  # fmt: skip
            later = {one.code for one in odd_readings(site, record, basis.current, basis.outlook)}
            live = odd(read_wear(typed), known[number], Display())
            assert bool(live) == bool(later & {"outside", "falling"}), (number, typed, live, later)
            asked += bool(live)
    assert 0 < asked < 64
