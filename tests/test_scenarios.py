"""Whole ways through the program as a site would go them, each from a folder to an answer."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest

from wearplan import history, plan, wear
from wearplan.cli.main import main
from wearplan.report.preview import what_it_means
from wearplan.site import load

SAMPLE = Path(__file__).parents[1] / "sample_wheel"
QUICK = plan.Wishes(deferral=False, tradeoff=False, comparison=False, gap=0.01, max_candidates=30, time_limit_s=20)


@pytest.fixture
def folder(tmp_path):
    copy = tmp_path / "site"
    shutil.copytree(SAMPLE, copy)
    return copy


def edit(path: Path, pattern: str, by: str, *, flags: int = 0) -> None:
    text = path.read_text(encoding="utf-8")
    changed = re.sub(pattern, by, text, flags=flags)
    assert changed != text, f"{pattern} does not stand in {path.name}"
    path.write_text(changed, encoding="utf-8")


def site_of(folder: Path):
    site = load(folder).site
    assert site is not None
    return site


def test_no_readings_yet(folder, capsys):
    """52 discs and 44 scrapers that nobody has looked at: an answer, every rate an expectation, doubt wide."""
    for path in (folder / "inspections").iterdir():
        path.unlink()
    (folder / "sensors.csv").unlink()
    edit(folder / "wheel.toml", r"(?s)\[max_over_limit_probability\].*?\n(?=\n|\[)", "")
    site = site_of(folder)
    kinds = [site.wheel.tool_type(place.tool_type).kind for place in site.wheel.positions]
    assert kinds.count("disc") >= 45
    assert kinds.count("scraper") >= 40
    fit = wear.learn(site)
    for rate in fit.rates:
        assert rate.readings == 0
        assert "expectation" in rate.basis
        assert rate.mm_per_km.p95 / rate.mm_per_km.p05 > 3
    outlook = wear.look_ahead(site, fit, draws=100)
    proposed = plan.propose(site, outlook, wishes=QUICK)
    assert proposed.stops
    said = " ".join(change.sentence for stop in proposed.stops for change in stop.changes)
    assert "certain" not in said.replace("not certain", "").replace("uncertain", "")
    assert main(["rates", str(folder)]) == 0
    assert "no stop is certain" in capsys.readouterr().out


def test_no_entry_row_reaches_the_window(folder):
    """One entry row up to 1.2 bar and a window at 1.4 bar: unusable, the row is named; a row up to 1.6 bar mends it."""
    stops = folder / "stops.toml"
    text = stops.read_text(encoding="utf-8")
    head, *blocks = re.split(r"(?m)^(?=\[\[)", text)
    kept = [block for block in blocks if not block.startswith("[[entry]]") or '"free air"' in block]
    row = '[[entry]]\nmode = "compressed air"\nup_to_pressure_bar = {bar}\nworking_hours_per_entry = {hours}\n'
    row += "entries_per_day = 2\npersons = 3\nplaces = 2\n\n"
    site = site_of(folder)
    face_m = history.face_m(site)
    window = next(w for w in site.stops.windows if w.from_m > face_m and w.mode == "compressed air")
    kept = [
        re.sub(r"(?m)^pressure_bar = .*$", "pressure_bar = 1.4", block) if f'"{window.name}"' in block else block
        for block in kept
    ]
    stops.write_text(head + "".join(kept) + "\n" + row.format(bar=1.2, hours=4.0), encoding="utf-8")
    outlook = wear.look_ahead(site_of(folder), wear.learn(site_of(folder)), draws=60)
    proposed = plan.propose(site_of(folder), outlook, wishes=QUICK)
    why = next(entry.why for entry in proposed.unusable if entry.window == window.name)
    assert "1.4" in why
    assert "1.2" in why
    assert all(stop.window != window.name for stop in proposed.stops)
    stops.write_text(stops.read_text(encoding="utf-8") + row.format(bar=1.6, hours=3.0), encoding="utf-8")
    site = site_of(folder)
    outlook = wear.look_ahead(site, wear.learn(site), draws=60)
    forced = plan.Wishes(**{**vars_of(QUICK), "forced_windows": (window.name,)})
    proposed = plan.propose(site, outlook, wishes=forced)
    assert all(entry.window != window.name for entry in proposed.unusable)
    stop = next(stop for stop in proposed.stops if stop.window == window.name)
    assert "1.6" in (stop.entry_row or "")
    work = sum(change.hours for change in stop.changes)
    assert stop.entries >= np.ceil(work / 2 / 3.0 - 1e-9)


def vars_of(wishes: plan.Wishes) -> dict:
    import dataclasses

    return {field.name: getattr(wishes, field.name) for field in dataclasses.fields(wishes)}


def test_rings_missing_and_doubled(tmp_path):
    """Rings 611 to 620 missing and 615 doubled: wear now differs by less than 0.3 mm, and the gap is named."""
    whole, holed = tmp_path / "whole", tmp_path / "holed"
    for copy in (whole, holed):
        shutil.copytree(SAMPLE, copy)
    lines = (SAMPLE / "advance.csv").read_text(encoding="utf-8").splitlines()
    named = [line for line in lines[1:] if not 611 <= int(line.split(",")[0]) <= 620]
    survivor = next(line for line in lines[1:] if line.startswith("616,"))
    doubled = survivor.replace("616,", "615,", 1)
    start, end = (float(survivor.split(",")[i]) for i in (1, 2))
    doubled = doubled.replace(f"{survivor.split(',')[1]},{survivor.split(',')[2]}", f"{start - 1.5},{end - 1.5}", 1)
    text = "\n".join([lines[0], *named, doubled, doubled]) + "\n"
    (holed / "advance.csv").write_text(text, encoding="utf-8")
    sites = [site_of(copy) for copy in (whole, holed)]
    now = [np.median(wear.look_ahead(site, wear.learn(site), draws=400).wear_now_mm, axis=0) for site in sites]
    assert np.abs(now[0] - now[1]).max() < 0.3
    faults = " ".join(str(fault) for fault in sites[1].faults)
    notes = " ".join(history.clean_rings(sites[1]).notes)
    assert "611" in faults + notes
    assert "615" in faults
    face = history.face_m(sites[1])
    rings = history.clean_rings(sites[1])
    assert rings.end_m[-1] == pytest.approx(face, abs=1e-3)
    assert np.sum(rings.end_m - rings.start_m) == pytest.approx(face, abs=1e-3)


def test_a_finished_drive(folder, capsys):
    """Nothing lies ahead: no stop is needed, in a clear sentence."""
    last = (folder / "advance.csv").read_text(encoding="utf-8").splitlines()[-1].split(",")
    edit(folder / "site.toml", r"(?m)^end_chainage_m = [0-9.]+", f"end_chainage_m = {last[2]}")
    code = main(["check", str(folder)])
    text = capsys.readouterr().out
    assert "Traceback" not in text
    assert code in (0, 3)


def test_no_window_ahead(folder, capsys):
    """Caps that cannot hold and nowhere to stop: exit 4 with the reason."""
    text = (folder / "stops.toml").read_text(encoding="utf-8")
    head, *blocks = re.split(r"(?m)^(?=\[\[)", text)
    kept = [block for block in blocks if not block.startswith(("[[window]]", "[[keep_out]]"))]
    (folder / "stops.toml").write_text(head + "".join(kept), encoding="utf-8")
    assert main(["plan", str(folder), "--quick", "--json"]) == 4
    body = json.loads(capsys.readouterr().out)
    assert body["status"] == "impossible"
    assert "no place to stop" in body["why_impossible"]["sentence"] or "window" in body["why_impossible"]["sentence"]


def test_no_window_ahead_and_no_cap(folder, capsys):
    """Without caps too: tools that will pass their limit and nowhere to stop are no plan."""
    text = (folder / "stops.toml").read_text(encoding="utf-8")
    head, *blocks = re.split(r"(?m)^(?=\[\[)", text)
    kept = [block for block in blocks if not block.startswith(("[[window]]", "[[keep_out]]"))]
    (folder / "stops.toml").write_text(head + "".join(kept), encoding="utf-8")
    edit(folder / "wheel.toml", r"(?m)^\[max_over_limit_probability\][^\[]*", "")
    assert main(["plan", str(folder), "--quick"]) == 4
    said = capsys.readouterr().out
    assert said.startswith("No plan keeps the rules.")
    assert "would pass its limit" in " ".join(said.split())


def test_a_reading_over_the_limit_that_nothing_else_bears_out(folder):
    """35 mm typed at a disc of 25 mm limit that stays: the estimate may doubt it, no answer may pass over it."""
    (folder / "inspections" / "20261122T2210-abcd.toml").write_text(
        'id = "20261122T2210-abcd"\nring = 1200\nchainage_m = 1980.0\nstarted_at = 2026-11-22T22:10:00Z\n'
        'mode = "free air"\n\n[[measurement]]\nposition = 15\nwear_mm = 35.0\nmethod = "gauge"\n',
        encoding="utf-8",
    )
    site = site_of(folder)
    outlook = wear.look_ahead(site, wear.learn(site), draws=100)
    place = outlook.layout.index(15)
    if np.mean(outlook.wear_now_mm[:, place] > 25.0) <= 0.5:
        assert [(number, mm, limit) for number, mm, limit, _ in outlook.doubted_over_limit] == [(15, 35.0, 25.0)]
        proposed = plan.propose(site, outlook, wishes=QUICK)
        assert any("15 (35 of 25 mm at 1+980.0)" in remark for remark in proposed.remarks)
        assert any("Place 15 was read at 35 mm" in line for line in what_it_means(site, outlook, outlook))


def test_four_lost_rings_after_a_boulder(folder):
    """A boulder and four lost rings: abrasion rates move under 3 %, the damage rate rises, neighbours are named."""
    site = site_of(folder)
    before = wear.learn(site)
    last = next(stop for stop in site.inspections if stop.ring >= 702)
    even = {m.position for m in last.measurements if m.wear_mm is not None and m.condition == "even"}
    kinds = {place.number: site.wheel.tool_type(place.tool_type).kind for place in site.wheel.positions}
    taken_off = [fitting.position for fitting in last.fittings if fitting.action == "change"]
    discs = [number for number in taken_off if number in even and kinds[number] == "disc"][:4]
    assert len(discs) == 4
    path = folder / "inspections" / f"{last.id}.toml"
    blocks = re.split(r"(?m)^(?=\[\[)", path.read_text(encoding="utf-8"))
    for index, block in enumerate(blocks):
        if block.startswith("[[measurement]]") and int(re.search(r"position = (\d+)", block)[1]) in discs:
            blocks[index] = block.replace('condition = "even"', 'condition = "ring lost"')
    path.write_text("".join(blocks), encoding="utf-8")
    with (folder / "events.csv").open("a", encoding="utf-8") as out:
        out.write(f"{last.chainage_m - 1.5},702,,boulder,made for a test\n")
    changed = site_of(folder)
    after = wear.learn(changed)
    for old, new in zip(before.rates, after.rates, strict=True):
        if old.readings > 20 and old.kind == "disc":
            assert new.mm_per_km.p50 == pytest.approx(old.mm_per_km.p50, rel=0.03)
    seen = [sum(r.events for r in (*fit.damage, *fit.layered_damage) if r.kind == "disc") for fit in (before, after)]
    assert seen[1] == pytest.approx(seen[0] + len(discs), abs=0.1)
    look = wear.look_at(after, last.driven_m - 1.5)
    assert set(discs) <= set(look)
    assert len(look) > len(discs)
