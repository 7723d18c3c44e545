"""Reading a sound folder: every record, its place, and the forms a folder may come in."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta, timezone
from types import MappingProxyType

import pytest

from tests.site.small_site import (
    ADVANCE,
    FIRST,
    FIRST_FILE,
    GROUND_FILE,
    HEADER,
    SECOND_FILE,
    SITE,
    changed,
    line_of,
    ring_line,
    texts,
    write,
)
from wearplan.site import load
from wearplan.site.records import Origin, Section, Stratum


@pytest.fixture
def site(tmp_path):
    loaded = load(write(tmp_path, texts()))
    assert [str(fault) for fault in loaded.faults] == []
    return loaded.site


def test_head_and_drive(site):
    assert (site.name, site.invented, site.currency, site.jurisdiction) == ("Test drive", True, "EUR", None)
    assert site.drive.length_m == 300.0
    assert site.pace.advance_doubt == 0.2
    assert site.pace.holidays == (date(2026, 12, 25),)


def test_wheel(site):
    wheel = site.wheel
    assert [position.number for position in wheel.positions] == [1, 2, 3, 4, 5]
    assert wheel.position(3).sensor_mm == (12.0,)
    assert wheel.position(4).row == "S1"
    assert wheel.tool_type("disc-17").change_hours["compressed air"] == 2.5
    assert wheel.gauging[1].method == "by eye"
    assert isinstance(wheel.max_over_limit_probability, MappingProxyType)
    change = wheel.layout_changes[0]
    assert (change.from_m, change.tool_type, change.blanked, change.added) == (150.0, "scraper", False, False)
    assert wheel.position(2).origin == Origin("wheel.toml", line_of(texts()["wheel.toml"], "[[position]]", nth=2))


def test_ground(site):
    ground = site.ground()
    assert ground.known_on == date(2025, 3, 1)
    assert [(section.from_m, section.to_m) for section in ground.sections] == [
        (0.0, 120.0), (120.0, 200.0), (200.0, 210.0), (210.0, 300.0),
    ]  # fmt: skip
    mixed: Section = ground.sections[0]
    assert dict(mixed.mix) == pytest.approx({"SG": 0.7, "CL": 0.3})
    assert ground.sections[1].strata[1] == Stratum(unit="SG", top_m=1.1)
    assert not ground.sections[2].cut
    assert ground.units[0].expected_rate[0].factor == 2.5


def test_stops_and_stores(site):
    assert [window.name for window in site.stops.windows] == ["shaft 3", "block 4"]
    assert site.stops.windows[0].from_m == 80.0
    assert list(site.stops.steps.items()) == [("lower_level", 4.0), ("refill", 5.0)]
    assert [row.up_to_pressure_bar for row in site.stops.entry_rows] == [1.2, 0.0]
    assert site.stops.keep_outs[0].reason == "below the river"
    stock = site.stores.stock[0]
    assert (stock.on_hand, stock.part_worn[0].serial, stock.on_order[0].quantity) == (14, "D-0212", 20)


def test_rings(site):
    assert len(site.rings) == 60
    row = site.rings[1]
    assert (row.ring, row.start_m, row.end_m, row.revolutions_boring, row.regime) == (2, 1.5, 3.0, 66.0, "normal")
    assert row.finished_at == datetime(2025, 11, 17, 22, 10, tzinfo=timezone(timedelta(hours=1)))
    assert row.origin == Origin("advance.csv", 3)
    assert row.damaged is None


def test_inspections(site):
    first, second = site.inspections
    assert (first.id, first.ring, first.driven_m, first.mode) == ("20251110T0640-aaaa", 20, 30.0, "compressed air")
    wear = [reading.wear_mm for reading in first.measurements]
    assert wear == [3.5, None, None, None, None]
    assert first.measurements[1].points_mm == (4.0, 5.5, 4.0)
    assert first.measurements[2].not_read == "not reached"
    assert first.measurements[3].wear_below_mm == 1.0
    assert first.measurements[4].wear_above_mm == 25.0
    assert first.measurements[4].origin == Origin(FIRST_FILE, line_of(FIRST, "[[measurement]]", nth=5))
    assert first.fittings[0].old_to == "scrap"
    assert first.structure[0].thickness_mm == 78.0
    assert second.fittings[0].from_position == 2
    assert not site.corrected


def test_words_and_events(site):
    proved, reported = site.sensor_words
    assert (proved.reported_mm, reported.reported_mm) == (None, 12.0)
    assert (reported.driven_m, reported.ring) == (70.0, 47)
    assert (site.events[0].kind, site.events[0].note) == ("boulder", "loud for a minute")


def test_bom_and_carriage_returns_change_nothing(tmp_path, site):
    files = {
        name: b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode() for name, text in texts().items()
    }  # fmt: skip
    loaded = load(write(tmp_path / "windows", files))
    assert loaded.faults == ()
    for part in ("wheel", "grounds", "stops", "stores", "rings", "inspections", "sensor_words", "events", "drive"):
        assert getattr(loaded.site, part) == getattr(site, part), part
    assert loaded.site.inputs_sha256 != site.inputs_sha256


def test_sum_of_inputs_follows_every_file(tmp_path):
    first = load(write(tmp_path / "a", texts())).site.inputs_sha256
    assert load(write(tmp_path / "b", texts())).site.inputs_sha256 == first
    sums = {first}
    for name in texts():
        files = texts()
        files[name] += "\n"
        sums.add(load(write(tmp_path / name.replace("/", "-"), files)).site.inputs_sha256)
    assert len(sums) == len(texts()) + 1


def _falling(files):
    """The same drive with falling chainage: 400 stands for 100 and so on."""

    def turn(match):
        return f"{match.group(1)}{500.0 - float(match.group(2)):.3f}"

    for name, text in files.items():
        if name.endswith(".toml"):
            files[name] = re.sub(r"(chainage_m = )([\d.]+)", turn, text)
    files["advance.csv"] = "\n".join([HEADER, *(ring_line(r, first_m=400.0, sign=-1) for r in range(1, 61))]) + "\n"
    for name, column in (("sensors.csv", 1), ("events.csv", 0)):
        lines = [line.split(",") for line in files[name].rstrip().split("\n")]
        for cells in lines[1:]:
            cells[column] = f"{500.0 - float(cells[column]):.3f}"
        files[name] = "\n".join(",".join(cells) for cells in lines) + "\n"
    return files


def test_falling_chainage_gives_the_same_drive(tmp_path, site):
    loaded = load(write(tmp_path / "falling", _falling(texts())))
    assert [str(fault) for fault in loaded.faults] == []
    other = loaded.site
    assert other.drive.sign == -1
    for ours, theirs in (
        (site.ground().sections, other.ground().sections),
        (site.stops.windows, other.stops.windows),
        (site.stops.keep_outs, other.stops.keep_outs),
    ):
        assert [one.from_m for one in ours] == pytest.approx([one.from_m for one in theirs])
        assert [one.to_m for one in ours] == pytest.approx([one.to_m for one in theirs])
    assert [row.end_m for row in other.rings] == pytest.approx([row.end_m for row in site.rings])
    assert [one.driven_m for one in other.inspections] == pytest.approx([30.0, 60.0])
    assert [word.driven_m for word in other.sensor_words] == pytest.approx([50.0, 70.0])


EQUATION = "\n[[chainage_equation]]\nback_m = 145.0\nahead_m = {}\n"


@pytest.mark.parametrize(("ahead", "length"), [(155.0, 290.0), (135.0, 310.0)])
def test_equation_moves_what_lies_ahead(tmp_path, ahead, length):
    """At 145 m the chainage jumps on (or back) by 10 m; rings are logged with the chainage then in force."""
    files = texts()
    files["site.toml"] = SITE + EQUATION.format(ahead)
    jump = ahead - 145.0
    lines = [HEADER]
    for ring in range(1, 61):
        start, end = 100.0 + 1.5 * (ring - 1), 100.0 + 1.5 * ring
        cells = ring_line(ring).split(",")
        cells[1], cells[2] = (f"{at + (jump if at > 145.0 else 0.0):.3f}" for at in (start, end))
        lines.append(",".join(cells))
    files["advance.csv"] = "\n".join(lines) + "\n"
    for name in (FIRST_FILE, SECOND_FILE, "sensors.csv", "events.csv"):
        files[name] = re.sub(r"\b(150|160|170)\.0", lambda found: f"{float(found[0]) + jump}", files[name])
    loaded = load(write(tmp_path, files))
    assert [str(fault) for fault in loaded.faults] == []
    site = loaded.site
    assert site.drive.length_m == length
    assert [row.end_m for row in site.rings] == pytest.approx([1.5 * ring for ring in range(1, 61)])
    assert [one.driven_m for one in site.inspections] == pytest.approx([30.0, 60.0])
    assert site.ground().sections[-1].to_m == length


def test_stop_at_a_chainage_that_occurs_twice_is_where_its_ring_is(tmp_path):
    """At 145 m the chainage goes back to 135: 139.5 m is reached by ring 27, and once more by ring 33."""
    files = texts()
    files["site.toml"] = SITE + EQUATION.format(135.0)
    lines = [HEADER]
    for ring in range(1, 61):
        cells = ring_line(ring).split(",")
        start, end = (at - (10.0 if at > 145.0 else 0.0) for at in (float(cells[1]), float(cells[2])))
        lines.append(",".join([cells[0], f"{start:.3f}", f"{end:.3f}", *cells[3:]]))
    files["advance.csv"] = "\n".join(lines) + "\n"
    for ring, driven_m in ((27, 39.5), (33, 49.5)):
        files[FIRST_FILE] = FIRST.replace("ring = 20", f"ring = {ring}").replace("130.0", "139.5")
        site = load(write(tmp_path / str(ring), files)).site
        found = next(one for one in site.inspections if one.origin.file == FIRST_FILE)
        assert found.driven_m == pytest.approx(driven_m)


def test_ends_within_a_millimetre_are_the_drive_s_ends(tmp_path):
    stops = texts()["stops.toml"].replace("to_chainage_m = 340.0", "to_chainage_m = 400.0009")
    stops = stops.replace("from_chainage_m = 180.0", "from_chainage_m = 99.9991")
    loaded = changed(tmp_path, stops__toml=stops)
    assert loaded.faults == ()
    assert loaded.site.stops.windows[0].from_m == 0.0
    assert loaded.site.stops.windows[1].to_m == 300.0


def test_chainage_that_an_equation_skips_is_named(tmp_path):
    loaded = changed(tmp_path, site__toml=SITE + EQUATION.format(225.0), advance__csv=HEADER + "\n")
    assert any("jumps over" in fault.what and fault.file == GROUND_FILE for fault in loaded.faults)


def test_window_at_a_chainage_that_occurs_twice_is_named(tmp_path):
    """From 230 m the chainage goes back to 150: the window at 180 to 186 m may lie at either place."""
    equation = "\n[[chainage_equation]]\nback_m = 230.0\nahead_m = 150.0\n"
    loaded = changed(tmp_path, site__toml=SITE + equation)
    twice = [fault for fault in loaded.faults if fault.code == "chainage-twice"]
    assert {fault.place for fault in twice} >= {"[[window]] from_chainage_m", "[[window]] to_chainage_m"}
    assert all(fault.forbids == ("plan", "demand") for fault in twice)
    assert loaded.site.stops is None


def test_times_without_offset_are_utc_and_named(tmp_path):
    loaded = changed(tmp_path, advance__csv=ADVANCE.replace("+01:00", ""))
    assert [fault.code for fault in loaded.faults] == ["no-offset"]
    assert loaded.site.rings[0].finished_at == datetime(2025, 11, 17, 22, 10, tzinfo=UTC)


def test_speed_and_minutes_stand_in_for_turns(tmp_path):
    rows = ["ring,start_chainage_m,end_chainage_m,finished_at,rotation_rpm,boring_minutes", "1,100.0,101.5,,2.0,33.0"]
    loaded = changed(tmp_path, advance__csv="\n".join(rows))
    assert loaded.site.rings[0].revolutions_boring == 66.0
    assert loaded.site.rings[0].damaged is None


def test_further_columns_are_kept(tmp_path):
    lines = ADVANCE.rstrip().split("\n")
    text = "\n".join([f"{lines[0]},foam_l", *(f"{line},{at}" for at, line in enumerate(lines[1:]))])
    loaded = changed(tmp_path, advance__csv=text)
    assert loaded.faults == ()
    assert loaded.site.rings[7].extra["foam_l"] == "7"


def test_factors_of_the_wheel(tmp_path):
    files = texts()
    files["wheel.toml"] = files["wheel.toml"].replace(
        "bore_diameter_m", 'factors = ["regime", "foam_l", "penetration"]\nbore_diameter_m', 1
    )
    loaded = load(write(tmp_path, files))
    assert [(fault.code, fault.forbids) for fault in loaded.faults] == [("unknown-factor", ())]
    assert loaded.site.wheel.factors == ("regime", "penetration")


def test_order_is_by_the_drive_not_by_the_clock(tmp_path):
    files = texts()
    files[SECOND_FILE] = files[SECOND_FILE].replace("2025-11-17T22:10:00+01:00", "2020-01-01T00:00:00Z")
    site = load(write(tmp_path, files)).site
    assert [one.id for one in site.inspections] == ["20251110T0640-aaaa", "20251118T0640-bbbb"]


def test_newest_ground_is_last_whatever_the_file_names(tmp_path):
    files = texts()
    files["ground/0000-later.toml"] = files[GROUND_FILE].replace("2025-03-01", "2025-09-01")
    site = load(write(tmp_path, files)).site
    assert site.ground().known_on == date(2025, 9, 1)
    assert site.ground(date(2025, 6, 1)).known_on == date(2025, 3, 1)
    assert site.ground(date(2024, 6, 1)) is None
