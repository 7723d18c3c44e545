"""What is written reads back the same; what the format would refuse is refused before it is written."""

from __future__ import annotations

import dataclasses
import math
import tempfile
from datetime import date, datetime, timedelta, timezone
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.site.crew import NOW, inspection, loaded, small_site
from wearplan.site import records
from wearplan.site.parse.safe_text import bare_cell, clean_text, file_word, safe_cell
from wearplan.site.records import (
    NOWHERE,
    ExpectedRate,
    Fitting,
    Ground,
    Inspection,
    Measurement,
    Section,
    Stratum,
    StructureReading,
    Unit,
)
from wearplan.site.records.naming import new_inspection_id
from wearplan.site.write.durable import NotWritten
from wearplan.site.write.writing import correct_inspection, undo_correction, write_ground, write_inspection

lines = st.text(max_size=40).map(lambda text: " ".join(clean_text(text).split())).filter(lambda text: text != "?")
names = lines.filter(lambda text: text not in ("", "?"))
mm = st.floats(0, 200)  # less than any tool of the small wheel can lose
optional = st.none()
positions = st.integers(1, 5)
ways = st.one_of(
    st.fixed_dictionaries({"wear_mm": mm}),
    st.fixed_dictionaries({"points_mm": st.lists(mm, min_size=1, max_size=6).map(tuple)}),
    st.fixed_dictionaries({"wear_below_mm": st.floats(0, 200, exclude_min=True)}),
    st.fixed_dictionaries({"wear_above_mm": mm}),
    st.fixed_dictionaries({"not_read": st.sampled_from(records.NOT_READ)}),
)
measurements = st.builds(
    lambda way, **rest: Measurement(**way, **rest),
    ways,
    position=positions,
    method=st.sampled_from((None, "gauge", "by eye")),
    condition=optional | st.sampled_from(records.CONDITIONS),
    serial=optional | names,
    note=optional | lines.filter(bool),
)
fittings = st.builds(
    Fitting,
    position=positions,
    action=st.just("change"),
    reason=optional | st.sampled_from(records.REASONS),
    old_serial=optional | names,
    old_to=optional | st.sampled_from(("rebuild", "scrap", "shelf")),
    new_serial=optional | names,
    new_tool_type=optional | st.just("disc-17"),
    new_batch=optional | names,
    new_wear_mm=optional | mm,
    new_rebuilds=optional | st.integers(0, 9),
)
moments = st.datetimes(datetime(2000, 1, 1), datetime(2100, 1, 1)).map(
    lambda moment: moment.replace(tzinfo=timezone(timedelta(minutes=60)))
)


@st.composite
def inspections(draw: st.DrawFn) -> Inspection:
    """Any stop of the small site that the format can say."""
    ring = draw(st.integers(1, 60))
    started = draw(moments)
    return Inspection(
        id=new_inspection_id(NOW),
        number=draw(optional | st.integers(0, 1000)),
        ring=ring,
        chainage_m=100 + 1.5 * ring,
        driven_m=1.5 * ring,
        started_at=started,
        ended_at=draw(optional | st.timedeltas(timedelta(0), timedelta(days=3)).map(lambda took: started + took)),
        mode=draw(st.sampled_from(records.MODES)),
        pressure_bar=draw(optional | st.floats(0, 5)),
        entries=draw(optional | st.integers(1, 20)),
        person_hours=draw(optional | st.floats(0, 1000)),
        parking_angle_deg=draw(optional | st.floats(0, 359)),
        measured_by=draw(optional | lines.filter(bool)),
        entered_by=draw(optional | lines.filter(bool)),
        checked_by=draw(optional | lines.filter(bool)),
        note=draw(optional | st.text(max_size=60).map(clean_text).filter(bool)),
        measurements=tuple(draw(st.lists(measurements, max_size=5, unique_by=lambda one: one.position))),
        fittings=tuple(draw(st.lists(fittings, max_size=3, unique_by=lambda one: one.position))),
        structure=tuple(draw(st.just(()) | st.just((StructureReading(point="rim-1", thickness_mm=74.5),)))),
    )


def bare(one: Inspection) -> Inspection:
    """The inspection without word of where each record was read."""
    return dataclasses.replace(
        one,
        origin=NOWHERE,
        measurements=tuple(dataclasses.replace(found, origin=NOWHERE) for found in one.measurements),
        fittings=tuple(dataclasses.replace(found, origin=NOWHERE) for found in one.fittings),
        structure=tuple(dataclasses.replace(found, origin=NOWHERE) for found in one.structure),
    )


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(inspections())
def test_an_inspection_reads_back_the_same(written: Inspection) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = small_site(Path(name) / "site")
        write_inspection(folder, written)
        read = next(one for one in loaded(folder).site.inspections if one.id == written.id)
    assert bare(read) == bare(written)


