"""A small sound site folder as texts, to spoil one thing at a time."""

from __future__ import annotations

from pathlib import Path

from wearplan.site import load
from wearplan.site.records import Fault, Loaded

SITE = """\
format = 1
name = "Test drive"
invented = true

[drive]
start_chainage_m = 100.0
end_chainage_m = 400.0
ring_length_m = 1.5

[pace]
advance_m_per_day = 12.0
working_days_per_week = 6
holidays = [2026-12-25]
"""
WHEEL = """\
[wheel]
bore_diameter_m = 7.0
shield_diameter_m = 6.94

[gauging]
gauge = { sd_mm = 0.5, step_mm = 0.5 }
"by eye" = { sd_mm = 2.5, step_mm = 5.0 }

[max_over_limit_probability]
gauge = 0.05

[[tool_type]]
code = "disc-17"
kind = "disc"
diameter_mm = 432.0
wear_limit_mm = 25.0
damage_limit_mm = 32.0
price = 3200.0
rebuild_price = 1100.0
rebuildable_share = 0.75
rebuild_days = 14
lead_time_days = 70
change_hours = { "free air" = 1.0, "compressed air" = 2.5 }

[[tool_type]]
code = "scraper"
kind = "scraper"
wear_limit_mm = 40.0
price = 500.0
lead_time_days = 30
change_hours = { "free air" = 0.5, "compressed air" = 1.0 }

[[position]]
number = 1
tool_type = "disc-17"
track_radius_mm = 260.0
angle_deg = 0.0
zone = "centre"
housing = "C1"

[[position]]
number = 2
tool_type = "disc-17"
track_radius_mm = 350.0
angle_deg = 0.0
zone = "centre"
housing = "C1"

[[position]]
number = 3
tool_type = "disc-17"
track_radius_mm = 3480.0
angle_deg = 90.0
tilt_deg = 60.0
zone = "gauge"
sensor_mm = [12.0]

[[position]]
number = 4
tool_type = "scraper"
track_radius_mm = 2000.0
angle_deg = 180.0
zone = "face"
row = "S1"

[[position]]
number = 5
tool_type = "scraper"
track_radius_mm = 2000.0
angle_deg = 270.0
zone = "face"
row = "S1"

[[row]]
code = "S1"
may_be_over = 1

[[layout_change]]
from_chainage_m = 250.0
position = 3
tool_type = "scraper"

[[structure_point]]
code = "rim-1"
thickness_new_mm = 80.0
thickness_min_mm = 60.0
track_radius_mm = 3500.0
"""
GROUND = """\
known_on = 2025-03-01
source = "tender investigation"

[[unit]]
code = "SG"
name = "dense sandy gravel"
cai = 2.4
expected_rate = [ { kind = "disc", mm_per_km = 0.02, factor = 2.5 } ]

[[unit]]
code = "CL"
name = "stiff clay"

[[section]]
from_chainage_m = 100.0
to_chainage_m = 220.0
mix = { SG = 0.7, CL = 0.3 }
boundary_sd_m = 8.0

[[section]]
from_chainage_m = 220.0
to_chainage_m = 300.0
strata = [ { unit = "CL" }, { unit = "SG", top_m = 1.1 }, { unit = "CL", top_m = -2.0 } ]

[[section]]
from_chainage_m = 300.0
to_chainage_m = 310.0
cut = false

[[section]]
from_chainage_m = 310.0
to_chainage_m = 400.0
mix = { CL = 1.0 }
"""
STOPS = """\
[costs]
standstill_per_hour = 2600.0
late_tool = 18000.0

[steps]
lower_level = 4.0
refill = 5.0

[[entry]]
mode = "free air"
up_to_pressure_bar = 0.0
working_hours_per_entry = 8.0
entries_per_day = 2
persons = 3
places = 2

[[entry]]
mode = "compressed air"
up_to_pressure_bar = 1.2
working_hours_per_entry = 4.0
entries_per_day = 2
persons = 3
places = 2
document = "invented, not for use"

[[window]]
from_chainage_m = 180.0
to_chainage_m = 186.0
name = "shaft 3"
kind = "shaft"
mode = "free air"
pressure_bar = 0.0
setup_hours = 12.0

[[window]]
from_chainage_m = 320.0
to_chainage_m = 340.0
name = "block 4"
kind = "treated block"
mode = "compressed air"
pressure_bar = 1.1
setup_hours = 30.0

[[keep_out]]
from_chainage_m = 230.0
to_chainage_m = 260.0
reason = "below the river"

[[forced_stop]]
from_chainage_m = 230.0
to_chainage_m = 260.0
hours = 400.0
"""
STORES = """\
[service]
no_stockout_probability = 0.95
review_days = 7

[[stock]]
tool_type = "disc-17"
on_hand = 14
part_worn = [ { serial = "D-0212", wear_mm = 7.0 } ]
in_rebuild = 6
on_order = [ { quantity = 20, due = 2026-04-20, due_doubt_days = 10 } ]

[[stock]]
tool_type = "scraper"
on_hand = 3
"""
HEADER = (
    "ring,start_chainage_m,end_chainage_m,finished_at,revolutions_boring,revolutions_idle,revolutions_ccw_share,regime,"
    "thrust_kn,torque_knm,face_pressure_bar"
)


