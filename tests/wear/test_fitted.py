"""The outlook speaks of the tools that stand there by the records, not of those the drawings foresaw."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.simulate import World
from wearplan import history, wear
from wearplan.site.records import Fitting


def with_fitting(site, fitting: Fitting):
    last = site.inspections[-1]
    others = tuple(f for f in last.fittings if f.position != fitting.position)
    return replace(site, inspections=(*site.inspections[:-1], replace(last, fittings=(*others, fitting))))


def test_a_blanked_place_is_out_and_another_type_has_its_own_limit():
    site = World(5, places=30).site
    face = history.face_m(site)
    before = wear.look_ahead(site, wear.learn(site), draws=20)
    free = [p for p in before.layout.positions if p.housing is None and p.wear_limit_mm is None]
    blanked, changed = free[0], free[1]
    kind = site.wheel.tool_type(changed.tool_type)
    heavier = replace(kind, code="another", wear_limit_mm=kind.wear_limit_mm + 7.0)
    site = replace(site, wheel=replace(site.wheel, tool_types=(*site.wheel.tool_types, heavier)))
    site = with_fitting(site, Fitting(position=blanked.number, action="blank", reason="damage"))
    site = with_fitting(
        site, Fitting(position=changed.number, action="change", reason="limit", new_tool_type="another")
    )
    outlook = wear.look_ahead(site, wear.learn(site), draws=20)
    assert outlook.face_m == face
    assert blanked.number not in outlook.numbers
    at = int(np.flatnonzero(outlook.numbers == changed.number)[0])
    assert outlook.limit_mm[at] == kind.wear_limit_mm + 7.0
