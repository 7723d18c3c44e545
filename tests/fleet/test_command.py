"""`wearplan fleet` on sites that answer, are broken and are away; every number is that of the single commands."""

from __future__ import annotations

import json
import re
import shutil
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from tests.site.small_site import texts, write
from wearplan.cli.main import main
from wearplan.fleet.fleet import first_of, remarks_of
from wearplan.fleet.records import Line

DAY = "2026-11-26"


@pytest.fixture(scope="module")
def fleet(tmp_path_factory):
    """Two small drives, an empty folder and one that is not there: (folders, where they lie)."""
    top = tmp_path_factory.mktemp("fleet")
    for name in ("north", "south"):
        files = texts()
        files["wheel.toml"] = files["wheel.toml"].replace("[max_over_limit_probability]\ngauge = 0.05\n", "")
        files["stops.toml"] = re.sub(r"late_tool = \S+", "late_tool = 900000.0", files["stops.toml"])
        write(top / name, files)
    edit(top / "south" / "site.toml", '"Test drive"', '"South <b>tube</b>"\ncurrency = "GBP"')
    edit(top / "north" / "site.toml", '"Test drive"', '"North tube"')
    (top / "empty").mkdir()
    return [top / "north", top / "south", top / "empty", top / "away"], top


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.fixture(scope="module")
def body(fleet):
    """One run with pooled rates, its page written beside."""
    folders, top = fleet
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WEARPLAN_STATE_DIR", str(top / "state"))
        patch.setattr("sys.stdout", open(top / "out.json", "w", encoding="utf-8"))  # noqa: PTH123, SIM115
        code = main(["fleet", *map(str, folders), "--on", DAY, "--rates", "--json", "-o", str(top / "page.html")])
        import sys

        sys.stdout.close()
    assert code == 1  # two have no answer
    return json.loads((top / "out.json").read_text(encoding="utf-8"))


def test_one_line_a_site_and_none_stops_another(body):
    north, south, empty, away = body["sites"]
    assert [site["state"] for site in body["sites"]][2:] == ["faults", "away"]
    assert north["state"] == "answered"
    assert south["name"] == "South <b>tube</b>"
    assert "/tmp/wearplan-" not in empty["why"]
    assert "cannot be read" in away["why"]
    assert any("EUR, GBP" in remark for remark in body["remarks"])
    assert any("several wheels" in remark for remark in body["remarks"])
    assert any("hold 2 of the same inspections" in remark for remark in body["remarks"])


def test_the_numbers_are_those_of_one_site_alone(fleet, body):
    from wearplan import plan, wear
    from wearplan.cli.steps import DRAWS
    from wearplan.site import load

    site = load(fleet[0][0]).site
    outlook = wear.look_ahead(site, wear.learn(site), draws=DRAWS)
    found = plan.propose(site, outlook, wishes=plan.Wishes(deferral=False, tradeoff=False, comparison=False))
    north = body["sites"][0]
    assert north["expected_cost"] == found.expected_cost
    assert north["entries"] == found.entries_under_pressure
    assert north["next_chainage_m"] == found.stops[0].chainage_m
    assert north["tools_due"] == sum(len(change.positions) for change in found.stops[0].changes)


def test_a_second_run_takes_what_was_kept(fleet, body, monkeypatch, capsys):
    folders, top = fleet
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(top / "state"))
    monkeypatch.setattr("wearplan.fleet.run._parallel", lambda *_: pytest.fail("nothing is to be worked out"))
    assert main(["fleet", *map(str, folders), "--on", DAY]) == 1
    out = capsys.readouterr()
    assert "3 of 4 lines are those of an earlier run" in out.err
    assert "What needs a person first" in out.out
    assert "South <b>tube</b>" in out.out


def test_rates_are_pooled_with_their_pull_and_the_next_drives_doubt(body):
    discs = [rate for rate in body["rates"] if rate["kind"] == "disc" and rate["unit"] == "SG"]
    assert len(discs) == 2
    assert {rate["matched"] for rate in discs} == {"by tests"}
    assert all(0.0 < rate["pull"] < 1.0 for rate in discs)
    ahead = next(each for each in body["next_drive"] if each["kind"] == "disc" and "gravel" in each["class_name"])
    widest = max(rate["pooled"][2] / rate["pooled"][0] for rate in discs)
    assert ahead["band"][2] / ahead["band"][0] > widest
    assert len(ahead["drives"]) == 2
    assert all(each["p05"] < each["middle"] < each["p95"] for each in body["spread_between_drives"])


def test_the_page_has_the_same_numbers_and_no_markup_of_a_name(fleet, body):
    page = (fleet[1] / "page.html").read_text(encoding="utf-8")
    assert "South &lt;b&gt;tube" in page
    assert "<b>tube" not in page
    assert body["sites"][0]["next_on"] in page
    assert "http" not in page
    assert "Planning" in page


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["DIR", "DIR"], "more than once"),
        (["DIR", "--since", "2027-01-01", "--on", "2026-01-01"], "cannot be told"),
        (["DIR", "--jobs", "0"], "from 1 on"),
        (["DIR", "--classes", "nowhere.toml", "--rates"], "cannot be read"),
        (["DIR", "--on", "soon"], "write it as"),
        ([], "FOLDER"),
    ],
)
def test_what_cannot_be_asked_says_so(words, says, tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "state"))
    assert main(["fleet", *[str(tmp_path / "none") if word == "DIR" else word for word in words]]) == 2
    assert says in capsys.readouterr().err


