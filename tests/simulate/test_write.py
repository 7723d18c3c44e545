"""A world written as a folder reads back as the same site."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping

import pytest

from tests.simulate import World
from tests.simulate.write import write_folder
from wearplan.site import load

PARTS = ("drive", "pace", "wheel", "grounds", "stops", "stores", "rings", "inspections", "sensor_words", "events")


def plain(value: object, place: str = "") -> object:
    """A record without the places it was read from, floats to a tenth of a micron."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        names = [f.name for f in dataclasses.fields(value) if f.name != "origin"]
        return {name: plain(getattr(value, name)) for name in names}
    if isinstance(value, Mapping):
        return {key: plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [plain(one) for one in value]
    if isinstance(value, float):
        return round(value, 4)
    return value


def by_mode(stops: dict) -> dict:
    rows = sorted(stops["entry_rows"], key=lambda row: (row["mode"], row["up_to_pressure_bar"]))
    return {**stops, "entry_rows": rows}


@pytest.mark.parametrize(
    ("seed", "options"),
    [
        (31, {}),
        (32, {"falling": True, "equation_m": 12.0, "swap_share": 0.2}),
        (33, {"equation_m": -7.0, "units": 6, "unmet_unit": True, "misplaced_share": 0.1}),
    ],
)
def test_there_and_back(tmp_path, seed, options):
    site = World(seed, places=40, length_m=900.0, wear_scale=1.5, **options).site
    write_folder(site, tmp_path)
    loaded = load(tmp_path)
    assert loaded.site is not None
    assert [str(f) for f in loaded.faults if f.forbids] == []
    for part in PARTS:
        found, made = plain(getattr(loaded.site, part)), plain(getattr(site, part))
        if part == "stops":
            found, made = by_mode(found), by_mode(made)
        assert found == made, part
