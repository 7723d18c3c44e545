"""The gate: true records pass, slips are caught by name, and `--yes` alone writes nothing contradicted."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from wearplan.cli.main import main
from wearplan.gate import contradicted, judge
from wearplan.site import load
from wearplan.site.records import Fitting, Inspection, Measurement

SAMPLE = Path(__file__).parents[2] / "sample_wheel"
NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def site():
    return load(SAMPLE).site


def stop(**facts) -> Inspection:
    true = {
        "id": "20261120T1200-new1",
        "ring": 1200,
        "chainage_m": 1980.0,
        "started_at": datetime(2026, 11, 20, 6, tzinfo=UTC),
        "ended_at": datetime(2026, 11, 20, 12, tzinfo=UTC),
        "mode": "compressed air",
        "pressure_bar": 1.4,
    }
    true |= facts
    return Inspection(**true, driven_m=abs(true["chainage_m"] - 180.0))


def names(site, inspection) -> set[str]:
    return {each.name for each in contradicted(judge(site, inspection, now=NOW))}


def change(position: int, **facts) -> Fitting:
    return Fitting(position=position, action="change", **facts)


def test_true_records_replayed_raise_no_contradiction(site):
    for index, true in enumerate(site.inspections):
        rings = tuple(row for row in site.rings if row.ring <= true.ring)
        as_then = replace(site, inspections=site.inspections[:index], rings=rings)
        assert names(as_then, true) == set(), true.id
        assert names(site, true) == set(), true.id


def test_a_true_stop_a_true_move_and_a_swap_pass(site):
    swap = Fitting(position=9, action="swap", from_position=10)
    moved = (Fitting(position=21, action="move", from_position=9), change(9, new_serial="D-0238"))
    assert names(site, stop()) == set()
    assert names(site, stop(fittings=(swap,))) == set()
    assert names(site, stop(fittings=moved)) == set()


def day(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def at(started: str, ended: str | None = None) -> dict[str, datetime | None]:
    return {"started_at": day(started), "ended_at": day(ended) if ended else None}


SLIPS = {
    "ring of a month back": ({"ring": 1020}, "ring-and-chainage"),
    "ring and chainage of a month back": ({"ring": 1020, "chainage_m": 1710.0}, "date-after-ring"),
    "a digit too many in the ring": ({"ring": 12000}, "ring-and-chainage"),
    "chainage 2+980": ({"chainage_m": 2980.0}, "ring-and-chainage"),
    "year 2027": (at("2027-11-20T06:00"), "future-start"),
    "chainage 2+980 and year 2027": ({"chainage_m": 2980.0} | at("2027-11-20T06:00"), "future-start"),
    "year 2025": (at("2025-11-20T06:00"), "date-before-ring"),
    "month and day turned": (at("2026-11-02T06:00"), "date-before-ring"),
    "ends next month": (at("2026-11-20T06:00", "2026-12-20T12:00"), "future-end"),
    "ends before it starts": (at("2026-11-20T06:00", "2026-11-20T05:00"), "ends-before-start"),
    "before the last stop ended": (at("2026-11-16T12:00"), "order-of-stops"),
    "beyond what the pace reaches": ({"ring": 1500, "chainage_m": 2430.0}, "beyond-the-log"),
    "a stop of five days in one ring": (
        {"ring": 1180, "chainage_m": 1950.0} | at("2026-11-17T18:00", "2026-11-22T18:00"), "longer-than-rings",
    ),
    "pressure in free air": ({"mode": "free air"}, "mode-and-pressure"),
    "no pressure in compressed air": ({"pressure_bar": 0.0}, "mode-and-pressure"),
    "serial that stands at 21": ({"fittings": (change(9, new_serial="D-0238"),)}, "serial-elsewhere:9"),
    "one serial at two places": (
        {"fittings": (change(61, new_serial="S-0900"), change(63, new_serial="S-0900"))}, "serial-twice:63",
    ),
    "in mixed gas where the window is free air of its own": (
        {"chainage_m": 1978.5, "mode": "free air", "pressure_bar": None, "ring": 1199}, "mode-and-window",
    ),
    "4.1 for 1.4 bar": ({"pressure_bar": 4.1}, "pressure-and-window"),
    "a move from a place there is none of": (
        {"fittings": (Fitting(position=9, action="move", from_position=999),)}, "forbids-no-source",
    ),
    "a place beyond the drive": ({"chainage_m": 99980.0}, "forbids-outside-drive"),
    "seized on a bucket": ({"measurements": (Measurement(position=111, not_read="seen, not measured",
                                                         condition="seized"),)}, "condition:111"),
    "removed serial of another place": ({"fittings": (change(21, old_serial="D-0239"),)}, "removed-serial:21"),
    "removed serial with two digits turned": ({"fittings": (change(21, old_serial="D-0283"),)}, "removed-serial:21"),
    "a scraper's type on a disc's place": ({"fittings": (change(27, new_tool_type="scraper-flat"),)}, "kind:27"),
    "a disc's type on a bucket's place": ({"fittings": (change(111, new_tool_type="disc-17"),)}, "kind:111"),
    "swap between kinds": ({"fittings": (Fitting(position=9, action="swap", from_position=61),)}, "kind:9"),
    "move between kinds": ({"fittings": (Fitting(position=111, action="move", from_position=61),)}, "kind:111"),
    "ring lost on a scraper": ({"measurements": (Measurement(position=61, wear_mm=3.0, condition="ring lost"),)},
                               "condition:61"),
    "serial seen that stands elsewhere": ({"measurements": (Measurement(position=9, wear_mm=3.0, serial="D-0238"),)},
                                          "seen-elsewhere:9"),
}  # fmt: skip


@pytest.mark.parametrize("slip", SLIPS)
def test_a_slip_is_caught(site, slip):
    facts, name = SLIPS[slip]
    assert name in names(with_window(site), stop(**facts))


def with_window(site):
    """The sample with a window of 1.4 bar round the place of `stop`."""
    here = {"from_m": 1790.0, "to_m": 1810.0, "mode": "compressed air", "pressure_bar": 1.4}
    window = replace(site.stops.windows[0], name="W", **here)
    return replace(site, stops=replace(site.stops, windows=(window,)))


def test_a_true_stop_in_its_window_passes_and_other_modes_under_pressure_too(site):
    inside = with_window(site)
    assert names(inside, stop()) == set()
    assert names(inside, stop(pressure_bar=1.9)) == set(), "within a bar"
    assert names(inside, stop(mode="mixed gas", pressure_bar=1.4)) == set(), "deeper modes are the site's to say"


def test_flat_of_a_scraper_is_asked_about_and_a_reading_of_a_blank_place_refused(site):
    flat = judge(site, stop(measurements=(Measurement(position=61, wear_mm=3.0, condition="flat"),)), now=NOW)
    assert [(each.name, each.kind) for each in flat] == [("condition:61", "odd")]
    blank = replace(site.inspections[-1], fittings=(Fitting(position=61, action="blank"),))
    after = replace(site, inspections=(*site.inspections[:-1], blank))
    assert names(after, stop(measurements=(Measurement(position=61, wear_mm=3.0),))) == {"nothing-there:61"}
    assert names(after, stop(measurements=(Measurement(position=61, not_read="not reached"),))) == set()


def test_a_clock_behind_the_log_is_not_believed(site):
    early = min(row.finished_at for row in site.rings if row.finished_at) - timedelta(days=1)
    assert contradicted(judge(site, stop(), now=early)) == ()


def test_a_correction_is_judged_without_the_record_it_replaces(site):
    last = site.inspections[-1]
    again = replace(last, id="20261121T0000-corr", corrects=last.id)
    assert names(site, again) == set()


def test_yes_alone_writes_nothing_contradicted_and_acceptance_is_kept(tmp_path, capsys):
    folder = tmp_path / "site"
    shutil.copytree(SAMPLE, folder)
    sheet = tmp_path / "filled.csv"
    sheet.write_text(
        "ring,1020\nchainage_m,1980\nstarted_at,2026-11-20T06:00+00:00\nmode,free air\nentered_by,A. Lead\n"
        "place,wear_mm\n9,16.5\n",
        encoding="utf-8",
    )
    before = sorted(folder.rglob("*"))
    words = ["log", str(folder), str(sheet), "--yes", "--no-bands"]
    assert main([*words, "--json"]) == 1
    out, err = capsys.readouterr()
    found = json.loads(out)
    found = [each["name"] for each in found.get("body", found)["contradicted"]]
    assert "ring-and-chainage" in found
    assert "ring-and-chainage" in err
    assert sorted(folder.rglob("*")) == before
    accepted = [word for name in found for word in ("--accept", name)]
    assert main([*words, *accepted]) != 0, "without a why"
    assert main([*words, *accepted, "--because", "the log was renumbered"]) == 0
    kept = [each for each in load(folder).site.inspections if each.ring == 1020]
    assert "A. Lead" in kept[0].note
    assert "the log was renumbered" in kept[0].note
    assert "ring-and-chainage" in kept[0].note


def test_the_gate_loads_no_heavy_library():
    code = "import sys, wearplan.gate; sys.exit('scipy' in sys.modules or 'sklearn' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
