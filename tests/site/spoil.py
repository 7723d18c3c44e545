"""Structure-aware mutations of a site folder, and what must hold of whatever `load` makes of one."""

from __future__ import annotations

import math
import random
import tomllib
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import tomli_w

from wearplan.site import records
from wearplan.site.parse.text import CONTROL
from wearplan.site.records import Loaded, Site

ODD: tuple[Any, ...] = (
    0, -1, 1, 2, 7, 10**6, 10**30, -(10**9), 0.0, -0.0, 0.5, 1e-300, 1e300, -1e6, math.nan, math.inf, -math.inf, 1.4,
    99.5,
    "", " ", "?", "a", "disc-17", "x" * 500, "../../etc/passwd", "\x1b[31m", "\u202e", "nan", "1.5", "1e5", "=1+1",
    "[bold]",
    True, False, [], {}, [[]], [{}], [1, 2, 3], {"a": 1}, date(2025, 1, 1), date(1, 1, 1), datetime(2025, 1, 1),
    "free air",
)  # fmt: skip
CELLS = (
    "", " ", "0", "-1", "1", "1e9", "1e999", "nan", "inf", "-inf", "1,5", "1.5", "12.0", "99999999999999999999",
    "abc", '"', '""',
    "\x1b[2J", "\u202e", "=1+1", "0x10", "1_000", "٣", "2025-01-01", "2025-13-45", "line proved", "reported nan",
    "reported -1",
    "x" * 3000, "\x00", "--", "+", "1e-400", ".", "True",
)  # fmt: skip


def spoil(files: dict[str, str], rng: random.Random) -> dict[str, bytes]:
    """The folder with one to four things changed."""
    now = {name: text.encode() for name, text in files.items()}
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        if not now:
            break
        name = rng.choice(sorted(now))
        move = rng.random()
        if move < 0.08:
            _spoil_folder(now, name, rng)
        elif move < 0.25:
            now[name] = _spoil_bytes(now[name], rng)
        elif name.endswith(".csv"):
            now[name] = _spoil_csv(now[name], rng)
        else:
            now[name] = _spoil_toml(now[name], rng)
    return now


def _spoil_folder(files: dict[str, bytes], name: str, rng: random.Random) -> None:
    other = rng.choice(sorted(files))
    move = rng.randrange(5)
    if move == 0:
        del files[name]
    elif move == 1:
        files[name], files[other] = files[other], files[name]
    elif move == 2:
        files[f"inspections/copy {rng.randrange(3)}.toml"] = files[name]
    elif move == 3:
        files[f"ground/{rng.randrange(9)}.toml"] = files[other]
    else:
        files[rng.choice(["x.toml", "inspections/x", "ground/x.csv", "inspections/sub/y.toml", "Site.toml"])] = files[
            name
        ]


def _spoil_bytes(raw: bytes, rng: random.Random) -> bytes:
    lines = raw.split(b"\n")
    at = rng.randrange(len(lines))
    move = rng.randrange(9)
    if move == 0:
        return raw[: rng.randrange(len(raw) + 1)]
    if move == 1:
        where = rng.randrange(len(raw) + 1)
        return raw[:where] + bytes(rng.randrange(256) for _ in range(rng.choice((1, 2, 20)))) + raw[where:]
    if move == 2:
        del lines[at]
    elif move == 3:
        lines.insert(at, lines[rng.randrange(len(lines))])
    elif move == 4:
        to = rng.randrange(len(lines))
        lines[at], lines[to] = lines[to], lines[at]
    elif move == 5:
        return raw.replace(b"\n", b"\r\n")
    elif move == 6:
        return b"\xef\xbb\xbf" + raw
    elif move == 7:
        return raw.decode("utf-8", "replace").encode("utf-16")
    else:
        lines[at] = lines[at].replace(b"=", b":", 1).replace(b'"', b"", 1)
    return b"\n".join(lines)


