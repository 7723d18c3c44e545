"""Times without an offset are of the site's clock, wherever the program runs."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.site.crew import small_site
from tests.site.small_site import SITE, changed
from wearplan.site import load
from wearplan.site.parse.typed import moment
from wearplan.site.records.clock import placed, zone_of
from wearplan.site.sheets.filled import read_filled_sheet
from wearplan.site.write.edits import keep_time_zone

BERLIN_LIKE = "CET"  # an entry of the IANA database that puts its clocks forward


def test_offsets_and_names() -> None:
    assert zone_of("+05:30").utcoffset(None) == timedelta(hours=5, minutes=30)
    assert zone_of("-0400").utcoffset(None) == -timedelta(hours=4)
    for bad in ("+15:00", "+1", "here", "../etc/passwd", ""):
        with pytest.raises(ValueError, match="no time zone known"):
            zone_of(bad)


def test_the_hour_the_clocks_skip_is_refused() -> None:
    zone = zone_of(BERLIN_LIKE)
    assert placed(datetime(2026, 3, 29, 1, 30), zone).isoformat() == "2026-03-29T01:30:00+01:00"
    assert placed(datetime(2026, 3, 29, 3, 30), zone).isoformat() == "2026-03-29T03:30:00+02:00"
    with pytest.raises(ValueError, match="skipped"):
        placed(datetime(2026, 3, 29, 2, 30), zone)
    told = datetime(2026, 3, 29, 2, 30, tzinfo=UTC)
    assert placed(told, zone) is told


def test_a_time_at_the_end_of_all_calendars_fails_in_no_zone() -> None:
    for zone in ("+14:00", "-12:00", BERLIN_LIKE):
        assert placed(moment("9999-12-31 23:59"), zone_of(zone)).year == 9999


def test_a_zone_nobody_knows_is_named_and_left_out(tmp_path: Path) -> None:
    loaded = changed(tmp_path, site__toml='time_zone = "Nowhere/Here"\n' + SITE)
    assert loaded.site is not None
    assert loaded.site.time_zone is None
    (fault,) = [fault for fault in loaded.faults if fault.code == "time-zone"]
    assert "+01:00" in fault.what
    assert not fault.forbids


def test_a_sheet_takes_the_site_s_clock_and_says_nothing(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    keep_time_zone(folder, "-07:00")
    site = load(folder).site
    assert site is not None
    assert site.now().utcoffset() == -timedelta(hours=7)
    sheet = tmp_path / "sheet.csv"
    sheet.write_text("place,wear_mm\n1,9\n", encoding="utf-8")
    ring = next(row for row in site.rings if row.end_chainage_m is not None)
    head = {"ring": str(ring.ring), "started": "20.11.2025 06:10", "mode": "free air"}
    read = read_filled_sheet(sheet, site, head=head, now=site.now())
    assert read.inspection is not None
    assert read.inspection.started_at.isoformat() == "2025-11-20T06:10:00-07:00"
    assert not [remark for remark in read.remarks if "offset" in remark]
