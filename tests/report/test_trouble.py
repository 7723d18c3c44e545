"""Tools lost, seized, flat or cracked and still on the wheel lead every list; events ask until looked at."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.tui.small import SmallOutlook, SmallRooms, small_site
from wearplan.gate import ACCEPTANCE
from wearplan.history import current_lives, lives
from wearplan.report.four import on_wheel
from wearplan.report.preview import what_it_means
from wearplan.report.trouble import LEADING, to_look_at, trouble_lines, troubles
from wearplan.site.records import Event, Fitting, Measurement
from wearplan.tui.marks import places_now, worst_first
from wearplan.tui.state import Snapshot


def saying(site, *measurements, fittings=()):
    """The site with its last stop saying this as well."""
    last = site.inspections[-1]
    said = {each.position for each in measurements}
    kept = tuple(each for each in last.measurements if each.position not in said)
    last = replace(last, measurements=(*kept, *measurements), fittings=fittings)
    return replace(site, inspections=(*site.inspections[:-1], last))


def snapshot_of(site, tmp_path) -> Snapshot:
    rooms = SmallRooms(site)
    snapshot = Snapshot(folder=Path(tmp_path), site=site)
    for step in (rooms.history, rooms.outlook):
        snapshot = snapshot.having(**step(snapshot, lambda *words: None, lambda: False))
    return snapshot


@pytest.mark.parametrize("word", LEADING)
def test_it_leads_start_the_wheel_and_what_is_said_after_saving(word, tmp_path):
    lost = Measurement(position=2, not_read="seen, not measured", condition=word)
    chipped = Measurement(position=23, wear_mm=17.5, condition="chipped")
    site = saying(small_site(), lost, Measurement(position=22, wear_mm=99.0), chipped)
    snapshot = snapshot_of(site, tmp_path)
    current = snapshot.history.current
    answer = on_wheel(site, snapshot.outlook, current)
    assert answer.lines[0] == f"still on the wheel: 2 ({word})"
    assert answer.lines[1] == "damaged: 23"
    assert answer.lead.startswith("2 damaged")
    assert worst_first(places_now(snapshot))[:2] == [2, 23]
    assert what_it_means(site, snapshot.outlook, snapshot.outlook, current)[0] == f"still on the wheel: 2 ({word})"


def test_the_worst_word_comes_first_and_a_changed_tool_is_gone():
    site = small_site()
    site = saying(site, Measurement(position=1, wear_mm=1.0, condition="flat"),
                  Measurement(position=4, not_read="seen, not measured", condition="tool lost"),
                  Measurement(position=5, wear_mm=2.0, condition="cracked"),
                  fittings=(Fitting(position=5, action="change"),))  # fmt: skip
    assert list(troubles(current_lives(lives(site))).items()) == [(4, "tool lost"), (1, "flat")]
    assert trouble_lines(current_lives(lives(small_site()))) == []


def test_what_an_event_asks_for_stays_until_it_is_looked_at():
    site = small_site()
    face = site.inspections[-1].driven_m
    boulder = Event(kind="boulder", ring=None, chainage_m=100 + face - 10.0, driven_m=face - 10.0, at=None)
    accepted = replace(boulder, kind=ACCEPTANCE)
    fit = SimpleNamespace(site=replace(site, inspections=site.inspections[:-1]), lives=(), face_m=face)
    before = replace(site, events=(boulder, accepted), inspections=site.inspections[:-1])
    asked = to_look_at(before, fit)
    assert set(asked) == {21, 22, 23, 24}
    assert asked[24] == ("boulder at 0+990.0",)
    last = site.inspections[-1]
    half = replace(last, measurements=(
        Measurement(position=21, wear_mm=3.0), Measurement(position=22, not_read="not reached"),
        Measurement(position=23, not_read="seen, not measured"),
    ))  # fmt: skip
    after = replace(before, inspections=(*before.inspections, half))
    fit = SimpleNamespace(site=after, lives=(), face_m=face)
    assert set(to_look_at(after, fit)) == {22, 24}, "not reached is not looked at"
    more = replace(
        half, id="later", driven_m=face + 1.5, started_at=last.started_at + timedelta(days=1),
        measurements=(Measurement(position=22, wear_mm=3.0),), fittings=(Fitting(position=24, action="change"),),
    )  # fmt: skip
    assert to_look_at(replace(after, inspections=(*after.inspections, more)), fit) == {}
    lines = on_wheel(after, SmallOutlook(after, SmallRooms(after).history(
        Snapshot(folder=Path(), site=after), None, None)["history"].layout, face, 1500.0), {}, fit).lines  # fmt: skip
    assert "look at 22 and 24: boulder at 0+990.0" in lines
