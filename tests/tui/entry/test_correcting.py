"""Correcting one thing of a record changes nothing else of it, whatever keys the format has."""

from __future__ import annotations

import shutil
import tomllib
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from wearplan.site import correct_inspection, load
from wearplan.site.records import Fitting, Inspection, Measurement, Site, StructureReading
from wearplan.tui.entry.record import record_of
from wearplan.tui.entry.sheet import sheet_of

NOW = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
SAMPLE = Path(__file__).parents[3] / "sample_wheel"
HERE = timezone(timedelta(hours=1))
FULL = Inspection(
    id="20300101T0000-full22", number=77, ring=900, chainage_m=1200.0, driven_m=0.0,
    started_at=datetime(2030, 1, 1, 6, 0, 31, tzinfo=HERE), ended_at=datetime(2030, 1, 1, 9, 0, 0, 5000, tzinfo=HERE),
    mode="compressed air", pressure_bar=1.23456, entries=2, person_hours=12.34567, parking_angle_deg=-30.0,
    measured_by="A", entered_by="B", checked_by="C", note="long\nnote",
    taken_from="file.xlsx | one | 00ff",
    measurements=(
        Measurement(
            position=7, wear_mm=4.00001, method="gauge", condition="even", serial="s-7", note="n", taken_from="B7"
        ),
        Measurement(position=3, points_mm=(1.0, 2.5), method="gauge"),
        Measurement(position=4, wear_below_mm=1.0),
        Measurement(position=5, wear_above_mm=25.0),
        Measurement(position=6, not_read="not reached", method="by eye"),
    ),
    fittings=(
        Fitting(
            position=7, action="change", reason="limit", old_serial="other", old_to="rebuild", new_serial="n-1",
            new_tool_type="disc-17", new_batch="K 7", new_wear_mm=3.3, new_rebuilds=2,
            taken_from="C7",
        ),
        Fitting(position=6, action="swap", from_position=1),
        Fitting(position=2, action="change"),
        Fitting(position=2, action="turn"),
    ),
    structure=(StructureReading(point="rim", thickness_mm=74.0),),
)  # fmt: skip
HANDLED = {"id", "driven_m", "corrects", "reason", "damaged", "origin"}


@pytest.fixture(scope="module")
def sample() -> Site:
    site = load(SAMPLE).site
    assert site is not None
    return site


def corrected(site: Site, record: Inspection, **head: str) -> Inspection:
    sheet = sheet_of(record, [place.number for place in site.wheel.positions])
    sheet.head |= {"reason": "typed wrong", **head}
    made, wrong = record_of(sheet, site, "20300102T0000-corr22", NOW)
    assert wrong == []
    assert made is not None
    return made


def test_every_key_of_a_record_is_in_this_test() -> None:
    for records in ([FULL], FULL.measurements, FULL.fittings, FULL.structure):
        for field in fields(records[0]):
            if field.name not in HANDLED:
                assert any(getattr(one, field.name) not in (None, ()) for one in records), field.name


def test_correcting_one_reading_changes_no_other_key(sample: Site) -> None:
    full = replace(FULL, driven_m=sample.drive.driven_m(FULL.chainage_m))
    site = replace(sample, inspections=(*sample.inspections, full))
    sheet = sheet_of(full, [place.number for place in site.wheel.positions])
    sheet.head["reason"] = "typed wrong"
    sheet.put(7, wear="5.5")
    made, wrong = record_of(sheet, site, "new", NOW)
    assert wrong == []
    assert made is not None
    first = replace(full.measurements[0], wear_mm=5.5)
    assert made == replace(
        full, id="new", corrects=full.id, reason="typed wrong", measurements=(first, *full.measurements[1:])
    )


def test_touching_one_field_of_a_fitting_leaves_the_others(sample: Site) -> None:
    full = replace(FULL, driven_m=sample.drive.driven_m(FULL.chainage_m))
    site = replace(sample, inspections=(*sample.inspections, full))
    sheet = sheet_of(full, [place.number for place in site.wheel.positions])
    sheet.head |= {"reason": "typed wrong", "entries": "3"}
    sheet.put(7, new_serial="n-2")
    made, _ = record_of(sheet, site, "new", NOW)
    assert made is not None
    assert made.measurements == full.measurements
    assert made.fittings == (replace(full.fittings[0], new_serial="n-2"), *full.fittings[1:])
    assert (made.entries, made.person_hours, made.started_at) == (3, full.person_hours, full.started_at)


def test_a_damaged_reading_is_asked_for_and_never_dropped(sample: Site) -> None:
    bad = replace(FULL, measurements=(Measurement(position=7, damaged="it is torn"), *FULL.measurements[1:]))
    site = replace(sample, inspections=(*sample.inspections, bad))
    sheet = sheet_of(bad, [place.number for place in site.wheel.positions])
    sheet.head["reason"] = "typed wrong"
    made, wrong = record_of(sheet, site, "new", NOW)
    assert made is None
    assert "place 7" in wrong[0]
    sheet.put(7, wear="5")
    made, wrong = record_of(sheet, site, "new", NOW)
    assert made is not None
    assert made.measurements[0].damaged is None


def test_every_record_of_the_sample_survives_a_correction_of_its_note(sample: Site, tmp_path: Path) -> None:
    shutil.copytree(SAMPLE, tmp_path / "s", dirs_exist_ok=True)
    for record in sample.inspections:
        made = corrected(sample, record, note="another note")
        made = replace(made, id=f"{record.id}c")
        before = tomllib.loads((tmp_path / "s" / record.origin.file).read_text("utf-8"))
        after = tomllib.loads(correct_inspection(tmp_path / "s", record.id, made, "typed wrong").read_text("utf-8"))
        told = {"id", "corrects", "reason", "note"}
        assert {key: value for key, value in after.items() if key not in told} == {
            key: value for key, value in before.items() if key not in told
        }
