"""The log of rings mended: whatever is wrong with it, the advance adds up."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.history.small import RING_M, make_ground, make_site, make_wheel, read, ring, stop
from wearplan.history import clean_rings, face_m, lives, measure_exposure
from wearplan.site.records import Origin, RingRow

BAD = float("nan")


def adds_up(site) -> None:
    rings = clean_rings(site)
    assert rings.start_m[0] == 0.0
    assert rings.start_m[1:] == pytest.approx(rings.end_m[:-1], abs=0.0)
    assert (rings.end_m > rings.start_m).all()
    assert rings.face_m == face_m(site)
    assert np.isfinite(rings.turns_boring).all()
    assert np.isfinite(rings.turns_idle).all()
    assert ((rings.ccw_share >= 0) & (rings.ccw_share <= 1)).all()
    exposure = measure_exposure(site, rings)
    assert 0.0 <= exposure.advance_m().sum() <= rings.face_m + 1e-3


def test_a_sound_log_is_taken_as_written():
    rings = clean_rings(make_site(400))
    assert rings.notes == ()
    assert list(rings.number) == list(range(1, 401))
    assert rings.penetration_mm == pytest.approx(20.0)
    assert not rings.imputed.any()
    assert rings.ring_at(15.0) == 10
    assert rings.ring_at(15.1) == 11


def damaged_rows(draw_ring: int, how: str) -> list[RingRow]:
    row = ring(draw_ring)
    empty = dict.fromkeys(("start_m", "end_m", "start_chainage_m", "end_chainage_m"))
    return {
        "missing": [],
        "doubled": [row, replace(row, revolutions_boring=80.0)],
        "no chainage": [replace(row, **empty, damaged="text in a number")],
        "no turns": [replace(row, revolutions_boring=None)],
        "nan turns": [replace(row, revolutions_boring=BAD, revolutions_idle=BAD)],
        "negative turns": [replace(row, revolutions_boring=-3.0, revolutions_idle=-1.0)],
        "a digit too many": [replace(row, revolutions_boring=75_000.0)],
        "far away": [replace(row, start_m=row.start_m + 1000.0, end_m=row.end_m + 1000.0)],
        "end far away": [replace(row, end_m=99_999.0)],
        "backwards": [replace(row, start_m=row.end_m, end_m=row.start_m)],
        "no advance": [replace(row, end_m=row.start_m)],
        "overlap": [replace(row, end_m=row.end_m + 0.9)],
        "infinite": [replace(row, end_m=float("inf"))],
        "wrong number": [replace(row, ring=draw_ring + 5000)],
        "share": [replace(row, revolutions_ccw_share=7.0)],
    }[how]


HOWS = (
    "missing", "doubled", "no chainage", "no turns", "nan turns", "negative turns", "a digit too many", "far away",
    "end far away", "backwards", "no advance", "overlap", "infinite", "wrong number", "share",
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(st.integers(1, 60), st.sampled_from(HOWS), max_size=40),
    st.randoms(use_true_random=False),
    st.booleans(),
)
def test_any_damage_to_the_log_leaves_the_advance_whole(damage, random, shuffled):
    rows = [row for n in range(1, 61) for row in (damaged_rows(n, damage[n]) if n in damage else [ring(n)])]
    if shuffled:
        random.shuffle(rows)
    # the last inspection says where the face is, whatever became of the rows before it
    site = make_site(0, stop(60, read(5, 3.0)), rings=tuple(rows), length_m=300.0)
    adds_up(site)
    assert face_m(site) == pytest.approx(90.0, abs=1.0)
    lives(site)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(
        st.tuples(
            st.integers(-5, 80),
            st.none() | st.floats(-1e4, 1e4),
            st.none() | st.floats(-1e4, 1e4),
            st.none() | st.floats(),
            st.none() | st.floats(),
        ),
        max_size=25,
    )
)
def test_rubbish_for_a_log_still_tiles_the_drive(rows):
    site = make_site(
        0,
        rings=tuple(
            ring(number, start_m=start, end_m=end, turns=turns, idle=idle) for number, start, end, turns, idle in rows
        ),
        length_m=300.0,
    )
    rings = clean_rings(site)
    if len(rings):
        adds_up(site)
    assert 0.0 <= face_m(site) <= 300.0 + 3 * RING_M


@pytest.mark.parametrize("how", HOWS)
def test_every_kind_of_damage_is_named_and_costs_little(how):
    rows = [row for n in range(1, 201) for row in (damaged_rows(n, how) if n == 90 else [ring(n)])]
    site = make_site(0, rings=tuple(rows))
    adds_up(site)
    notes = " ".join(clean_rings(site).notes)
    # of two rings that overlap, either may be the one to give way
    assert "ring 90" in notes or (how == "overlap" and "ring 91" in notes)
    whole = measure_exposure(make_site(200)).path_km(track_radius_mm=3000.0)
    assert measure_exposure(site).path_km(track_radius_mm=3000.0) == pytest.approx(whole, rel=0.02)


def test_ten_rings_missing_and_one_doubled_change_little():
    whole = make_site(800, length_m=3000.0)
    rows = tuple(ring(n) for n in range(1, 801) if not 611 <= n <= 620)
    site = replace(whole, rings=(*rows, ring(615), ring(615, turns=70.0)))
    notes = clean_rings(site).notes
    for gap in ("rings 611-614 missing", "rings 616-620 missing"):
        assert any(gap in note for note in notes)
    assert any("ring 615 written twice" in note for note in notes)
    one, other = (measure_exposure(each).path_km(track_radius_mm=3400.0, to_m=1200.0).sum() for each in (whole, site))
    # at 0.05 mm a km, hard ground, a wear of 0.3 mm is 6 km
    assert other == pytest.approx(one, abs=0.1)
    assert measure_exposure(site).imputed_share(900.0, 945.0)[0] == pytest.approx(9 / 30, abs=0.01)


def test_turns_of_missing_rings_come_from_the_same_ground():
    ground = make_ground(300.0)
    slow = [ring(n, turns=75.0 if n <= 60 else 150.0) for n in range(1, 91)]
    site = make_site(0, rings=tuple(row for row in slow if row.ring not in (60, 61)), grounds=(ground,), length_m=300.0)
    rings = clean_rings(site)
    # the boundary between the two grounds is at ring 60
    assert rings.turns_boring[[59, 60]] == pytest.approx([75.0, 150.0], rel=0.01)
    assert rings.imputed[[59, 60]].all()
    assert (rings.turns_rel_sd[[59, 60]] >= 0.05).all()
    assert not rings.turns_rel_sd[:59].any()


def test_speed_times_minutes_stands_in_for_revolutions():
    extra = {"rotation_rpm": "1.5", "boring_minutes": "50", "foam": "12.5", "remark": "wet"}
    site = make_site(0, rings=tuple(ring(n, turns=None, extra=extra) for n in range(1, 21)))
    rings = clean_rings(site)
    assert rings.turns_boring == pytest.approx(75.0)
    assert not rings.imputed.any()
    assert rings.columns["foam"] == pytest.approx(12.5)
    assert "remark" not in rings.columns


def test_a_wheel_pulled_through_needs_no_turns():
    rows = tuple(ring(n, turns=0.0 if 601 <= n <= 650 else 75.0) for n in range(1, 701))
    rings = clean_rings(make_site(0, rings=rows))
    assert rings.notes == ()
    assert not rings.turns_boring[600:650].any()


def test_the_face_goes_with_the_last_inspection_it_can_believe():
    assert face_m(make_site(100, stop(102, read(5, 3.0)))) == pytest.approx(153.0)
    astray = stop(101, read(5, 3.0), driven_m=900.0)
    assert face_m(make_site(100, astray)) == pytest.approx(150.0)
    assert face_m(make_site(0, stop(40, read(5, 3.0)))) == pytest.approx(60.0)
    assert face_m(make_site(0)) == 0.0
    assert len(clean_rings(make_site(0))) == 0


def test_a_bad_last_ring_still_counts_its_advance():
    rows = (*(ring(n) for n in range(1, 100)), ring(100, start_m=None, end_m=None, damaged="text in a number"))
    site = make_site(0, rings=rows)
    assert face_m(site) == pytest.approx(150.0)
    assert any("ring 100: text in a number" in note for note in clean_rings(site).notes)


def test_what_was_mended_says_where_it_was_written():
    bad = ring(50, start_m=None, end_m=None, damaged="no chainage", origin=Origin("advance.csv", 51))
    site = make_site(0, rings=tuple(bad if n == 50 else ring(n) for n in range(1, 101)))
    (mended,) = clean_rings(site).mended
    assert "advance.csv:51" in mended.what
    assert mended.rings == (50,)
    assert mended.origins == (Origin("advance.csv", 51),)
    assert (mended.from_m, mended.to_m) == pytest.approx((73.5, 75.0))


def test_no_turns_at_all_fall_back_on_the_ground_and_say_so():
    site = make_site(0, rings=tuple(ring(n, turns=None, idle=None) for n in range(1, 321)))
    rings = clean_rings(site)
    assert rings.imputed.all()
    assert rings.penetration_mm[0] == pytest.approx(20.0)
    assert rings.turns_rel_sd[-1] == pytest.approx(0.7)
    assert any("rings 1-320" in note for note in rings.notes)


def test_one_way_tools_without_a_direction_in_the_log_are_named():
    wheel = make_wheel()
    one_way = replace(wheel, positions=tuple(replace(p, cuts="cw") if p.number == 7 else p for p in wheel.positions))
    rings = clean_rings(make_site(50, wheel=one_way))
    assert not rings.ccw_logged
    assert rings.ccw_share == pytest.approx(0.5)
    assert "which way the wheel turned" in rings.notes[0]
    logged = tuple(ring(n, revolutions_ccw_share=0.2 if n != 9 else None) for n in range(1, 51))
    rings = clean_rings(make_site(0, wheel=one_way, rings=logged))
    assert rings.notes == ()
    assert rings.ccw_share == pytest.approx(0.2)
