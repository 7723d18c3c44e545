"""A folder to start from. What only the site can say stands open in it as "?", and `check` names each such line.

What a key is, is said from its description; here stand examples and what a description cannot know.

No figure is suggested for anything people enter the chamber by: there are no entry rows in it, only their keys.
"""

from __future__ import annotations

import os
from pathlib import Path

from wearplan.site.forms.schema import FILES
from wearplan.site.records import RingRow
from wearplan.site.records.key import columns
from wearplan.site.records.site import FORMAT
from wearplan.site.write.comments import commented

_SITE = f"""\
# The drive. Replace every "?": only the site can say what stands there. `wearplan check` names what is still open.
# All units are in the keys. Pressure is gauge, in bar, at the tunnel axis. Wear is radial (or of height), in mm.
format = {FORMAT}
name = "?"
# invented = true
currency = "EUR"
# jurisdiction = "GB"
# time_zone = "+01:00"

[drive]
start_chainage_m = "?"
end_chainage_m = "?"
ring_length_m = "?"
# face_ahead_of_ring_m = 9.5

# [[chainage_equation]]
# back_m = 1500.0
# ahead_m = 1512.0

[pace]
advance_m_per_day = "?"
working_days_per_week = "?"
# holidays = [2026-12-25]
"""

_WHEEL = """\
# The wheel: what stands where, from the drawings.
[wheel]
bore_diameter_m = "?"
# shield_diameter_m = 7.06
# neighbour_step_limit_mm = 10.0

# [gauging]
# gauge = { sd_mm = 0.5, step_mm = 0.5 }
# "by eye" = { sd_mm = 2.5, step_mm = 5.0 }

# [max_over_limit_probability]
# gauge = 0.05

[[tool_type]]                    # one for each type; copy this block
code = "disc-a"                  # a name of your own; positions and the store refer to it
kind = "disc"
diameter_mm = "?"                # discs only
wear_limit_mm = "?"
# damage_limit_mm = 32.0
price = "?"
# rebuild_price = 1100.0         # new ring and seals on a sound hub, with rebuildable_share and rebuild_days
# rebuildable_share = 0.75
# rebuild_days = 14
lead_time_days = "?"
change_hours = { "free air" = "?", "compressed air" = "?" }   # one tool, one work place; the site's own figures

# One [[position]] for each cutting edge. Also: tilt_deg, wear_limit_mm, sensor_mm = [12.0], housing = "C1" (edges of
# one tool), row = "S3" (with a [[row]]), arm = "A", access = "inside", cuts = "cw".
"""

_POSITION = """\
[[position]]
number = {number}
tool_type = "disc-a"
track_radius_mm = "?"
angle_deg = "?"
zone = "?"
"""

_GROUND = """\
# The ground as known on a date, whole. New knowledge is a new file (0002-...), this one stays.
known_on = "?"                   # a date, such as 2025-03-01, without quotes
source = "?"

[[unit]]                         # one for each unit of ground; every test is optional
code = "A"                       # a name of your own; sections refer to it
name = "?"
# cai = 2.4
# lac_g_per_t = 720.0
# ucs_mpa = 0.0
# eqc_pct = 61.0
# shear_strength_kpa = 95.0
# d60_mm = 6.0
# boulders = true
# expected_rate = [ { kind = "disc", mm_per_km = 0.02, factor = 2.5 } ]   # the site's own expectation

[[section]]                      # sections tile the drive in its order: no gap, no overlap
from_chainage_m = "?"
to_chainage_m = "?"
mix = { A = 1.0 }                # well-mixed face: shares of the area, their sum is 1; or
# strata = [ { unit = "B" }, { unit = "A", top_m = 1.1 } ]   # from the crown down; top_m above the axis; or
# cut = false                    # wheel pulled through without cutting
# boundary_sd_m = 8.0
# penetration_mm_per_rev = 22.0
"""

_STOPS = """\
# What stops cost and where they may be.
[costs]
standstill_per_hour = "?"
late_tool = "?"
# late_tool_per_m = 60.0
# major_damage = 18000.0
# minor_damage = 0.0
# minor_conditions = ["chipped", "mushroomed", "leaking"]
# compressed_air_per_person_hour = 0.0
# max_compressed_air_entries = 40

# [steps]
# lower_level = 4.0

# [[entry]] rows come from the site's own approved procedure. This program has no values of its own and suggests none;
# a window without a row that reaches its pressure cannot be used.
# [[entry]]
# mode =                         # free air | compressed air; mixed gas | saturation | divers are never planned
# up_to_pressure_bar =
# working_hours_per_entry =
# entries_per_day =
# persons =
# places =
# document =
# approved_by =
# approved_on =

# [[window]]
# from_chainage_m =
# to_chainage_m =
# name =
# kind =
# mode =
# pressure_bar =
# pressure_source =
# setup_hours =

# [[keep_out]]
# from_chainage_m =
# to_chainage_m =
# reason =

# [[forced_stop]]
# from_chainage_m =
# to_chainage_m =
# hours =
"""

_STORES = """\
# The store.
[service]
no_stockout_probability = "?"    # such as 0.95
review_days = "?"                # how often orders are looked at

[[stock]]                        # one for each tool type
tool_type = "disc-a"
on_hand = "?"
# in_rebuild = 6
# part_worn = [ { serial = "D-0212", wear_mm = 7.0 } ]
# on_order = [ { quantity = 20, due = 2026-04-20, due_doubt_days = 10 } ]
"""



_MERGES = """\
# Rows are only ever added to these files, each a fact of its own: git keeps those of both sides.
advance.csv merge=union
events.csv merge=union
sensors.csv merge=union
# A record is a file of its own and never changed: two sides that change one have to be looked at.
inspections/*.toml -merge
"""


def new_folder(path: Path | str, *, places: int = 1) -> tuple[Path, ...]:
    """Write a commented folder to start from.

    Parameters
    ----------
    path
        The folder; it must not exist yet, or be empty.
    places
        So many ``[[position]]`` blocks are written, numbered from 1.

    Returns
    -------
    tuple of Path
        What was written.

    Raises
    ------
    FileExistsError
        Where something stands already: nothing is ever overwritten.
    OSError
        Where it cannot be written.
    """
    path = Path(path)
    if os.path.lexists(path) and not path.is_dir():
        raise FileExistsError(f"{path} is there already and is no folder")
    if path.is_dir() and any(path.iterdir()):
        raise FileExistsError(f"{path} is not empty; name a folder that does not exist yet")
    texts = {
        "site.toml": _SITE,
        "wheel.toml": "\n".join(
            [_WHEEL, *(_POSITION.format(number=number) for number in range(1, max(places, 1) + 1))]
        ),
        "ground/0001-first.toml": _GROUND,
        "stops.toml": _STOPS,
        "stores.toml": _STORES,
        "advance.csv": ",".join(columns(RingRow)) + "\n",
    }
    for folder in (path, path / "ground", path / "inspections"):
        folder.mkdir(parents=True, exist_ok=True)
    with (path / ".gitattributes").open("x", encoding="utf-8", newline="\n") as file:
        file.write(_MERGES)
    written = []
    for name, text in texts.items():
        room = {"ground/0001-first.toml": "ground.toml"}.get(name, name)
        with (path / name).open("x", encoding="utf-8", newline="\n") as file:
            file.write(commented(text, FILES[room]) if room in FILES else text)
        written.append(path / name)
    return tuple(written)
