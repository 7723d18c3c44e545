"""A faulty tool type or place is named once; those who refer to it get no fault of their own."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from wearplan.site import load
from wearplan.site.records import Fault

SAMPLE = Path(__file__).parents[2] / "sample_wheel"
TYPES = ("disc-17", "disc-17-wide", "disc-17-twin", "scraper-flat", "scraper-studded", "bucket-left", "bucket-right")


def new_faults(folder: Path, table: str, named: str, pattern: str, instead: str) -> list[Fault]:
    """What more is wrong with the sample when one table of wheel.toml is spoilt."""
    shutil.copytree(SAMPLE, folder)
    wheel = folder / "wheel.toml"
    blocks = re.split(r"(?=^\[\[)", wheel.read_text(encoding="utf-8"), flags=re.M)
    mine = [at for at, block in enumerate(blocks) if block.startswith(f"[[{table}]]") and named in block]
    spoilt = re.sub(pattern, instead, blocks[mine[0]], count=1, flags=re.M)
    assert spoilt != blocks[mine[0]]
    blocks[mine[0]] = spoilt
    wheel.write_text("".join(blocks), encoding="utf-8")
    before = {(fault.file, fault.what) for fault in load(SAMPLE).faults}
    return [fault for fault in load(folder).faults if (fault.file, fault.what) not in before]


@pytest.mark.parametrize("code", TYPES)
def test_only_the_faulty_key_of_a_tool_type_is_told(tmp_path: Path, code: str) -> None:
    found = new_faults(tmp_path / "site", "tool_type", f'code = "{code}"', r"^price = .*", 'price = "dear"')
    assert [(fault.file, fault.place) for fault in found] == [("wheel.toml", "[[tool_type]] price")]
    assert "plan" in found[0].forbids


@pytest.mark.parametrize(
    ("pattern", "instead"),
    [
        (r"^wear_limit_mm = .*", "wear_limit_mm = 0"),
        (r"^kind = .*\n", ""),
        (r"^kind = ", "prise = 3\nkind = "),
        (r"^code = .*", "code = 17"),
        (r"^code = .*\n", ""),
        (r"^code = .*", 'code = " disc-17-wide"'),
        (r"^code = .*", 'code = "?"'),
        (r"^code = .*", 'code = "disc-17"'),
    ],
)
def test_whatever_is_wrong_with_it(tmp_path: Path, pattern: str, instead: str) -> None:
    found = new_faults(tmp_path / "site", "tool_type", 'code = "disc-17-wide"', pattern, instead)
    assert [fault.file for fault in found] == ["wheel.toml"]
    assert found[0].place.startswith("[[tool_type]]")


@pytest.mark.parametrize(("pattern", "instead"), [(r"^zone = .*", 'zone = "rim"'), (r"^angle_deg = .*\n", "")])
def test_only_the_faulty_place_is_told(tmp_path: Path, pattern: str, instead: str) -> None:
    found = new_faults(tmp_path / "site", "position", "number = 31\n", pattern, instead)
    assert [(fault.file, fault.place.partition(" ")[0]) for fault in found] == [("wheel.toml", "[[position]]")]


def test_a_code_that_is_nowhere_is_still_told(tmp_path: Path) -> None:
    found = new_faults(tmp_path / "site", "position", "number = 31\n", r"^tool_type = .*", 'tool_type = "disc-71"')
    assert [fault.code for fault in found] == ["unknown-tool-type"]


def test_a_tool_put_on_whose_type_is_faulty_leaves_its_place_unknown(tmp_path: Path) -> None:
    new_faults(tmp_path / "site", "tool_type", 'code = "disc-17-wide"', r"^price = .*", "price = -1")
    site = load(tmp_path / "site").site
    assert site is not None
    put_on = [f for stop in site.inspections for f in stop.fittings if f.new_tool_type == "disc-17-wide"]
    assert put_on
    assert all("is faulty" in (fitting.damaged or "") for fitting in put_on)
