"""The recipes of DEVELOPERS.md, walked in a temporary copy of the package: a tool kind, a unit of ground, a method of
reading, a screen, a command, a methods page. Each names the files it may touch, and no other is touched."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@dataclass
class Copy:
    """A copy of the package and of the sample folder."""

    top: Path
    touched: set[str] = field(default_factory=set)

    def edit(self, name: str, old: str, new: str) -> None:
        path = self.top / "wearplan" / name
        text = path.read_text(encoding="utf-8")
        assert old in text, f"{name} has no {old!r}: the recipe is out of date"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        self.touched.add(name)

    def add(self, name: str, text: str) -> None:
        path = self.top / "wearplan" / name
        assert not path.exists()
        path.write_text(text, encoding="utf-8")

    def folder(self, name: str, old: str, new: str, *, count: int = -1) -> None:
        path = self.top / "sample_wheel" / name
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new, count), encoding="utf-8")

    def run(self, *words: str, code: int = 0) -> str:
        """One command of the copied package."""
        done = self.python("-m", "wearplan.cli", *words)
        assert done.returncode == code, done.stdout + done.stderr
        return done.stdout

    def python(self, *words: str) -> subprocess.CompletedProcess[str]:
        environment = {**os.environ, "PYTHONPATH": str(self.top), "PYTHONDONTWRITEBYTECODE": "1"}
        return subprocess.run(
            [sys.executable, *words], cwd=self.top, env=environment, capture_output=True, text=True, check=False
        )


@pytest.fixture
def copy(tmp_path: Path) -> Copy:
    leave = shutil.ignore_patterns("__pycache__")
    shutil.copytree(ROOT / "wearplan", tmp_path / "wearplan", ignore=leave)
    shutil.copytree(ROOT / "sample_wheel", tmp_path / "sample_wheel")
    return Copy(tmp_path)


def test_the_copy_is_what_runs(copy: Copy) -> None:
    done = copy.python("-c", "import wearplan; print(wearplan.__file__)")
    assert done.stdout.strip() == str(copy.top / "wearplan" / "__init__.py")


def test_a_tool_kind(copy: Copy) -> None:
    copy.folder("wheel.toml", 'kind = "bucket tool"', 'kind = "chain bit"')
    assert "chain bit" in copy.run("check", "sample_wheel", code=3)
    for path in sorted((copy.top / "wearplan" / "site").rglob("*.py")):
        if '"ripper", ' in path.read_text(encoding="utf-8"):
            copy.edit(str(path.relative_to(copy.top / "wearplan")), '"ripper", ', '"ripper", "chain bit", ')
    assert copy.touched == {"site/records/words.py"}
    copy.run("check", "sample_wheel")
    rates = json.loads(copy.run("rates", "sample_wheel", "--json"))["rates"]
    own = [rate for rate in rates if rate["kind"] == "chain bit"]
    assert own
    assert all(rate["mm_per_km"]["p50"] > 0 for rate in own)
    assert any(rate["readings"] for rate in own)
    outlook = json.loads(copy.run("outlook", "sample_wheel", "--json"))["tools"]
    assert any(tool["kind"] == "chain bit" for tool in outlook)
    assert "chain bit" in copy.run("schema", "wheel.toml")


def test_a_unit_of_ground(copy: Copy) -> None:
    newest = sorted((copy.top / "sample_wheel" / "ground").glob("*.toml"))[-1].name
    text = (copy.top / "sample_wheel" / "ground" / newest).read_text(encoding="utf-8")
    last = [found for found in re.finditer(r"mix = \{[^}]*\}", text)][-1].group()
    copy.folder(f"ground/{newest}", last, "mix = { LM = 1.0 }")
    unit = '[[unit]]\ncode = "LM"\nname = "lime marl"\ncai = 0.9\n\n'
    copy.folder(f"ground/{newest}", "[[unit]]", f"{unit}[[unit]]", count=1)
    copy.run("check", "sample_wheel")
    rates = json.loads(copy.run("rates", "sample_wheel", "--json"))["rates"]
    own = [rate for rate in rates if rate["unit"] == "LM"]
    assert own
    assert all(rate["readings"] == 0 and rate["basis"] for rate in own)
    assert not copy.touched


def test_a_method_of_reading(copy: Copy) -> None:
    copy.folder("wheel.toml", "[gauging]", '[gauging]\n"photo" = { sd_mm = 0.8, step_mm = 0.0 }\n#')
    stop = sorted((copy.top / "sample_wheel" / "inspections").glob("*.toml"))[-1].name
    copy.folder(f"inspections/{stop}", 'method = "gauge"', 'method = "photo"')
    copy.run("check", "sample_wheel")
    code = (
        "from pathlib import Path; from wearplan.site import load; from wearplan.history import gauging_of;"
        "s = load(Path('sample_wheel')).site; print(gauging_of(s.wheel, 'photo').sd_mm)"
    )
    assert copy.python("-c", code).stdout.strip() == "0.8"
    assert not copy.touched


KEY_WALK = """
import sys
from dataclasses import replace
from datetime import datetime, timezone
from pathlib import Path
from wearplan.site import load, schemas, write_inspection
from wearplan.site.sheets.columns import SHEET_COLUMNS
from wearplan.site.sheets.filled import read_filled_sheet
from wearplan.tui.entry.words import HEAD

