"""Types of tools over drives: pooled where code and sizes agree, kept apart and said where they do not."""

from __future__ import annotations

import json
from math import exp, log

import pytest

from wearplan.fleet.records import BatchSeen, Line, TypeSeen
from wearplan.fleet.types import fleet_types


def seen(ratio, sd, *, limit=25.0, code="disc-b"):
    return TypeSeen(
        kind="disc", tool_type=code, reference="disc-a", sizes=(432.0, limit, 432.0, 25.0), mean=log(ratio),
        precision=sd**-2.0, tools=20, reference_tools=40,
    )  # fmt: skip


def line(name, *types, batches=()):
    return Line(folder=name, name=name, state="answered", types=types, batches=batches)


def test_two_drives_know_more_than_one_and_the_next_is_less_sure_than_their_mean():
    found = fleet_types([line("A", seen(0.80, 0.06)), line("B", seen(0.86, 0.06)), line("C")])
    (one,) = found.types
    assert one.drives == ("A", "B")
    assert one.by_drive == pytest.approx((0.80, 0.86))
    assert one.tools == 40
    assert 0.80 < one.wear_times[1] < 0.86
    width = log(one.wear_times[2] / one.wear_times[0]) / 3.29
    assert 0.06 / 2**0.5 < width < 0.2


def test_one_code_for_two_sizes_is_not_one_type():
    found = fleet_types([line("A", seen(0.8, 0.05)), line("B", seen(0.8, 0.05, limit=30.0))])
    assert found.types == ()
    assert any("disc-b" in remark and "not compared" in remark for remark in found.remarks)


def test_a_batch_that_stands_out_on_two_drives_is_named_with_both():
    bad = BatchSeen(kind="disc", label="k-77", p05=1.5, p50=1.9, p95=2.4, tools=9)
    found = fleet_types([line("A", batches=(bad,)), line("B", batches=(bad,))])
    (said,) = found.remarks
    assert "k-77" in said
    assert "2 drives" in said


def test_they_come_back_from_json_as_they_went():
    bad = BatchSeen(kind="disc", label="k-77", p05=1.5, p50=1.9, p95=2.4, tools=9)
    one = line("A", seen(0.8, 0.05), batches=(bad,))
    assert Line.of(json.loads(json.dumps(one.body()))) == one
    assert exp(one.types[0].mean) == pytest.approx(0.8)
