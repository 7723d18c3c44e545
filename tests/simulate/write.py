"""Writes a site in memory as a site folder, as a person who keeps one might have typed it.

Deliberately not the program's own writer: what this writes and the program reads must meet in the format alone.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping
from datetime import date, datetime
from pathlib import Path

from wearplan.site.records import Ground, Inspection, Measurement, Site, Stops, Stores, Wheel

Cell = tuple[int, str]
"""(ring, column) of advance.csv."""


def value(given: object) -> str:
    """A value as TOML."""
    if isinstance(given, bool):
        return "true" if given else "false"
    if isinstance(given, str):
        return '"' + given.replace("\\", "\\\\").replace('"', '\\"') + '"'
    if isinstance(given, datetime | date):
        return given.isoformat()
    if isinstance(given, float):
        return repr(round(given, 4))
    if isinstance(given, int):
        return str(given)
    if isinstance(given, Mapping):
        return "{ " + ", ".join(f"{_key(k)} = {value(v)}" for k, v in given.items()) + " }"
    if isinstance(given, Iterable):
        return "[" + ", ".join(value(v) for v in given) + "]"
    raise TypeError(type(given))


def _key(key: str) -> str:
    bare = key.replace("_", "").replace("-", "")
    return key if bare.isascii() and bare.isalnum() else value(key)


def _lines(pairs: Mapping[str, object], notes: Mapping[str, str] | None = None) -> list[str]:
    """`key = value` for all that is set, with a remark behind where there is one."""
    out = []
    for key, given in pairs.items():
        if given is None or given == () or given == {}:
            continue
        line = f"{_key(key)} = {value(given)}"
        if notes and key in notes:
            line = f"{line}  # {notes[key]}"
        out.append(line)
    return out


def _fields(record: object, *names: str) -> dict[str, object]:
    return {name: getattr(record, name) for name in names}


def _join(blocks: Iterable[Iterable[str]]) -> str:
    return "\n\n".join("\n".join(block) for block in blocks) + "\n"


def site_text(site: Site) -> str:
    drive, pace = site.drive, site.pace
    head = ["format = 1", f"name = {value(site.name)}"]
    if site.invented:
        head.append("invented = true  # demonstration data: no such drive exists")
    head.append(f"currency = {value(site.currency)}")
    if site.jurisdiction:
        head.append(f"jurisdiction = {value(site.jurisdiction)}  # whose published rules the cautions point to")
    blocks = [
        head,
        [
            "[drive]",
            *_lines(
                _fields(drive, "start_chainage_m", "end_chainage_m", "ring_length_m", "face_ahead_of_ring_m"),
                {"face_ahead_of_ring_m": "last built ring to face; all chainages in this folder are the face's"},
            ),
        ],
        *(["[[chainage_equation]]", *_lines(_fields(e, "back_m", "ahead_m"))] for e in drive.equations),
        [
            "[pace]",
            *_lines(
                _fields(pace, "advance_m_per_day", "advance_doubt", "working_days_per_week", "holidays"),
                {"advance_m_per_day": "a working day, net of planned stops", "advance_doubt": "relative, one sd"},
            ),
        ],
    ]
    return _join(blocks)


def wheel_text(wheel: Wheel) -> str:
    blocks: list[list[str]] = [
        [
            "[wheel]",
            *_lines(
                _fields(wheel, "bore_diameter_m", "shield_diameter_m", "neighbour_step_limit_mm"),
                {"bore_diameter_m": "with new gauge tools"},
            ),
        ]
    ]
    if wheel.gauging:
        blocks.append(
            [
                "[gauging]  # error of one reading (sd) and the step it is rounded to",
                *(f"{_key(g.method)} = {value({'sd_mm': g.sd_mm, 'step_mm': g.step_mm})}" for g in wheel.gauging),
            ]
        )
    if wheel.max_over_limit_probability:
        blocks.append(
            [
                "[max_over_limit_probability]  # the plan keeps below these, by zone",
                *_lines(dict(wheel.max_over_limit_probability)),
            ]
        )
    blocks[0] += [f"{key} = {value(given)}" for key in ("leave_out", "factors") if (given := getattr(wheel, key))]
    for t in wheel.tool_types:
        names = (
            "code", "kind", "diameter_mm", "wear_limit_mm", "damage_limit_mm", "price", "rebuild_price",
            "rebuildable_share", "lead_time_days", "rebuild_days", "change_hours",
        )  # fmt: skip
        pairs = _fields(t, *names)
        if not t.rebuild_price:
            pairs.pop("rebuildable_share")
        blocks.append(["[[tool_type]]", *_lines(pairs)])
    for p in wheel.positions:
        names = (
            "number", "tool_type", "track_radius_mm", "angle_deg", "tilt_deg", "zone", "wear_limit_mm", "sensor_mm",
            "housing", "row", "arm", "access", "cuts",
        )  # fmt: skip
        pairs = _fields(p, *names)
        for name, plain in (("tilt_deg", 0.0), ("access", "chamber"), ("cuts", "both")):
            if pairs[name] == plain:
                pairs.pop(name)
        blocks.append(["[[position]]", *_lines(pairs)])
    for r in wheel.rows:
        blocks.append(["[[row]]", *_lines(_fields(r, "code", "may_be_over"))])
    for c in wheel.layout_changes:
        pairs = _fields(c, "from_chainage_m", "position", "tool_type")
        pairs.update({key: True for key in ("blanked", "added") if getattr(c, key)})
        blocks.append(["[[layout_change]]", *_lines(pairs)])
    for s in wheel.structure_points:
        names = ("code", "thickness_new_mm", "thickness_min_mm", "track_radius_mm")
        blocks.append(["[[structure_point]]", *_lines(_fields(s, *names))])
    return _join(blocks)


def ground_text(ground: Ground) -> str:
    blocks: list[list[str]] = [_lines({"known_on": ground.known_on, "source": ground.source})]
    for u in ground.units:
        names = ("code", "name", "cai", "lac_g_per_t", "ucs_mpa", "eqc_pct", "shear_strength_kpa", "d60_mm")
        pairs = _fields(u, *names)
        if u.boulders:
            pairs["boulders"] = True
        pairs["expected_rate"] = tuple(_fields(e, "kind", "mm_per_km", "factor") for e in u.expected_rate)
        blocks.append(["[[unit]]", *_lines(pairs)])
    for s in ground.sections:
        pairs = _fields(s, "from_chainage_m", "to_chainage_m", "mix")
        pairs["strata"] = tuple(
            {"unit": x.unit} if x.top_m is None else {"unit": x.unit, "top_m": x.top_m} for x in s.strata
        )
        if not s.cut:
            pairs["cut"] = False
        names = ("boundary_sd_m", "penetration_mm_per_rev", "required_overcut_mm", "water_head_m")
        pairs.update(_fields(s, *names))
        blocks.append(["[[section]]", *_lines(pairs)])
    return _join(blocks)


def stops_text(stops: Stops) -> str:
    costs = stops.costs
    names = (
        "standstill_per_hour", "late_tool", "late_tool_per_m", "compressed_air_per_person_hour",
        "max_compressed_air_entries",
    )  # fmt: skip
    notes = {
        "late_tool": "expected when a tool passes its damage limit",
        "late_tool_per_m": "and for every metre driven past it",
        "compressed_air_per_person_hour": "what this site puts on an hour under pressure when plans are compared",
    }
    blocks: list[list[str]] = [["[costs]", *_lines(_fields(costs, *names), notes)]]
    for f in stops.forced_stops:
        blocks.append(["[[forced_stop]]", *_lines(_fields(f, "from_chainage_m", "to_chainage_m", "hours"))])
    if stops.steps:
        blocks.append(["[steps]  # hours", *_lines(dict(stops.steps))])
    for e in stops.entry_rows:
        names = (
            "mode", "up_to_pressure_bar", "working_hours_per_entry", "entries_per_day", "persons", "places",
            "document", "approved_by", "approved_on",
        )  # fmt: skip
        blocks.append(["[[entry]]", *_lines(_fields(e, *names))])
    for w in stops.windows:
        names = (
            "from_chainage_m", "to_chainage_m", "name", "kind", "mode", "pressure_bar", "pressure_source",
            "setup_hours", "fixed_cost",
        )  # fmt: skip
        blocks.append(["[[window]]", *_lines(_fields(w, *names))])
    for k in stops.keep_outs:
        blocks.append(["[[keep_out]]", *_lines(_fields(k, "from_chainage_m", "to_chainage_m", "reason"))])
    return _join(blocks)


def stores_text(stores: Stores) -> str:
    names = ("no_stockout_probability", "review_days", "holding_per_year", "hurry_factor")
    blocks = [["[service]", *_lines(_fields(stores, *names))]]
    for s in stores.stock:
        pairs: dict[str, object] = {"tool_type": s.tool_type, "on_hand": s.on_hand}
        pairs["part_worn"] = tuple(
            {k: v for k, v in _fields(p, "serial", "wear_mm").items() if v is not None} for p in s.part_worn
        )
        pairs["in_rebuild"] = s.in_rebuild or None
        pairs["on_order"] = tuple(_fields(o, "quantity", "due", "due_doubt_days") for o in s.on_order)
        blocks.append(["[[stock]]", *_lines(pairs)])
    return _join(blocks)


def _measurement(m: Measurement) -> list[str]:
    names = (
        "position", "wear_mm", "points_mm", "wear_below_mm", "wear_above_mm", "not_read", "method", "condition",
        "serial", "note",
    )  # fmt: skip
    return ["[[measurement]]", *_lines(_fields(m, *names))]


def inspection_text(inspection: Inspection) -> str:
    names = (
        "id", "number", "ring", "chainage_m", "started_at", "ended_at", "mode", "pressure_bar", "entries",
        "person_hours", "parking_angle_deg", "measured_by", "entered_by", "checked_by", "corrects", "reason", "note",
    )  # fmt: skip
    blocks = [_lines(_fields(inspection, *names))]
    blocks += [_measurement(m) for m in inspection.measurements]
    names = (
        "position", "action", "reason", "old_serial", "old_to", "new_serial", "new_tool_type", "new_batch",
        "new_wear_mm", "new_rebuilds", "from_position",
    )  # fmt: skip
    blocks += [["[[fitting]]", *_lines(_fields(f, *names))] for f in inspection.fittings]
    blocks += [["[[structure]]", *_lines(_fields(s, "point", "thickness_mm"))] for s in inspection.structure]
    return _join(blocks)


def _csv(head: Iterable[str], rows: Iterable[Iterable[object]]) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow(["" if c is None else c.isoformat() if isinstance(c, datetime) else c for c in row])
    return text.getvalue()


RING_COLUMNS = (
    "ring", "start_chainage_m", "end_chainage_m", "finished_at", "revolutions_boring", "revolutions_idle",
    "revolutions_ccw_share", "regime", "thrust_kn", "torque_knm", "face_pressure_bar",
)  # fmt: skip


def advance_text(site: Site, spoilt: Mapping[Cell, str] | None = None) -> str:
    """The ring log; ``spoilt`` puts a word where a machine failed to write a number."""
    spoilt = spoilt or {}
    rows = ([spoilt.get((r.ring, c), getattr(r, c)) for c in RING_COLUMNS] for r in site.rings)
    return _csv(RING_COLUMNS, rows)


def sensors_text(site: Site) -> str:
    head = ("position", "chainage_m", "ring", "at", "word")

    def word(reported_mm: float | None) -> str:
        return "line proved" if reported_mm is None else f"reported {reported_mm}"

    return _csv(head, ((w.position, w.chainage_m, w.ring, w.at, word(w.reported_mm)) for w in site.sensor_words))


def events_text(site: Site) -> str:
    head = ("chainage_m", "ring", "at", "kind", "note")
    return _csv(head, ((e.chainage_m, e.ring, e.at, e.kind, e.note) for e in site.events))


def folder_texts(
    site: Site, *, spoilt: Mapping[Cell, str] | None = None, heads: Mapping[str, str] | None = None
) -> dict[str, str]:
    """All files of the folder by name; ``heads`` are comments to stand at the top of a file."""
    texts = {"site.toml": site_text(site), "wheel.toml": wheel_text(site.wheel)}
    for k, ground in enumerate(site.grounds, start=1):
        word = "-".join(ground.source.split())
        texts[f"ground/{k:04d}-{word}.toml"] = ground_text(ground)
    if site.stops is not None:
        texts["stops.toml"] = stops_text(site.stops)
    if site.stores is not None:
        texts["stores.toml"] = stores_text(site.stores)
    texts["advance.csv"] = advance_text(site, spoilt)
    for inspection in site.inspections:
        texts[f"inspections/{inspection.id}.toml"] = inspection_text(inspection)
    if site.sensor_words:
        texts["sensors.csv"] = sensors_text(site)
    if site.events:
        texts["events.csv"] = events_text(site)
    for name, head in (heads or {}).items():
        texts[name] = "".join(f"# {line}\n" if line else "#\n" for line in head.splitlines()) + "\n" + texts[name]
    return texts


def write_folder(site: Site, folder: Path, **more: Mapping) -> None:  # type: ignore[type-arg]
    """Write the folder; files of an earlier writing that are no longer part of it are removed."""
    texts = folder_texts(site, **more)
    for part in ("inspections", "ground"):
        for old in sorted((folder / part).glob("*.toml")):
            if f"{part}/{old.name}" not in texts:
                old.unlink()
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode())
