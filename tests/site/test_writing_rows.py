"""Appended rows: whole, once, and after a torn one."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.site.crew import NOW, loaded, ring, small_site
from tests.site.small_site import ADVANCE, HEADER
from wearplan.site.records import Event, SensorWord
from wearplan.site.write.appending import append_event, append_rings, append_sensor_word
from wearplan.site.write.durable import NotWritten


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return small_site(tmp_path / "site")


def numbers(folder: Path) -> list[int]:
    return [row.ring for row in loaded(folder).site.rings]


def test_running_twice_adds_nothing_twice(site: Path) -> None:
    rows = [ring(number) for number in range(55, 70)]
    first, again = append_rings(site, rows), append_rings(site, rows)
    assert (first.added, first.already) == (9, 6)
    assert (again.added, again.already) == (0, 15)
    assert numbers(site) == list(range(1, 70))


def test_doubles_within_one_import_count_once(site: Path) -> None:
    assert append_rings(site, [ring(61), ring(61), ring(62)]).added == 2
    assert numbers(site) == list(range(1, 63))


def test_a_ring_that_differs_is_left_and_named(site: Path) -> None:
    found = append_rings(site, [ring(61)])
    assert found.remarks == ()
    found = append_rings(site, [ring(61, revolutions_boring=99.0)])
    assert (found.added, found.already) == (0, 1)
    assert found.remarks == ("advance.csv has other values for 61: it was left as it is.",)


def test_the_first_rings_make_the_file(site: Path) -> None:
    (site / "advance.csv").unlink()
    append_rings(site, [ring(number, thrust_kn=9000.0, extra={"slurry": "1.5, thick"}) for number in (1, 2)])
    header, *rows = csv.reader((site / "advance.csv").read_text().splitlines())
    assert header == [*HEADER.split(",")[:6], "thrust_kn", "slurry"]
    assert rows[0] == ["1", "100.0", "101.5", NOW.isoformat(), "66.5", "3.25", "9000.0", "1.5, thick"]
    site_rings = loaded(site).site.rings
    assert site_rings[1].extra == {"slurry": "1.5, thick"}
    assert site_rings[1].finished_at == NOW


def test_values_without_a_column_are_left_out_and_named(site: Path) -> None:
    found = append_rings(site, [ring(61, extra={"slurry": "1.5"})])
    assert found.added == 1
    assert "no column slurry" in found.remarks[0]


def test_without_a_column_for_turns_nothing_is_written(site: Path) -> None:
    text = "ring,start_chainage_m,end_chainage_m,rotation_rpm,boring_minutes\n1,100,101.5,2.0,30\n"
    (site / "advance.csv").write_text(text)
    with pytest.raises(NotWritten, match="no column revolutions_boring"):
        append_rings(site, [ring(2)])
    assert (site / "advance.csv").read_text() == text


@settings(max_examples=80, deadline=None)
@given(st.integers(1, 75))
def test_a_row_torn_anywhere_by_a_crash_is_completed(cut: int) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        site = small_site(Path(name) / "site")
        path = site / "advance.csv"
        append_rings(site, [ring(61), ring(62)])
        whole = path.read_bytes()
        path.write_bytes(whole[:-cut])
        append_rings(site, [ring(61), ring(62)])
        assert path.read_bytes() == whole
        assert append_rings(site, [ring(61), ring(62)]).added == 0


def test_a_torn_row_of_something_else_is_closed_off_and_named(site: Path) -> None:
    path = site / "advance.csv"
    path.write_text(ADVANCE + "61,190.0,19")
    found = append_rings(site, [ring(62)])
    assert "had no line end" in found.remarks[0]
    assert path.read_text().splitlines()[61:] == ["61,190.0,19", path.read_text().splitlines()[-1]]
    found = loaded(site)
    assert [row.ring for row in found.site.rings if row.damaged] == [61]
    assert append_rings(site, [ring(61)]).added == 1  # the whole row comes beside the damaged one


def test_an_editor_that_leaves_out_the_last_line_end(site: Path) -> None:
    path = site / "advance.csv"
    path.write_text(ADVANCE + "61,190.00,191.50,2025-11-20T06:40:00+00:00,66.50,3.250,,,,,")
    assert append_rings(site, [ring(61)]).already == 1
    append_rings(site, [ring(61), ring(62)])
    assert numbers(site) == list(range(1, 63))


def test_line_ends_and_marks_of_the_file_are_kept(site: Path) -> None:
    path = site / "advance.csv"
    path.write_bytes(b"\xef\xbb\xbf" + ADVANCE.replace("\n", "\r\n").encode())
    append_rings(site, [ring(60), ring(61)])
    content = path.read_bytes()
    assert content.count(b"\n") == content.count(b"\r\n") == 62


def test_sensor_words(site: Path) -> None:
    proved = SensorWord(position=3, chainage_m=185.0, driven_m=85.0, ring=57, at=NOW, reported_mm=None)
    reported = SensorWord(position=3, chainage_m=190.0, driven_m=90.0, ring=60, at=NOW, reported_mm=12.0)
    assert [append_sensor_word(site, word).added for word in (proved, reported, proved)] == [1, 1, 0]
    words = loaded(site).site.sensor_words[-2:]
    assert [(word.chainage_m, word.ring, word.at, word.reported_mm) for word in words] == [
        (185.0, 57, NOW, None),
        (190.0, 60, NOW, 12.0),
    ]


def test_events_and_their_notes(site: Path) -> None:
    note = 'loud, "hard"\nsecond line \x1b[31mred'
    event = Event(chainage_m=185.0, driven_m=85.0, ring=None, at=None, kind="boulder", note=note)
    assert append_event(site, event).added == 1
    assert append_event(site, event).already == 1
    assert loaded(site).site.events[-1].note == 'loud, "hard" second line red'


def test_an_empty_file_is_not_guessed_at(site: Path) -> None:
    (site / "advance.csv").write_text("")
    with pytest.raises(NotWritten, match="header"):
        append_rings(site, [ring(1)])