folder, now = Path("sample_wheel"), datetime(2026, 7, 1, tzinfo=timezone.utc)
table = schemas()["inspection.toml"]["$defs"]["Fitting"]["properties"]["bolt_torque_nm"]
print(table["description"], max(one.get("maximum", 0) for one in table["anyOf"]))
site = load(folder).site
stop = next(one for one in reversed(site.inspections) if one.fittings)
print([one.bolt_torque_nm for one in stop.fittings if one.bolt_torque_nm], stop.weather)
again = replace(stop, id="again", weather="frost", fittings=(replace(stop.fittings[0], bolt_torque_nm=410.0),))
path = write_inspection(folder, again)
print([line for line in path.read_text().splitlines() if "torque" in line or "weather" in line])
print("bolt_torque_nm" in [column.key for column in SHEET_COLUMNS], HEAD["weather"])
place = stop.fittings[0].position
sheet = Path("sheet.csv")
sheet.write_text(f"weather,rain\\nplace,wear_mm,action,bolts Nm\\n{place},9,change,420\\n")
head = {"ring": str(stop.ring), "chainage": str(stop.chainage_m), "started": "2026-07-01 06:10", "mode": "free air"}
read = read_filled_sheet(sheet, site, head=head, now=now)
print(read.inspection.weather, read.inspection.fittings[0].bolt_torque_nm)
sheet.write_text(sheet.read_text().replace("420", "99999"))
print(read_filled_sheet(sheet, site, head=head, now=now).faults[0])
"""


def test_a_key_of_a_record(copy: Copy) -> None:
    """One more line in the record's own file is a key read, checked, written, on the sheets and in the schema."""
    copy.edit(
        "site/records/log.py",
        "    from_position: Annotated[",
        '    bolt_torque_nm: Annotated[float | None, Key("Of its bolts.", ge=0, le=5000, head="bolts Nm")] = None\n'
        "    from_position: Annotated[",
    )
    copy.edit(
        "site/records/log.py",
        "    corrects: Annotated[",
        '    weather: Annotated[Line | None, Key("At the shaft.", head="weather")] = None\n    corrects: Annotated[',
    )
    stops = sorted((copy.top / "sample_wheel" / "inspections").glob("*.toml"))
    fitted = [path for path in stops if "[[fitting]]" in path.read_text(encoding="utf-8")][-1]
    name = f"inspections/{fitted.name}"
    copy.folder(name, "mode = ", 'weather = "fog"\nmode = ', count=1)
    copy.folder(name, "[[fitting]]\n", "[[fitting]]\nbolt_torque_nm = 400.0\n", count=1)
    (copy.top / "walk.py").write_text(KEY_WALK, encoding="utf-8")
    done = copy.python("walk.py")
    assert done.stdout.splitlines() == [
        "Of its bolts. 5000",
        "[400.0] fog",
        "['weather = \"frost\"', 'bolt_torque_nm = 410.0']",
        "True ('weather', 'may stay empty')",
        "rain 420.0",
        "sheet.csv:3: bolt_torque_nm: 99999 cannot be: it must be from 0 to 5000",
    ], done.stderr
    copy.folder(name, "bolt_torque_nm = 400.0", "bolt_torque_nm = 9000.0")
    assert "9000.0 cannot be" in copy.run("check", "sample_wheel")
    assert copy.touched == {"site/records/log.py"}


