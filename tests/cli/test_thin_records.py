"""Records too thin, or too much alike, to tell things apart: every command answers, and says what it cannot know."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from tests.simulate.seeds import TUNING_WORLDS
from tests.simulate.write import write_folder
from wearplan import history


@cache
def drive():
    return TUNING_WORLDS["as modelled"][1].world().site


def one_stop():
    return history.as_of(drive(), next(each for each in drive().inspections if each.measurements).id)


def one_stretch():
    ground = drive().ground()
    last = ground.sections[-1]
    whole = replace(ground.sections[0], to_m=last.to_m, to_chainage_m=last.to_chainage_m)
    return replace(drive(), grounds=(replace(ground, sections=(whole,)),))


def with_type(code: str, carries):
    """The drive with one more type of disc, on the fittings and places that carry it."""
    site = drive()
    disc = next(each for each in site.wheel.tool_types if each.kind == "disc")
    stops = tuple(
        replace(stop, fittings=tuple(
            replace(f, new_tool_type=code) if carries(stop, f) else f for f in stop.fittings
        ))
        for stop in site.inspections
    )  # fmt: skip
    types = (*site.wheel.tool_types, replace(disc, code=code))
    return replace(site, inspections=stops, wheel=replace(site.wheel, tool_types=types))


def discs():
    kind_of = {each.code: each.kind for each in drive().wheel.tool_types}
    return [p for p in drive().wheel.positions if kind_of[p.tool_type] == "disc" and p.housing is None]


def one_tool_of_a_type():
    places = {each.number for each in discs()}
    stop, fitting = next(
        (stop, f) for stop in drive().inspections[1:] for f in stop.fittings if f.position in places
    )  # fmt: skip
    return with_type("disc-z", lambda s, f: (s.id, f.position) == (stop.id, fitting.position))


def a_type_in_one_zone():
    gauge = {each.number for each in discs() if each.zone == "gauge"}
    site = with_type("disc-z", lambda s, f: f.position in gauge)
    positions = tuple(
        replace(each, tool_type="disc-z") if each.number in gauge else each for each in site.wheel.positions
    )
    return replace(site, wheel=replace(site.wheel, positions=positions))


def labelled(label):
    return replace(drive(), inspections=tuple(
        replace(stop, fittings=tuple(replace(f, new_batch=label(f.position)) for f in stop.fittings))
        for stop in drive().inspections
    ))  # fmt: skip


def a_batch_everywhere():
    return labelled(lambda place: "K7")


def labels_by_case_and_space():
    return labelled(lambda place: ("K7", "K7", "k 7")[place % 3])


CASES = {
    one_stop: (),
    one_stretch: (),
    one_tool_of_a_type: ("disc-z",),
    a_type_in_one_zone: ("disc-z", "stood only in zone gauge"),
    a_batch_everywhere: ("K7",),
    labels_by_case_and_space: ('batch "K7" is also written "k 7"; they are taken as one',),
}


@pytest.mark.parametrize("make", CASES, ids=lambda make: make.__name__)
def test_every_command_answers(make, call, tmp_path):
    write_folder(make(), tmp_path)
    said = []
    for words in (("check",), ("rates",), ("rates", "--types"), ("outlook",), ("plan",), ("backtest",)):
        code, out, err = call(words[0], tmp_path, *words[1:])
        # 4: no plan keeps the rules, which is an answer
        assert code == 0 or (words, code) == (("plan",), 4), (words, out, err)
        assert "nan" not in out.lower().replace("manan", "").split()
        said.append(" ".join(out.split()))
    for phrase in CASES[make]:
        assert any(phrase in each for each in said), phrase


def test_one_stop_says_that_nothing_can_be_scored(call, tmp_path):
    write_folder(one_stop(), tmp_path)
    _, out, _ = call("backtest", tmp_path)
    assert "too few stops" in out