def _spoil_csv(raw: bytes, rng: random.Random) -> bytes:
    rows = [line.split(",") for line in raw.decode("utf-8", "replace").split("\n")]
    at = rng.randrange(len(rows))
    row = rows[at]
    move = rng.randrange(8)
    if move <= 2:
        row[rng.randrange(len(row))] = rng.choice(CELLS)
    elif move == 3:
        del row[rng.randrange(len(row))]
    elif move == 4:
        row.insert(rng.randrange(len(row) + 1), rng.choice(CELLS))
    elif move == 5:
        rows.insert(rng.randrange(len(rows)), list(row))
    elif move == 6:
        to = rng.randrange(len(rows))
        rows[at], rows[to] = rows[to], rows[at]
    else:
        del rows[at : at + rng.choice((1, 2, 10))]
    return "\n".join(",".join(row) for row in rows).encode("utf-8", "replace")


def _tables(value: Any) -> list[Any]:
    """All tables and lists inside a value."""
    found = []
    if isinstance(value, dict | list):
        found.append(value)
        for item in value.values() if isinstance(value, dict) else value:
            found.extend(_tables(item))
    return found


def _spoil_toml(raw: bytes, rng: random.Random) -> bytes:
    try:
        data = tomllib.loads(raw.decode("utf-8-sig"))
    except (ValueError, UnicodeDecodeError):
        return _spoil_bytes(raw, rng)
    holders = [holder for holder in _tables(data) if holder]
    if not holders:
        return b"x = 1\n"
    holder = rng.choice(holders)
    key = rng.choice(list(holder)) if isinstance(holder, dict) else rng.randrange(len(holder))
    move = rng.randrange(8)
    if move <= 2:
        holder[key] = rng.choice(ODD)
    elif move == 3:
        del holder[key]
    elif move == 4 and isinstance(holder, dict):
        holder[key[:-1] + rng.choice("xyz_")] = holder.pop(key)
    elif move == 5:
        other = rng.choice(holders)
        if isinstance(other, dict):
            other[key if isinstance(key, str) else "x"] = rng.choice((holder[key], rng.choice(ODD)))
    elif move == 6 and isinstance(holder, list):
        holder.insert(rng.randrange(len(holder) + 1), holder[key])
    elif isinstance(holder, list):
        rng.shuffle(holder)
    elif isinstance(holder[key], int | float) and not isinstance(holder[key], bool):
        holder[key] = rng.choice(
            (-holder[key], holder[key] * 1000, holder[key] / 10, holder[key] + 1, float(holder[key]))
        )
    try:
        return tomli_w.dumps(data).encode("utf-8", "replace")
    except (TypeError, ValueError, RecursionError):
        return raw


def write_spoilt(folder: Path, files: dict[str, bytes]) -> None:
    for name, raw in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.is_dir():
            path.write_bytes(raw)


def must_hold(loaded: Loaded) -> None:
    """No impossible value was accepted, and every fault can be told.

    Raises
    ------
    AssertionError
        With what does not hold.
    """
    for fault in loaded.faults:
        assert fault.line >= 1
        assert fault.what
        assert fault.code
        assert set(fault.forbids) <= set(records.ANSWERS)
        assert not CONTROL.search(str(fault)), fault
        assert "\n" not in str(fault)
    if loaded.site is None:
        assert loaded.faults
        assert any(fault.forbids for fault in loaded.faults)
        return
    site = loaded.site
    _values_hold(site)
    _wheel_holds(site)
    _ground_holds(site)
    _stops_hold(site)
    _log_holds(site)


def _values_hold(value: Any, name: str = "site") -> None:
    """Every number finite, every text clean, all the way down."""
    if is_dataclass(value) and not isinstance(value, type):
        for field in fields(value):
            _values_hold(getattr(value, field.name), f"{name}.{field.name}")
    elif isinstance(value, tuple | list):
        for item in value:
            _values_hold(item, name)
    elif hasattr(value, "items"):
        for key, item in value.items():
            _values_hold(key, name)
            _values_hold(item, f"{name}.{key}")
    elif isinstance(value, float):
        assert math.isfinite(value), name
    elif isinstance(value, str):
        assert not CONTROL.search(value), name
        assert len(value) <= 12_000, name
    elif isinstance(value, int):
        assert abs(value) < 10**9, name