def test_a_command(copy: Copy) -> None:
    copy.add(
        "cli/commands/hello.py",
        '"""Says how far the face is."""\n\n'
        "from wearplan.cli.codes import Exit\n"
        "from wearplan.cli.steps import json_argument, read_site, site_argument\n"
        "from wearplan.cli.streams import write, write_json\n\n\n"
        "def arguments(parser):\n    site_argument(parser)\n    json_argument(parser)\n\n\n"
        "def run(args):\n"
        "    from wearplan.history import face_m\n"
        "    from wearplan.report.bodies import envelope\n\n"
        '    site = read_site(args.site, "check")\n'
        "    if args.json:\n"
        '        write_json(envelope(site, {"face_m": face_m(site)}, answer="hello"))\n'
        "    else:\n"
        '        write(f"{face_m(site):.1f} m")\n'
        "    return Exit.DONE\n",
    )
    copy.edit("cli/main.py", '    "schema": ', '    "hello": "how far the face is",\n    "schema": ')
    assert copy.run("hello", "sample_wheel").strip() == "1800.0 m"
    assert json.loads(copy.run("hello", "sample_wheel", "--json"))["answer"] == "hello"
    assert "how far the face is" in copy.run("--help")
    assert copy.touched == {"cli/main.py"}


def test_a_screen(copy: Copy) -> None:
    copy.add(
        "tui/screens/notes.py",
        '"""Notes: what the site says of itself."""\n\n'
        "from wearplan.tui.actions import bindings_of\n"
        "from wearplan.tui.screens.base import TaskScreen\n"
        "from wearplan.tui.widgets.prose import Prose\n\n\n"
        "class NotesScreen(TaskScreen):\n"
        '    """The name of the site."""\n\n'
        '    task_name = "notes"\n    needs = ("read",)\n    BINDINGS = bindings_of("notes")\n\n'
        '    def body(self):\n        yield Prose("", id="note", markup=False)\n\n'
        "    def show(self, snapshot, display):\n"
        '        self.query_one("#note").update(snapshot.site.name if snapshot.site else "")\n\n'
        "    def action_loud(self):\n"
        '        self.query_one("#note").update("LOUD")\n\n\n'
        "SCREEN = NotesScreen\n",
    )
    copy.edit(
        "tui/actions.py", '    "faults": ("f9"', '    "notes": ("f11", "Notes", "what is noted"),\n    "faults": ("f9"'
    )
    copy.edit(
        "tui/actions.py",
        '        ("faults.again"',
        '        ("notes.loud", "l", "loud", "Loud", "Say it loud.", True),\n        ("faults.again"',
    )
    flow = f"""
import sys
from pathlib import Path
sys.path.insert(1, {str(ROOT)!r})  # after the copy, before packages that bring a `tests` of their own
from tests.tui.pilot import drive, opened, settle

async def flow():
    async with opened(Path("sample_wheel")) as (app, pilot):
        for key, part in (("f11", "#note"), ("l", "#note"), ("f1", "#reading")):
            await pilot.press(key)
            await settle(app, pilot)
            print(str(app.screen.query_one(part).content).replace("\\n", " "))

drive(flow)
"""
    (copy.top / "flow.py").write_text(flow, encoding="utf-8")
    done = copy.python("flow.py")
    name, loud, keys = done.stdout.splitlines() or ["", "", done.stderr]
    assert name.startswith("Small drive")
    assert loud == "LOUD"
    assert "Say it loud." in keys
    assert copy.touched == {"tui/actions.py"}


def test_a_methods_page(copy: Copy) -> None:
    copy.add("methods/gauges.md", "# Gauges\n\nHow a gauge errs.\n")
    copy.edit("methods/__init__.py", '"demand", ', '"demand", "gauges", ')
    assert "Gauges" in copy.run("methods")
    assert copy.run("methods", "gauges").startswith("# Gauges")
    assert copy.touched == {"methods/__init__.py"}


def test_every_recipe_is_in_the_book() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    recipes = (
        "A tool kind",
        "A key of the folder",
        "A unit of ground",
        "A method of reading",
        "A screen",
        "A command",
        "A methods page",
    )
    for recipe in recipes:
        assert f"**{recipe}.**" in text
    for name in re.findall(r"`((?:site|tui|cli|methods|report|ground|plan)/[\w/]+\.py)`", text):
        assert (ROOT / "wearplan" / name).is_file(), f"DEVELOPERS.md names {name}, which is not there"