def ring_line(ring: int, *, first_m: float = 100.0, sign: int = 1) -> str:
    start = first_m + sign * 1.5 * (ring - 1)
    end = first_m + sign * 1.5 * ring
    return f"{ring},{start:.3f},{end:.3f},2025-11-17T22:10:00+01:00,66.0,3.5,0.5,normal,9000,2000,1.4"


ADVANCE = "\n".join([HEADER, *(ring_line(ring) for ring in range(1, 61))]) + "\n"
FIRST = """\
id = "20251110T0640-aaaa"
number = 1
ring = 20
chainage_m = 130.0
started_at = 2025-11-09T22:10:00+01:00
ended_at = 2025-11-10T06:40:00+01:00
mode = "compressed air"
pressure_bar = 1.1
entries = 3
measured_by = "A. Person"

[[measurement]]
position = 1
wear_mm = 3.5
method = "gauge"
condition = "even"

[[measurement]]
position = 2
points_mm = [4.0, 5.5, 4.0]
method = "gauge"

[[measurement]]
position = 3
not_read = "not reached"

[[measurement]]
position = 4
wear_below_mm = 1.0
method = "by eye"

[[measurement]]
position = 5
wear_above_mm = 25.0
method = "by eye"

[[fitting]]
position = 5
action = "change"
reason = "limit"
new_serial = "S-1"
old_to = "scrap"

[[structure]]
point = "rim-1"
thickness_mm = 78.0
"""
SECOND = """\
id = "20251118T0640-bbbb"
ring = 40
chainage_m = 160.0
started_at = 2025-11-17T22:10:00+01:00
mode = "free air"

[[measurement]]
position = 1
wear_mm = 6.0
method = "gauge"

[[measurement]]
position = 2
wear_mm = 8.0
method = "gauge"

[[fitting]]
position = 1
action = "swap"
from_position = 2
"""
SENSORS = """\
position,chainage_m,ring,at,word
3,150.0,34,2025-11-15T10:00:00+01:00,line proved
3,170.0,47,2025-11-19T10:00:00+01:00,reported 12.0
"""
EVENTS = """\
chainage_m,ring,at,kind,note
141.0,28,2025-11-13T09:00:00+01:00,boulder,loud for a minute
"""
FIRST_FILE = "inspections/20251110T0640-aaaa.toml"
SECOND_FILE = "inspections/20251118T0640-bbbb.toml"
GROUND_FILE = "ground/0001-tender.toml"


def texts() -> dict[str, str]:
    """The sound folder: file name to text."""
    return {
        "site.toml": SITE,
        "wheel.toml": WHEEL,
        GROUND_FILE: GROUND,
        "stops.toml": STOPS,
        "stores.toml": STORES,
        "advance.csv": ADVANCE,
        FIRST_FILE: FIRST,
        SECOND_FILE: SECOND,
        "sensors.csv": SENSORS,
        "events.csv": EVENTS,
    }


def write(folder: Path, files: dict[str, str | bytes]) -> Path:
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


def spoilt(folder: Path, file: str, old: str, new: str) -> Loaded:
    """Load the folder with one text exchanged in one file (which must be there to be exchanged)."""
    files = texts()
    assert old in files[file], f"{old!r} is not in {file}"
    files[file] = files[file].replace(old, new, 1)
    return load(write(folder, files))


def changed(folder: Path, **changes: str | bytes | None) -> Loaded:
    """Load the folder with whole files exchanged (None: taken away); ``__`` in a name stands for a dot."""
    files: dict[str, str | bytes] = dict(texts())
    for key, text in changes.items():
        name = key.replace("__", ".")
        if text is None:
            files.pop(name)
        else:
            files[name] = text
    return load(write(folder, files))


def by_code(loaded: Loaded, code: str) -> list[Fault]:
    return [fault for fault in loaded.faults if fault.code == code]


def line_of(text: str, part: str, *, nth: int = 1) -> int:
    """The number of the nth line that holds a part."""
    found = [number for number, line in enumerate(text.split("\n"), 1) if part in line]
    return found[nth - 1]
