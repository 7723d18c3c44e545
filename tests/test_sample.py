"""`sample_wheel/` is what its generator makes, and holds what it is meant to show."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.simulate.sample import Sample, build, texts

FOLDER = Path(__file__).resolve().parents[1] / "sample_wheel"


@pytest.fixture(scope="module")
def sample() -> Sample:
    return build()


def test_regenerating_gives_the_same_bytes():
    made = {name: text.encode() for name, text in texts().items()}
    found = {
        path.relative_to(FOLDER).as_posix(): path.read_bytes()
        for path in FOLDER.rglob("*")
        if path.is_file() and not any(part.startswith(".") for part in path.relative_to(FOLDER).parts)
    }
    assert sorted(found) == sorted(made)
    assert [name for name in made if made[name] != found[name]] == []


def test_size_of_the_drive(sample):
    site = sample.site
    kinds = [site.wheel.tool_type(p.tool_type).kind for p in site.wheel.positions]
    assert 45 <= kinds.count("disc") <= 60
    assert len(kinds) - kinds.count("disc") >= 40
    for kind in set(kinds):
        assert 2 <= len({t.code for t in site.wheel.tool_types if t.kind == kind}) <= 3
    assert 2500.0 <= site.drive.length_m <= 3500.0
    assert sample.truth.run.face_m / site.drive.length_m == pytest.approx(0.6, abs=0.05)
    assert 15 <= len(site.inspections) <= 25
    assert sum(len(i.fittings) for i in site.inspections) >= 200
    assert len(site.grounds) == 3
    assert site.invented
    assert site.wheel.layout_changes


def test_it_shows_what_a_site_meets(sample):
    site = sample.site
    measurements = [m for i in site.inspections for m in i.measurements]
    assert any(m.points_mm for m in measurements)
    assert any(m.wear_below_mm for m in measurements)
    assert any(m.wear_above_mm for m in measurements)
    assert {m.not_read for m in measurements} >= {"not reached", "not looked at"}
    assert {m.method for m in measurements} >= {"gauge", "by eye"}
    assert {f.action for i in site.inspections for f in i.fittings} >= {"change", "move", "swap"}
    assert {w.mode for w in site.stops.windows} == {"free air", "compressed air"}
    assert all("not for use" in row.document for row in site.stops.entry_rows)
    face = sample.truth.run.face_m
    for window in site.stops.windows:
        assert not any(k.from_m < window.to_m and window.from_m < k.to_m for k in site.stops.keep_outs)
    assert sum(window.from_m > face for window in site.stops.windows) >= 12
