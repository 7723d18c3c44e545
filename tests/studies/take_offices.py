# ruff: noqa: E501, C901 (a study told line by line)
"""Offices with a known truth taken in, and what came of it held against that truth.

    TAKE_OFFICES=folder python -m tests.studies.take_offices [OFFICE ...]

A folder holds one folder an office: its files, ``manifest.json`` with tolerances, names of places and slips, and ``truth/``,
a site folder. Answers a person would give stand in ``ANSWERS``; everything else is what the program suggests, and told.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections import Counter
from datetime import datetime
from pathlib import Path

from wearplan.site import load
from wearplan.take.engine import take
from wearplan.take.keep.writing import propose, write

FACTS = {
    "name": "office",
    "invented": True,
    "advance_m_per_day": 12.0,
    "working_days_per_week": 6,
    "bore_diameter_m": 9.5,
    "ground_source": "sheets",
    "no_stockout_probability": 0.95,
    "review_days": 7.0,
}
ANSWERS = {
    "A": {"time zone": "+00:00", "chainage of rings": "face"},
    "B": {"time zone": "+00:00", "face ahead of ring": 8.0},
    "C": {"time zone": "+00:00", "chainage of rings": "face", "mode": "free air", "new diameter": 432.0},
}


def judge(folder: Path) -> int:
    """So many things of an office are not as its truth and its manifest say."""
    manifest = json.loads((folder / "manifest.json").read_text())
    files = sorted(p for p in folder.iterdir() if p.is_file() and p.suffix != ".json")
    given = {**ANSWERS.get(folder.name, {}), **json.loads(os.environ.get("TAKE_ANSWERS", "{}"))}
    blind = take(files, None, {})
    print(f"== {folder.name}: questions without any answer:")
    for question in blind.questions:
        print(f"   [{question.about}] {question.name}: suggested {question.suggested}")
    taken = take(files, None, given, accept=True, facts=FACTS)
    print("   still open:", [q.name for q in taken.questions])
    meaning = [n for n in taken.answers.used if "!" not in n]
    print(f"   {len(meaning)} questions of meaning, {len(taken.answers.used) - len(meaning)} about cells")
    with tempfile.TemporaryDirectory() as home:
        site_folder = Path(home) / "site"
        proposal = propose(taken, site_folder, None, datetime.now().astimezone())
        print("   waits:", proposal.waits)
        print("   held back:", [each.line for each in proposal.held] or "nothing")
        write(proposal, site_folder)
        path = site_folder / "ground" / "0001-first.toml"
        if path.exists():
            path.write_text(path.read_text().replace('known_on = "?"', "known_on = 2025-01-01"))
        loaded = load(site_folder)
        for fault in loaded.faults:
            if fault.forbids and not set(fault.forbids) <= {"plan", "demand"}:
                print("   fault:", fault)
        truth = load(folder / "truth").site
        if loaded.site is None or truth is None:
            print("   NO SITE"), [print("   ", f) for f in loaded.faults[:10]]
            return 1
        wrong = _compare(loaded.site, truth, manifest, taken)
    for slip in manifest["slips"]:
        cells = [(c["file"], c["sheet"], c["cell"]) for c in slip["cells"]]
        met = [
            f
            for f in taken.findings
            if any(
                f.cell.split(", ")[-1] == cell and (not f.sheet or f.sheet == sheet or sheet is None)
                for _, sheet, cell in cells
            )
        ]
        duty = {"take": {"taken", "left out"}, "ask": {"asked"}, "refuse": {"refused"}}[slip["must"]]
        ok = any(f.duty in duty for f in met)
        wrong += not ok
        print(
            f"   {'ok  ' if ok else 'MISS'} {slip['id']} {slip['must']}: {slip['kind']}: {[f'{f.duty}: {f.what}' for f in met][:1]}"
        )
    return wrong + len(taken.questions)


def _compare(site, truth, manifest, taken) -> int:
    tolerance = manifest["tolerance"]
    bad: Counter[str] = Counter()
    places = {p.number: p for p in site.wheel.positions}
    for place in truth.wheel.positions:
        ours = places.pop(place.number, None)
        if ours is None:
            bad["place missing"] += 1
            continue
        if abs(ours.track_radius_mm - place.track_radius_mm) > tolerance["track_radius_mm"]:
            bad["radius"] += 1
        if abs((ours.angle_deg - place.angle_deg + 180) % 360 - 180) > tolerance["angle_deg"]:
            bad["angle"] += 1
        limits = [
            p.wear_limit_mm or w.tool_type(p.tool_type).wear_limit_mm
            for p, w in ((ours, site.wheel), (place, truth.wheel))
        ]
        for what, same in (
            ("zone", ours.zone == place.zone),
            ("limit", limits[0] == limits[1]),
            ("housing", (ours.housing is None) == (place.housing is None)),
            ("row", ours.row == place.row),
            ("tilt", abs(ours.tilt_deg - place.tilt_deg) < 0.6),
        ):
            if not same:
                bad[what] += 1
                print("   ", what, place.number, ours, place)
    bad["places too many"] = len(places)
    rings = {r.ring: r for r in site.rings}
    for row in truth.rings:
        ours = rings.get(row.ring)
        if (
            ours is None
            or abs(ours.end_chainage_m - row.end_chainage_m) > tolerance["chainage_m"]
            or ours.revolutions_boring != row.revolutions_boring
        ):
            bad["ring"] += 1
    stops = {i.ring: i for i in site.inspections}
    count: Counter[str] = Counter()
    for inspection in truth.inspections:
        ours = stops.pop(inspection.ring, None)
        if ours is None:
            bad["stop missing"] += 1
            print("    stop missing", inspection.ring)
            continue
        if (
            abs(ours.chainage_m - inspection.chainage_m) > tolerance["chainage_m"]
            or ours.started_at.date() != inspection.started_at.date()
            or ours.mode != inspection.mode
            or ours.pressure_bar != inspection.pressure_bar
        ):
            bad["stop head"] += 1
            print(
                "    head",
                ours.ring,
                ours.chainage_m,
                inspection.chainage_m,
                ours.started_at,
                inspection.started_at,
                ours.mode,
                inspection.mode,
            )
        mine = {m.position: m for m in ours.measurements}
        for m in inspection.measurements:
            o = mine.pop(m.position, None)
            if o is None or not _same(o, m, tolerance["wear_mm"]):
                bad["reading"] += 1
                print("    reading", inspection.ring, m, o)
            count["readings"] += m.not_read is None
        for o in mine.values():
            bad["reading too many"] += 1
            print("    too many", inspection.ring, o)
        fits = {f.position: f for f in ours.fittings}
        for f in inspection.fittings:
            o = fits.pop(f.position, None)
            keys = ("action", "reason", "old_serial", "new_serial", "old_to", "from_position")
            if o is None or any(getattr(o, k) != getattr(f, k) for k in keys):
                bad["fitting"] += 1
                print(
                    "    fitting",
                    inspection.ring,
                    [(k, getattr(o, k, None), getattr(f, k)) for k in keys if getattr(o, k, None) != getattr(f, k)],
                    f.position,
                )
            count["fittings"] += 1
        bad["fitting too many"] += len(fits)
    bad["stops too many"] = len(stops)
    theirs, ours_g = truth.ground(), site.ground()
    units = {u.code: u for u in ours_g.units} if ours_g else {}
    for unit in theirs.units:
        o = units.get(unit.code)
        for key in ("cai", "lac_g_per_t", "ucs_mpa", "d60_mm"):
            if (
                o is None
                or (getattr(o, key) is None and getattr(unit, key) is not None)
                or (
                    getattr(unit, key) is not None
                    and abs(getattr(o, key) - getattr(unit, key)) > 0.02 * getattr(unit, key)
                )
            ):
                bad[f"unit {unit.code} {key}"] += 1
    for a, b in zip(ours_g.sections if ours_g else (), theirs.sections, strict=False):
        same = (
            abs(a.from_chainage_m - b.from_chainage_m) < 0.06
            and abs(a.to_chainage_m - b.to_chainage_m) < 0.06
            and a.strata == b.strata
            and a.cut == b.cut
        )
        same = (
            same
            and dict(a.mix) == dict(b.mix)
            and a.penetration_mm_per_rev in (None, b.penetration_mm_per_rev)
            and a.water_head_m in (None, b.water_head_m)
        )
        if not same:
            bad["section"] += 1
            print("    section", a, b)
    if len(ours_g.sections if ours_g else ()) != len(theirs.sections):
        bad["sections"] += 1
    stock = {s.on_hand: s for s in site.stores.stock} if site.stores else {}
    for s in truth.stores.stock if truth.stores else ():
        o = stock.get(s.on_hand)
        if site.stores is not None and (
            o is None
            or (o.in_rebuild, o.part_worn) != (s.in_rebuild, s.part_worn)
            or [(x.quantity, x.due) for x in o.on_order] != [(x.quantity, x.due) for x in s.on_order]
        ):
            bad["stock"] += 1
            print("    stock", o, s)
    print("   compared:", dict(count), "WRONG:", {k: v for k, v in bad.items() if v} or "nothing")
    return sum(bad.values())


def _same(o, m, tolerance) -> bool:
    for key in ("wear_mm", "wear_below_mm", "wear_above_mm"):
        a, b = getattr(o, key), getattr(m, key)
        if (a is None) != (b is None) or (a is not None and abs(a - b) > tolerance):
            return False
    return (
        o.not_read == m.not_read
        and len(o.points_mm) == len(m.points_mm)
        and all(abs(x - y) <= tolerance for x, y in zip(o.points_mm, m.points_mm, strict=True))
        and o.condition == m.condition
        and o.method == m.method
    )


if __name__ == "__main__":
    home = Path(os.environ["TAKE_OFFICES"])
    names = sys.argv[1:] or sorted(p.name for p in home.iterdir() if (p / "truth").is_dir())
    sys.exit(1 if sum(judge(home / name) for name in names) else 0)