def test_the_ground_reads_back_the_same_and_the_earlier_one_stays(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    ground = Ground(
        known_on=date(2025, 12, 1),
        source="face mapping = rings 1-60 / näher",
        units=(
            Unit(code="SG", name="sandy gravel", cai=2.6, boulders=True),
            Unit(code="RK", name="rock", expected_rate=(ExpectedRate(kind="disc", mm_per_km=0.05, factor=2.0),)),
        ),
        sections=(
            Section(from_chainage_m=100, to_chainage_m=300, from_m=0, to_m=200, mix={"SG": 0.25, "RK": 0.75}),
            Section(
                from_chainage_m=300, to_chainage_m=390, from_m=200, to_m=290, water_head_m=11.0,
                strata=(Stratum(unit="SG"), Stratum(unit="RK", top_m=-1.5)),
            ),
            Section(from_chainage_m=390, to_chainage_m=400, from_m=290, to_m=300, cut=False),
        ),
    )  # fmt: skip
    first, second = write_ground(folder, ground), write_ground(folder, ground)
    assert first.name.startswith("0002-20251201-face-mapping")
    assert second.name.startswith("0003-")
    found = loaded(folder)
    assert [str(fault) for fault in found.faults if fault.file.startswith("ground/000") and fault.forbids] == []
    assert len(found.site.grounds) == 3
    read = found.site.ground()
    plain = dataclasses.replace(
        read,
        origin=NOWHERE,
        units=tuple(dataclasses.replace(unit, origin=NOWHERE) for unit in read.units),
        sections=tuple(dataclasses.replace(section, origin=NOWHERE) for section in read.sections),
    )
    assert plain == ground


def test_a_correction_replaces_and_both_stay(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    new = inspection()
    write_inspection(folder, new)
    before = (folder / "inspections" / f"{new.id}.toml").read_bytes()
    better = dataclasses.replace(new, measurements=new.measurements[:2])
    path = correct_inspection(folder, new.id, better, "three were read at another wheel")
    site = loaded(folder).site
    held = next(one for one in site.inspections if one.corrects == new.id)
    assert held.id == path.stem != new.id
    assert (held.reason, len(held.measurements)) == ("three were read at another wheel", 2)
    assert [one.id for one in site.corrected] == [new.id]
    assert (folder / "inspections" / f"{new.id}.toml").read_bytes() == before


def test_undo_is_a_further_correction(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    earlier = next(one for one in loaded(folder).site.inspections if one.id == "20251110T0640-aaaa")
    correction = correct_inspection(folder, earlier.id, dataclasses.replace(earlier, measurements=()), "a slip")
    undone = undo_correction(folder, correction.stem, "it was right", now=NOW)
    site = loaded(folder).site
    held = next(one for one in site.inspections if one.id == undone.stem)
    assert {one.id for one in site.corrected} == {earlier.id, correction.stem}
    assert bare(held) == dataclasses.replace(bare(earlier), id=held.id, corrects=correction.stem, reason="it was right")


def test_an_original_is_taken_back_by_a_further_record_and_can_come_back(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    standing = loaded(folder).site.inspections
    wrong = standing[-1]
    before = (folder / "inspections" / f"{wrong.id}.toml").read_bytes()
    path = undo_correction(folder, wrong.id, "another wheel's sheet", now=NOW, note="said by A")
    site = loaded(folder).site
    assert [one.id for one in site.inspections] == [one.id for one in standing[:-1]]
    taken = next(one for one in site.corrected if one.id == path.stem)
    assert (taken.corrects, taken.reason, taken.measurements) == (wrong.id, "another wheel's sheet", ())
    assert taken.note.endswith("said by A")
    assert (folder / "inspections" / f"{wrong.id}.toml").read_bytes() == before
    back = undo_correction(folder, path.stem, "it was this wheel after all", now=NOW)
    assert bare(loaded(folder).site.inspections[-1]).measurements == bare(wrong).measurements
    assert loaded(folder).site.inspections[-1].id == back.stem


def test_corrections_need_a_reason_a_record_and_its_newest_form(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    old = "20251110T0640-aaaa"
    with pytest.raises(NotWritten, match="needs its reason"):
        correct_inspection(folder, old, inspection(), "  \x1b[0m ")
    with pytest.raises(NotWritten, match="no inspection nobody-knows"):
        correct_inspection(folder, "nobody-knows", inspection(), "why")
    first = correct_inspection(folder, old, inspection(), "a slip")
    with pytest.raises(NotWritten, match=f"corrected already by {first.stem}"):
        correct_inspection(folder, old, inspection(), "another slip")


def test_writing_again_after_an_unclear_answer_doubles_nothing(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    new = inspection()
    assert write_inspection(folder, new) == write_inspection(folder, new)
    other = dataclasses.replace(new, ring=51)
    with pytest.raises(NotWritten) as refusal:
        write_inspection(folder, other)
    assert refusal.value.fault.code == "exists"
    assert [one.ring for one in loaded(folder).site.inspections if one.id == new.id] == [50]


@pytest.mark.parametrize(
    ("reading", "told"),
    [
        (Measurement(position=1), "needs just one of"),
        (Measurement(position=1, wear_mm=1.0, not_read="not reached"), "needs just one of"),
        (Measurement(position=1, wear_mm=math.nan), "is no number"),
        (Measurement(position=1, wear_mm=-0.5), "must be at least 0"),
        (Measurement(position=1, wear_mm=5000.0), "at most 1000"),
        (Measurement(position=1, wear_below_mm=0.0), "must be above 0"),
        (Measurement(position=1, wear_below_mm=-1.0), "must be above 0"),
        (Measurement(position=1, wear_mm=1.0, condition="fine"), "none of the words known here"),
        (Measurement(position=1, not_read="no"), "none of the words known here"),
        (Measurement(position=1, wear_mm=1.0, damaged="torn"), "enter it anew"),
    ],
)
def test_what_the_format_cannot_say_is_not_written(tmp_path: Path, reading: Measurement, told: str) -> None:
    folder = small_site(tmp_path / "site")
    before = sorted((folder / "inspections").iterdir())
    with pytest.raises(NotWritten, match=told):
        write_inspection(folder, dataclasses.replace(inspection(), measurements=(reading,)))
    assert sorted((folder / "inspections").iterdir()) == before


def test_ids_are_not_alike_within_a_minute() -> None:
    made = {new_inspection_id(NOW) for _ in range(2000)}
    assert len(made) == 2000
    assert all(name.startswith("20251120T0640-") for name in made)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("ring \x1b[31mlost\x1b[0m", "ring lost"),
        ("\x1b]8;;http://x\x07link\x1b]8;;\x07", "link"),
        ("\x1b]0;title\x1b\\seen", "seen"),
        ("\x9b2Jgone", "gone"),
        ("a\x07b\x00c", "abc"),
        ("abc\u202edef", "abcdef"),
        ("see [photo 12] <b>", "see [photo 12] <b>"),
        ("two\r\nlines\rthree", "two\nlines\nthree"),
        ("Größe Ω 漢字", "Größe Ω 漢字"),
    ],
)
def test_text_cannot_steer_a_terminal_and_keeps_what_was_typed(typed: str, kept: str) -> None:
    assert clean_text(typed) == kept


@given(st.text())
def test_cleaning_is_done_once(text: str) -> None:
    assert clean_text(clean_text(text)) == clean_text(text)
    assert "\x1b" not in clean_text(text)


@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+cmd", "@SUM(A1)", "\t=1", "  =1", "＝1", "|x", "%0A"])
def test_a_spreadsheet_runs_no_cell(text: str) -> None:
    assert safe_cell(text) == "'" + text
    assert bare_cell(safe_cell(text)) == text


@pytest.mark.parametrize("text", ["-1.5", "+2", "9,5", "D-0188", "", "'tis", "<1", "1e5"])
def test_plain_cells_stay(text: str) -> None:
    assert safe_cell(text) == text
    assert bare_cell(text) == text


@given(st.text())
def test_a_cell_comes_back_as_it_went(text: str) -> None:
    if not (text.startswith("'") and safe_cell(text[1:]) == text):
        assert bare_cell(safe_cell(text)) == text


@given(st.text())
def test_a_word_for_a_file_is_harmless(text: str) -> None:
    assert not set(file_word(text)) - set("abcdefghijklmnopqrstuvwxyz0123456789-")


def test_times_without_whole_minutes_of_offset_are_kept_as_utc(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    odd = datetime(2025, 11, 1, 12, 0, tzinfo=timezone(timedelta(minutes=53, seconds=28)))
    new = dataclasses.replace(inspection(), started_at=odd)
    write_inspection(folder, new)
    read = next(one for one in loaded(folder).site.inspections if one.id == new.id)
    assert read.started_at == odd
    assert read.started_at.utcoffset() == timedelta(0)
