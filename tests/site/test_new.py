"""A new folder passes `check` but for what only the site can say, and becomes sound by filling that in."""

from __future__ import annotations

import re
import tomllib

import pytest

from wearplan.site import load, new_folder

FILLED = {
    "site.toml": {
        "name": '"Somewhere"', "start_chainage_m": "0.0", "end_chainage_m": "900.0", "ring_length_m": "1.5",
        "advance_m_per_day": "12.0", "working_days_per_week": "6",
    },
    "wheel.toml": {
        "bore_diameter_m": "7.0", "diameter_mm": "432.0", "wear_limit_mm": "25.0", "price": "3000.0",
        "lead_time_days": "60",
        '"free air"': "1.0", '"compressed air"': "2.0", "track_radius_mm": "3000.0", "angle_deg": "10.0",
        "zone": '"face"',
    },
    "ground/0001-first.toml": {
        "known_on": "2025-03-01", "source": '"probing"', "name": '"sand"', "from_chainage_m": "0.0",
        "to_chainage_m": "900.0",
    },
    "stops.toml": {"standstill_per_hour": "2000.0", "late_tool": "9000.0"},
    "stores.toml": {"no_stockout_probability": "0.95", "review_days": "7", "on_hand": "3"},
}  # fmt: skip


def test_only_what_the_site_can_say_is_named(tmp_path):
    written = new_folder(tmp_path / "new", places=3)
    loaded = load(tmp_path / "new")
    assert {fault.code for fault in loaded.faults} == {"to-fill"}
    open_lines = {
        (path.relative_to(tmp_path / "new").as_posix(), number)
        for path in written
        for number, line in enumerate(path.read_text().split("\n"), 1)
        if re.search(r'= ("\?"|\{.*"\?")', line) and not line.startswith("#")
    }
    assert {(fault.file, fault.line) for fault in loaded.faults} == open_lines
    (fault,) = [fault for fault in loaded.faults if fault.place == "[drive] start_chainage_m"]
    assert "chainage of the face where the drive starts" in fault.what
    assert {"rates", "outlook", "plan", "demand", "backtest"} == {a for fault in loaded.faults for a in fault.forbids}


def test_filled_in_it_is_sound(tmp_path):
    new_folder(tmp_path / "new", places=30)
    for name, values in FILLED.items():
        path = tmp_path / "new" / name
        text = path.read_text()
        for key, value in values.items():
            text = text.replace(f'{key} = "?"', f"{key} = {value}")
        path.write_text(text)
    loaded = load(tmp_path / "new")
    assert [str(fault) for fault in loaded.faults] == []
    assert len(loaded.site.wheel.positions) == 30
    assert loaded.site.stops.entry_rows == ()


def test_no_value_for_entries_stands_in_it(tmp_path):
    """Not even in a comment: no pressure, hours or persons that somebody could leave standing."""
    new_folder(tmp_path / "new")
    text = (tmp_path / "new" / "stops.toml").read_text()
    assert "entry" not in tomllib.loads(text)
    keys = ("up_to_pressure_bar", "working_hours_per_entry", "entries_per_day", "persons", "places", "pressure_bar")
    for key in keys:
        (line,) = re.findall(rf"(?m)^# {key} =(.*)$", text)
        assert not re.match(r"\s*[\d\"]", line)


def test_nothing_is_ever_overwritten(tmp_path):
    new_folder(tmp_path / "new")
    with pytest.raises(FileExistsError, match="not empty"):
        new_folder(tmp_path / "new")
    (tmp_path / "file").write_text("mine")
    with pytest.raises(FileExistsError, match="no folder"):
        new_folder(tmp_path / "file")
    assert (tmp_path / "file").read_text() == "mine"
    (tmp_path / "empty").mkdir()
    assert new_folder(tmp_path / "empty")
