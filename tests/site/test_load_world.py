"""A whole simulated drive, written to a folder by a writer of its own and read back: the same records."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from types import MappingProxyType

import pytest

from tests.simulate import World
from tests.simulate.write import write_folder
from wearplan.site import load
from wearplan.site.records import Origin


def same(read, made, where="site"):
    """Assert that records say the same, wherever they stood; a file has chainages to the millimetre."""
    if isinstance(made, Origin):
        return
    if is_dataclass(made):
        assert type(read) is type(made), where
        for field in fields(made):
            same(getattr(read, field.name), getattr(made, field.name), f"{where}.{field.name}")
    elif isinstance(made, tuple):
        assert len(read) == len(made), where
        for at, (one, other) in enumerate(zip(read, made, strict=True)):
            same(one, other, f"{where}[{at}]")
    elif isinstance(made, MappingProxyType | dict):
        assert list(read) == list(made), where
        for key in made:
            same(read[key], made[key], f"{where}[{key}]")
    elif isinstance(made, float):
        assert read == pytest.approx(made, abs=0.0021), where
    else:
        assert read == made, where


@pytest.mark.parametrize("seed", [3, 4])
def test_a_simulated_drive_comes_back(tmp_path, seed):
    site = World(seed, places=40, length_m=900.0).site
    assert len(site.inspections) > 1
    write_folder(site, tmp_path)
    loaded = load(tmp_path)
    assert not [str(fault) for fault in loaded.faults if fault.forbids]
    rows = tuple(sorted(site.stops.entry_rows, key=lambda row: (row.mode, row.up_to_pressure_bar)))
    made = replace(site, stops=replace(site.stops, entry_rows=rows))
    for part in (
        "drive",
        "pace",
        "wheel",
        "grounds",
        "stops",
        "stores",
        "rings",
        "inspections",
        "sensor_words",
        "events",
    ):
        same(getattr(loaded.site, part), getattr(made, part), part)
