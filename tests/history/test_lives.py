"""Lives follow the tools: over changes, moves, swaps, turns, the shelf, rebuilds, and damaged records."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.history.small import RING_M, make_site, make_wheel, read, stop
from wearplan.history import current_lives, fitted_layout, last_seen, lives, measure_exposure
from wearplan.site.records import Fitting, LayoutChange

CHANGE = {"action": "change", "reason": "limit"}


def fit(position, **what):
    return Fitting(position=position, **{**CHANGE, **what})


def at_place(found, position):
    return [life for life in found if any(stint.position == position for stint in life.stints)]


def by_serial(found, serial):
    return [life for life in found if life.serial == serial]


def path(site, position, from_ring, to_ring):
    radius = site.wheel.position(position).track_radius_mm
    return measure_exposure(site).path_km(track_radius_mm=radius, from_m=from_ring * RING_M, to_m=to_ring * RING_M)[0]


def test_tools_at_12_and_31_swapped_keep_their_lives():
    site = make_site(
        200,
        stop(
            100,
            read(12, 7.0),
            read(31, 16.0),
            fittings=(Fitting(position=12, action="swap", from_position=31, reason="preventive"),),
        ),
        stop(150, read(31, 9.0), read(12, 19.0)),
    )
    current = current_lives(lives(site))
    light, heavy = current[31], current[12]
    assert [r.wear_mm for r in light.readings] == [7.0, 9.0]
    assert [r.wear_mm for r in heavy.readings] == [16.0, 19.0]
    assert not any(r.flagged for r in (*light.readings, *heavy.readings))
    assert [(s.position, s.from_m, s.to_m) for s in light.stints] == [(12, 0.0, 150.0), (31, 150.0, None)]
    assert light.readings[-1].path_km == pytest.approx(path(site, 12, 0, 100) + path(site, 31, 100, 150))
    assert heavy.readings[-1].path_km == pytest.approx(path(site, 31, 0, 100) + path(site, 12, 100, 150))


def test_a_swap_that_was_not_recorded_is_flagged_at_the_falling_reading_only():
    site = make_site(200, stop(100, read(12, 7.0), read(31, 16.0)), stop(150, read(31, 9.0), read(12, 19.0)))
    current = current_lives(lives(site))
    assert not any(r.flagged for r in current[12].readings)
    last = current[31].readings[-1]
    assert last.flagged == "7.0 mm less wear than read at ring 100 before"
    assert last.sound
    assert last.wear_mm == 9.0


@pytest.mark.parametrize("both", [False, True])
def test_a_swap_may_be_written_at_one_place_or_at_both(both):
    swap = (Fitting(position=12, action="swap", from_position=31),)
    if both:
        swap += (Fitting(position=31, action="swap", from_position=12),)
    current = current_lives(lives(make_site(200, stop(100, read(12, 7.0), read(31, 16.0), fittings=swap))))
    assert (current[31].id, current[12].id) == ("12-1", "31-1")


@pytest.mark.parametrize("order", [1, -1])
def test_a_move_takes_the_tool_along_whatever_is_written_first(order):
    fittings = (
        Fitting(position=12, action="move", reason="limit", from_position=31, old_serial="D-1", old_to="rebuild"),
        fit(31, new_serial="D-9"),
    )[::order]
    site = make_site(200, stop(100, read(12, 21.0), read(31, 8.0), fittings=fittings), stop(150, read(12, 11.0)))
    found = lives(site)
    old = by_serial(found, "D-1")[0]
    assert (old.ended, old.ended_m, old.old_to, old.open) == ("limit", 150.0, "rebuild", False)
    current = current_lives(found)
    assert current[12].id == "31-1"
    assert [r.wear_mm for r in current[12].readings] == [8.0, 11.0]
    assert current[31].serial == "D-9"
    assert current[31].readings == ()


def test_a_tool_moved_away_leaves_its_place_unknown_until_it_is_read():
    move = Fitting(position=12, action="move", from_position=31, reason="limit")
    site = make_site(200, stop(100, read(12, 21.0), read(31, 18.0), fittings=(move,)))
    unknown = current_lives(lives(site))[31]
    assert unknown.unknown_from_m == 150.0
    # no better than what stood there before
    assert unknown.start_wear_mm == 18.0
    assert unknown.start_sd_mm > 5.0
    site = make_site(200, stop(100, read(12, 21.0), fittings=(move,)), stop(150, read(31, 5.0)))
    again = current_lives(lives(site))[31]
    assert again.unknown_from_m is None
    assert again.start_wear_mm == 5.0
    assert again.start_sd_mm > 0
    assert not again.readings[0].path_km.any()


def test_a_rebuilt_disc_begins_a_ring_life_on_a_hub_that_runs_on():
    site = make_site(
        300,
        stop(100, read(20, 14.0), fittings=(fit(20, old_serial="S-1"),)),
        stop(100, read(25, 21.0), fittings=(fit(25, old_serial="D-7", old_to="rebuild", new_serial="D-8"),)),
        stop(200, read(26, 22.0), fittings=(fit(26, new_serial="D-7", new_rebuilds=1),)),
    )
    first, second = sorted(by_serial(lives(site), "D-7"), key=lambda life: life.from_m)
    assert (first.rebuilds, second.rebuilds) == (0, 1)
    assert second.start_wear_mm == 0.0
    assert second.path_km == pytest.approx(path(site, 26, 200, 300))
    assert first.hub_path_km == pytest.approx(first.path_km.sum() + first.idle_km)
    assert second.hub_path_km == pytest.approx(first.hub_path_km + second.path_km.sum() + second.idle_km)


def test_a_tool_from_the_shelf_goes_on_where_it_stopped():
    site = make_site(
        300,
        stop(100, read(25, 6.0), fittings=(fit(25, old_serial="D-7", old_to="shelf", reason="preventive"),)),
        stop(200, read(15, 20.0), fittings=(fit(15, new_serial="D-7"),)),
        stop(300, read(15, 9.0)),
    )
    (life,) = by_serial(lives(site), "D-7")
    assert [(s.position, s.from_m, s.to_m) for s in life.stints] == [(25, 0.0, 150.0), (15, 300.0, None)]
    assert [r.wear_mm for r in life.readings] == [6.0, 9.0]
    assert life.open
    assert life.readings[-1].path_km == pytest.approx(path(site, 25, 0, 100) + path(site, 15, 200, 300))


def test_a_tool_taken_off_and_put_on_elsewhere_at_one_stop_is_a_move():
    site = make_site(
        200,
        stop(
            100,
            read(25, 6.0),
            read(30, 22.0),
            fittings=(fit(30, new_serial="D-7"), fit(25, old_serial="D-7", new_serial="D-8")),
        ),
    )
    # the serial is learned at this stop, so the order of the two rows must not matter either
    current = current_lives(lives(site))
    assert current[25].serial == "D-8"
    assert (current[30].serial, current[30].id) == ("D-7", "25-1")


def test_a_part_worn_tool_starts_from_its_wear_and_a_fall_below_it_is_flagged():
    site = make_site(
        300,
        stop(100, fittings=(fit(25, new_serial="D-7", new_wear_mm=7.0),)),
        stop(200, read(25, 9.0)),
        stop(300, read(25, 1.0)),
    )
    life = current_lives(lives(site))[25]
    assert life.start_wear_mm == 7.0
    assert life.start_sd_mm > 0
    assert life.readings[0].flagged is None
    assert life.readings[1].flagged


def test_a_known_tool_measured_again_as_it_is_put_on():
    site = make_site(
        300,
        stop(100, read(25, 6.0), fittings=(fit(25, old_serial="D-7", old_to="shelf"),)),
        stop(200, fittings=(fit(15, new_serial="D-7", new_wear_mm=6.5),)),
    )
    (life,) = by_serial(lives(site), "D-7")
    assert [(r.wear_mm, r.source) for r in life.readings] == [(6.0, "inspection"), (6.5, "fitting")]


def test_a_turned_scraper_shows_a_fresh_edge_and_then_the_first_again():
    turn = Fitting(position=10, action="turn", reason="limit")
    site = make_site(
        300,
        stop(100, read(10, 15.0), fittings=(turn,)),
        stop(200, read(10, 14.0), fittings=(turn,)),
        stop(300, read(10, 16.0)),
    )
    first, second = at_place(lives(site), 10)
    assert [r.wear_mm for r in first.readings] == [15.0, 16.0]
    assert [r.wear_mm for r in second.readings] == [14.0]
    assert (second.ended, first.open) == ("turned", True)
    assert first.path_km == pytest.approx(path(site, 10, 0, 100) + path(site, 10, 200, 300))


def test_a_turned_disc_keeps_its_ring():
    site = make_site(
        200, stop(100, read(11, 15.0), fittings=(Fitting(position=11, action="turn"),)), stop(200, read(11, 18.0))
    )
    (life,) = at_place(lives(site), 11)
    assert len(life.readings) == 2
    assert "turned" in life.notes[0]


def test_blanked_places_hold_no_tool():
    site = make_site(200, stop(100, read(11, 15.0), fittings=(Fitting(position=11, action="blank"),)))
    found = lives(site)
    assert 11 not in current_lives(found)
    assert at_place(found, 11)[0].ended == "blank"
    assert 11 not in fitted_layout(site, found)


def test_layout_changes_end_lives_and_a_fitting_that_carries_one_out_is_not_counted_twice():
    wheel = make_wheel(
        layout_changes=(
            LayoutChange(from_chainage_m=250.0, from_m=150.0, position=7, blanked=True),
            LayoutChange(from_chainage_m=250.0, from_m=149.0, position=11, tool_type="disc-17h"),
            LayoutChange(from_chainage_m=250.0, from_m=150.0, position=13, tool_type="disc-17h"),
            LayoutChange(from_chainage_m=250.0, from_m=150.0, position=9, added=True),
        )
    )
    hard = fit(11, reason="preventive", new_tool_type="disc-17h", new_serial="H-1")
    site = make_site(200, stop(100, read(11, 12.0), fittings=(hard,)), wheel=wheel)
    found = lives(site)
    current = current_lives(found)
    assert 7 not in current
    assert current[9].from_m == 150.0
    assert [(life.tool_type, life.from_m) for life in at_place(found, 11)] == [("disc-17", 0.0), ("disc-17h", 150.0)]
    assert current[13].tool_type == "disc-17h"
    assert current[11].serial == "H-1"
    layout = fitted_layout(site, found)
    assert layout.position(11).tool_type == "disc-17h"
    assert len(layout) == 39


def test_layout_changes_ahead_of_the_face_are_plans():
    ahead = LayoutChange(from_chainage_m=500.0, from_m=400.0, position=11, tool_type="disc-17h")
    site = make_site(200, wheel=make_wheel(layout_changes=(ahead,)))
    (life,) = at_place(lives(site), 11)
    assert (life.tool_type, life.open) == ("disc-17", True)


def test_several_points_round_a_ring_give_a_mean_and_a_worst():
    site = make_site(100, stop(100, read(20, None, points_mm=(9.0, 10.5, 9.0))))
    (reading,) = current_lives(lives(site))[20].readings
    assert reading.wear_mm == pytest.approx(9.5)
    assert reading.worst_mm == 10.5
    assert reading.points == 3


def test_trouble_ends_what_readings_say_of_abrasion():
    site = make_site(
        300,
        stop(100, read(20, 5.0)),
        stop(200, read(20, 14.0, condition="chipped")),
        stop(300, read(20, 15.0, condition="even"), fittings=(fit(20, reason="damage"),)),
    )
    life = at_place(lives(site), 20)[0]
    assert [r.sound for r in life.readings] == [True, False, False]
    assert (life.trouble_after_m, life.trouble_from_m, life.trouble_condition) == (150.0, 300.0, "chipped")
    assert life.sound_path_km_by_zone.sum() == pytest.approx(path(site, 20, 0, 200).sum())
    assert life.path_km.sum() == pytest.approx(path(site, 20, 0, 300).sum())


def test_trouble_seen_without_a_reading_counts():
    lost = read(20, None, not_read="seen, not measured", condition="ring lost")
    life = current_lives(lives(make_site(200, stop(100, read(20, 5.0)), stop(200, lost))))[20]
    assert life.trouble_from_m == 300.0
    assert [r.sound for r in life.readings] == [True]


@pytest.mark.parametrize(("condition", "sound"), [(None, False), ("leaking", True), ("cracked", False)])
def test_a_change_for_damage_is_trouble_even_without_a_word_on_the_ring(condition, sound):
    site = make_site(200, stop(100, read(20, 5.0, condition=condition), fittings=(fit(20, reason="damage"),)))
    life = at_place(lives(site), 20)[0]
    assert life.in_trouble
    assert life.trouble_condition == (condition or "damage")
    assert [r.sound for r in life.readings] == [sound]


def test_a_reading_at_the_wrong_place_is_doubted_alone_even_when_it_is_the_high_one():
    values = [3.0, 4.0, 15.0, 6.0, 7.0, 8.0]
    site = make_site(300, *[stop(50 * (k + 1), read(20, v)) for k, v in enumerate(values)])
    flagged = [r.flagged for r in current_lives(lives(site))[20].readings]
    assert [bool(f) for f in flagged] == [False, False, True, False, False, False]
    assert "after" in flagged[2]


def test_nothing_to_be_seen_after_wear_was_read_is_doubted():
    site = make_site(200, stop(100, read(20, 8.0)), stop(200, read(20, None, wear_below_mm=1.0)))
    assert current_lives(lives(site))[20].readings[1].flagged


def test_a_coarse_method_may_fall_further():
    by_eye = make_site(200, stop(100, read(20, 8.0, method="by eye")), stop(200, read(20, 5.0, method="by eye")))
    assert not current_lives(lives(by_eye))[20].readings[1].flagged


@settings(max_examples=50, deadline=None)
@given(st.lists(st.floats(0, 30), min_size=1, max_size=12))
def test_readings_that_are_not_doubted_rise_within_the_gauges_error(values):
    site = make_site(12, *[stop(k + 1, read(20, v)) for k, v in enumerate(values)])
    readings = current_lives(lives(site))[20].readings
    assert len(readings) == len(values)
    kept = [r.wear_mm for r in readings if not r.flagged]
    assert kept
    assert all(np.maximum.accumulate(kept) - np.array(kept) <= 3 * np.sqrt(2) * np.hypot(0.5, 0.5 / np.sqrt(12)) + 1e-9)


# damaged records


def test_a_damaged_measurement_leaves_the_place_unknown_until_it_is_read_again():
    bad = read(20, None, damaged="text in a number")
    site = make_site(300, stop(100, read(20, 5.0)), stop(200, bad))
    life = current_lives(lives(site))[20]
    assert life.unknown_from_m == 300.0
    assert last_seen(site)[20][0] == 150.0
    site = make_site(300, stop(100, read(20, 5.0)), stop(200, bad), stop(300, read(20, 9.0)))
    life = current_lives(lives(site))[20]
    assert life.unknown_from_m is None
    assert [r.wear_mm for r in life.readings] == [5.0, 9.0]


def test_a_damaged_fitting_never_makes_a_place_look_new():
    broken = fit(20, damaged="unknown action 'chagne'")
    site = make_site(300, stop(100, read(20, 15.0), fittings=(broken,)))
    life = current_lives(lives(site))[20]
    assert life.id == "20-1"
    assert life.unknown_from_m == 150.0
    assert life.open
    site = make_site(300, stop(100, read(20, 15.0), fittings=(broken,)), stop(200, read(20, 3.0)))
    old, new = at_place(lives(site), 20)
    assert (old.ended, old.ended_m) == ("unknown", 150.0)
    assert (new.start_wear_mm, new.from_m, new.unknown_from_m) == (3.0, 300.0, None)
    assert not any(r.flagged for r in (*old.readings, *new.readings))


def test_a_serial_read_after_a_damaged_fitting_shows_that_the_tool_is_the_same():
    site = make_site(
        300,
        stop(100, read(20, 10.0, serial="D-5"), fittings=(fit(20, damaged="no action"),)),
        stop(200, read(20, 14.0, serial="D-5")),
    )
    (life,) = at_place(lives(site), 20)
    assert life.unknown_from_m is None
    assert [r.wear_mm for r in life.readings] == [10.0, 14.0]


def test_past_measuring_after_a_damaged_fitting_leaves_it_unknown():
    site = make_site(
        300, stop(100, read(20, 10.0), fittings=(fit(20, damaged="x"),)), stop(200, read(20, None, wear_above_mm=25.0))
    )
    life = current_lives(lives(site))[20]
    assert life.unknown_from_m == 300.0
    assert life.start_wear_mm == 25.0


def test_another_serial_than_on_record_starts_a_life_of_its_own():
    site = make_site(300, stop(100, read(20, 10.0, serial="D-5")), stop(200, read(20, 4.0, serial="D-6")))
    old, new = at_place(lives(site), 20)
    assert old.ended == "unknown"
    assert old.ended_m == 150.0
    assert new.serial == "D-6"
    assert "D-6" in old.notes[0]


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_every_place_holds_one_life_at_a_time_whatever_is_fitted(data):
    places = st.integers(1, 12)
    actions = st.sampled_from(["change", "move", "swap", "turn", "blank"])
    serials = st.sampled_from([None, "A", "B", "C"])
    stops = []
    for k in range(data.draw(st.integers(1, 5))):
        fittings, used = [], set()
        for _ in range(data.draw(st.integers(0, 4))):
            position = data.draw(places)
            if position in used:
                continue
            used.add(position)
            action = data.draw(actions)
            source = data.draw(places) if action in ("move", "swap") else None
            fittings.append(
                Fitting(
                    position=position,
                    action=action,
                    from_position=source,
                    new_serial=data.draw(serials),
                    old_to=data.draw(st.sampled_from([None, "shelf", "rebuild"])),
                    damaged=data.draw(st.sampled_from([None, None, "x"])),
                )
            )
        stops.append(stop(10 * (k + 1), read(data.draw(places), 5.0), fittings=tuple(fittings)))
    site = make_site(60, *stops, wheel=make_wheel(12))
    found = lives(site)
    spans = {}
    for life in found:
        previous = None
        for stint in life.stints:
            # a tool is at one place at a time
            assert previous is None or (previous.to_m is not None and previous.to_m <= stint.from_m)
            previous = stint
            spans.setdefault(stint.position, []).append((stint.from_m, stint.to_m if stint.to_m is not None else 90.0))
        assert life.open == (life.stints[-1].to_m is None)
        assert life.open or life.ended_m == life.stints[-1].to_m
    for position in spans:
        ordered = sorted(spans[position])
        assert all(one[1] <= other[0] + 1e-9 for one, other in pairwise(ordered))
    assert len({life.id for life in found}) == len(found)


def test_98_places_61_read_37_not_reached():
    first = stop(50, *[read(n, 2.0) for n in range(1, 99)])
    second = stop(
        100,
        *[read(n, 4.0) for n in range(1, 62)],
        *[read(n, None, not_read="not reached", method=None) for n in range(62, 99)],
    )
    site = make_site(120, first, second, wheel=make_wheel(98))
    seen = last_seen(site)
    assert sum(m == 150.0 for m, _ in seen.values()) == 61
    assert sum(m == 75.0 for m, _ in seen.values()) == 37
    assert seen[62] == (75.0, first.id)
    current = current_lives(lives(site))
    assert len(current[61].readings) == 2
    assert len(current[62].readings) == 1
    assert current[62].unknown_from_m is None


def test_an_empty_drive_has_new_tools_everywhere():
    found = lives(make_site(0))
    assert len(found) == 40
    assert all(life.open and life.from_m == 0.0 and not life.readings for life in found)


def test_the_other_edge_of_a_housing_without_a_record_is_unknown():
    wheel = make_wheel()
    positions = tuple(replace(p, housing="C1") if p.number <= 2 else p for p in wheel.positions)
    twins = replace(wheel, positions=positions)
    site = make_site(200, stop(100, read(1, 20.0), read(2, 19.0), fittings=(fit(1),)), wheel=twins)
    current = current_lives(lives(site))
    assert current[1].from_m == 150.0
    assert (current[2].id, current[2].unknown_from_m) == ("2-1", 150.0)
    assert "same housing" in current[2].notes[0]
    site = make_site(200, stop(100, read(1, 20.0), read(2, 19.0), fittings=(fit(1), fit(2))), wheel=twins)
    assert all(current_lives(lives(site))[n].unknown_from_m is None for n in (1, 2))


def test_exposure_to_damage_ends_where_the_tool_was_last_seen():
    site = make_site(300, stop(100, read(20, 5.0)), stop(200, read(21, 5.0)))
    current = current_lives(lives(site))
    assert current[20].sound_path_km_by_zone.sum() == pytest.approx(path(site, 20, 0, 100).sum())
    assert current[20].path_km.sum() == pytest.approx(path(site, 20, 0, 300).sum())
    assert not current[22].sound_path_km_by_zone.any()


def test_another_serial_that_was_only_seen_leaves_the_place_unknown():
    only_seen = read(20, None, not_read="seen, not measured", serial="D-6")
    site = make_site(300, stop(100, read(20, 10.0, serial="D-5")), stop(200, only_seen))
    life = current_lives(lives(site))[20]
    assert life.unknown_from_m == 150.0