def test_what_presses_comes_first_and_an_old_log_is_named():
    day = date(2026, 11, 26)
    old = Line(folder="a", name="A", state="answered", logged="2026-10-01", left_m=100.0)
    worn = Line(folder="b", name="B", state="answered", logged="2026-11-25", left_m=100.0, past_limit=(3, 9))
    late = Line(folder="c", name="C", state="answered", orders=(("hurry", "disc", 4, "2026-11-26", "hurry"),))
    gone = Line(folder="d", name="D", state="away", why="the folder cannot be read")
    said = first_of([old, worn, late, gone], day)
    assert [words[0] for words in said] == ["B", "D", "C", "A"]
    assert "safe" not in " ".join(said)
    assert first_of([Line(folder="e", name="E", state="answered", logged="2026-11-25")], day) == ()
    ahead = Line(folder="f", name="F", state="answered", remarks=("its log goes to 2027-01-01: check its clock",))
    assert any("clock" in remark for remark in remarks_of([ahead]))


def test_a_line_comes_back_from_json_as_it_went():
    line = Line(
        folder="a",
        name="A",
        state="answered",
        expected_cost=0.1 + 0.2,
        orders=(("order", "x", 1, "2026-01-01", "one x"),),
    )
    assert Line.of(json.loads(json.dumps(line.body()))) == line


def test_carry_hands_on_what_several_drives_learnt_with_their_names(fleet, body, monkeypatch, capsys):
    import tomllib

    folders, top = fleet
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(top / "state"))
    assert main(["carry", str(folders[0]), str(folders[1]), str(folders[2])]) == 0
    out, err = capsys.readouterr()
    assert "empty is left out" in err
    assert "South <b>tube</b>" in out
    lists = out.split("expected_rate = ")[1:]
    entries = tomllib.loads(f"x = {lists[0]}")["x"]
    ahead = {each["kind"]: each for each in body["next_drive"] if "gravel" in each["class_name"]}
    assert {entry["kind"] for entry in entries} == set(ahead)
    for entry in entries:
        assert entry["mm_per_km"] == pytest.approx(ahead[entry["kind"]]["mm_per_km"], rel=1e-3)
        assert entry["factor"] == pytest.approx(ahead[entry["kind"]]["factor"], abs=0.006)
    # pasted into a ground file, the lines are taken
    shutil.copytree(top / "south", top / "pasted")
    ground = sorted((top / "pasted" / "ground").glob("*.toml"))[-1]
    pasted = lists[0].partition("\n# ")[0]
    edit(ground, "[[unit]]", f'[[unit]]\ncode = "NX"\nname = "next"\nexpected_rate = {pasted}\n\n[[unit]]')
    assert main(["check", str(top / "pasted")]) == 0, capsys.readouterr().out


def test_a_drive_that_shares_starts_from_what_the_others_learnt(fleet, body, monkeypatch, capsys):
    from wearplan.fleet.kept import Kept
    from wearplan.fleet.rates import beliefs_of
    from wearplan.fleet.records import Asked
    from wearplan.fleet.run import run

    folders, top = fleet
    asked = Asked(day=date(2026, 11, 26), since=date(2026, 11, 19), plan=False)
    lines, _ = run(folders[:2], asked)
    north, south = beliefs_of(lines)
    assert {(each.kind, each.unit) for each in north} == {("disc", "SG"), ("scraper", "SG")}
    alone = next(rates for rates in lines[0].rates if rates.kind == "disc")
    belief = next(each for each in north if each.kind == "disc")
    assert belief.factor > 1.3  # one other drive says little of this one
    shared, _ = run(folders[:2], asked, kept=Kept(top / "shared"), beliefs=[north, south])
    both = next(rates for rates in shared[0].rates if rates.kind == "disc")
    at = both.units.index("SG")
    # pulled towards what the other said, and not by its own readings twice
    before, after = alone.alone[at][1], both.alone[at][1]
    low, high = sorted((before, belief.mm_per_km))
    assert low * 0.95 <= after <= high * 1.05
    assert both.alone[at] != alone.alone[at]
    assert run(folders[:2], asked, kept=Kept(top / "shared"))[1] == 0  # kept under what was believed
    assert run(folders[:2], asked, kept=Kept(top / "shared"), beliefs=[north, south])[1] == 2


def test_one_store_over_the_drives_is_what_demand_says_of_them_together(fleet, body, monkeypatch):
    from wearplan import demand, plan, wear
    from wearplan.fleet.records import Asked
    from wearplan.fleet.run import run
    from wearplan.fleet.store import NoStore, store_of
    from wearplan.site import load

    folders, _ = fleet
    day = date(2026, 11, 26)
    asked = Asked(day=day, since=day, use=True)
    lines, _ = run(folders, asked)
    with pytest.raises(NoStore, match="EUR, GBP"):
        store_of(lines, day)
    with pytest.raises(NoStore, match="no drive has a plan"):
        store_of(lines[2:], day)
    lines = tuple(replace(line, currency="EUR") for line in lines)
    found = store_of([Line.of(json.loads(json.dumps(line.body()))) for line in lines], day)
    drives = []
    for folder in folders[:2]:
        site = load(folder).site
        outlook = wear.look_ahead(site, wear.learn(site), draws=asked.draws)
        wishes = plan.Wishes(deferral=False, tradeoff=False, comparison=False)
        drives.append((site, outlook, plan.propose(site, outlook, wishes=wishes)))
    together = demand.demand_of(drives, as_of=day)
    assert found.orders == together.orders
    assert found.shortage == together.shortage
    assert found.drives == ("North tube", "South <b>tube</b>")


def test_carry_of_a_folder_named_twice_or_with_nothing_learnt(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "state"))
    assert main(["carry", str(tmp_path / "a"), str(tmp_path / "a")]) == 2
    assert main(["carry", str(tmp_path / "a"), str(tmp_path / "b")]) == 1
    assert "nothing to carry over" in capsys.readouterr().err