def _wheel_holds(site: Site) -> None:
    wheel = site.wheel
    codes = [tool_type.code for tool_type in wheel.tool_types]
    numbers = [position.number for position in wheel.positions]
    assert len(set(codes)) == len(codes)
    assert len(set(numbers)) == len(numbers)
    assert 0.5 < wheel.bore_diameter_m <= 30
    for tool_type in wheel.tool_types:
        assert tool_type.kind in records.KINDS
        assert tool_type.wear_limit_mm > 0
        assert all(hours > 0 for hours in tool_type.change_hours.values())
    for position in wheel.positions:
        assert position.tool_type in codes
        assert position.zone in records.ZONES
        assert 0 <= position.track_radius_mm <= wheel.bore_diameter_m * 500 + 0.5
    for change in wheel.layout_changes:
        assert change.position in numbers
        assert 0 <= change.from_m <= site.drive.length_m + 0.01
    if not site.forbidding("rates"):
        assert numbers
        for tool_type in wheel.tool_types:
            assert tool_type.damage_limit_mm is None or tool_type.damage_limit_mm >= tool_type.wear_limit_mm


def _ground_holds(site: Site) -> None:
    assert site.grounds or site.forbidding("plan")
    for ground in site.grounds:
        at = 0.0
        codes = {unit.code for unit in ground.units}
        for section in ground.sections:
            assert section.from_m == at
            assert section.to_m > section.from_m
            at = section.to_m
            assert (len(section.mix) > 0) + (len(section.strata) > 0) + (not section.cut) == 1
            if section.mix:
                assert math.isclose(math.fsum(section.mix.values()), 1.0, abs_tol=1e-12)
            assert set(section.mix) | {stratum.unit for stratum in section.strata} <= codes
        assert at == site.drive.length_m


def _stops_hold(site: Site) -> None:
    if site.stops is None:
        assert site.forbidding("plan")
        return
    length_m = site.drive.length_m
    for stretch in (*site.stops.windows, *site.stops.keep_outs, *site.stops.forced_stops):
        assert 0 <= stretch.from_m < stretch.to_m <= length_m
    for window in site.stops.windows:
        assert (window.pressure_bar > 0) != (window.mode == "free air") or window.mode == "divers"
    for row in site.stops.entry_rows:
        assert row.working_hours_per_entry > 0
        assert row.persons >= 1
    if site.stores is None:
        assert site.forbidding("demand")
    else:
        assert {stock.tool_type for stock in site.stores.stock} <= {kind.code for kind in site.wheel.tool_types}


def _log_holds(site: Site) -> None:
    numbers = {position.number for position in site.wheel.positions}
    for row in site.rings:
        if row.damaged is None:
            assert row.start_m is not None
            assert row.end_m is not None
            assert 0 < row.end_m - row.start_m <= 3 * site.drive.ring_length_m + 1e-9
            assert row.revolutions_boring is not None
            assert row.revolutions_boring >= 0
            assert row.revolutions_ccw_share is None or 0 <= row.revolutions_ccw_share <= 1
    ids = [one.id for one in (*site.inspections, *site.corrected)]
    assert len(set(ids)) == len(ids)
    whole = not site.forbidding("rates")
    for one in (*site.inspections, *site.corrected):
        assert one.started_at.tzinfo is not None
        assert one.ended_at is None or one.ended_at >= one.started_at
        assert -5 <= one.driven_m <= site.drive.length_m + 16
        for reading in one.measurements:
            assert reading.position in numbers or not whole
            ways = (
                reading.wear_mm, reading.points_mm or None, reading.wear_below_mm,
                reading.wear_above_mm, reading.not_read,
            )  # fmt: skip
            assert reading.damaged or sum(way is not None for way in ways) == 1
        for fitting in one.fittings:
            assert fitting.position in numbers or not whole
            assert fitting.action in records.ACTIONS
            assert fitting.damaged or (fitting.from_position is not None) == (fitting.action in ("move", "swap"))
    for word in site.sensor_words:
        assert word.position in numbers
        assert word.reported_mm is None or 0 <= word.reported_mm <= 1000
