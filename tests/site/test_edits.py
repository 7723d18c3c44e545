"""Edits change what was asked and nothing else, and never write over somebody's work."""

from __future__ import annotations

import tempfile
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.site.crew import loaded, small_site
from wearplan.site.write.durable import NotWritten
from wearplan.site.write.edits import Add, Drop, Put, edit_toml, see

COMMENTED = """\
# the wheel as delivered
[wheel]
bore_diameter_m = 7.0   # measured twice

[gauging]   # by method
gauge = { sd_mm = 0.5, step_mm = 0.5 }  # new in May
"by eye" = { sd_mm = 2.5, step_mm = 5.0 }

# --- tools ---
[[tool_type]]
code = "disc-17"
kind = "disc"
wear_limit_mm = 25.0  # agreed in March
price = 3200.0
lead_time_days = 70
change_hours = { "free air" = 1.0, "compressed air" = 2.5 }  # with hoist

[[position]]  # centre
number = 1
tool_type = "disc-17"
# a note between the keys
track_radius_mm = 260.0
angle_deg = 0.0
zone = "centre"

[[position]]
number = 2
tool_type = "disc-17"
track_radius_mm = 350.0
angle_deg = 0.0
zone = "centre"
sensor_mm = [12.0, 18.0] # two wires

# --- end ---
"""


@pytest.fixture
def wheel(tmp_path: Path) -> Path:
    folder = small_site(tmp_path / "site")
    path = folder / "wheel.toml"
    path.write_text(COMMENTED)
    return path


def changed_lines(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines gone and lines new."""
    old, new = before.split("\n"), after.split("\n")
    return [line for line in old if line not in new], [line for line in new if line not in old]


@pytest.mark.parametrize(
    ("edit", "gone", "new"),
    [
        (
            Put(("tool_type", {"code": "disc-17"}, "wear_limit_mm"), 22.0),
            ["wear_limit_mm = 25.0  # agreed in March"],
            ["wear_limit_mm = 22.0  # agreed in March"],
        ),
        (
            Put(("gauging", "gauge", "sd_mm"), 0.4),
            ["gauge = { sd_mm = 0.5, step_mm = 0.5 }  # new in May"],
            ["gauge = { sd_mm = 0.4, step_mm = 0.5 }  # new in May"],
        ),
        (
            Put(("tool_type", 0, "change_hours", "free air"), 1.5),
            ['change_hours = { "free air" = 1.0, "compressed air" = 2.5 }  # with hoist'],
            ['change_hours = { "free air" = 1.5, "compressed air" = 2.5 }  # with hoist'],
        ),
        (Put(("gauging", "caliper"), {"sd_mm": 0.3, "step_mm": 0.1}), [], ["caliper = {sd_mm = 0.3, step_mm = 0.1}"]),
        (Put(("position", {"number": 1}, "wear_limit_mm"), 15.0), [], ["wear_limit_mm = 15.0"]),
        (
            Put(("position", {"number": 2}, "sensor_mm", 0), 11.0),
            ["sensor_mm = [12.0, 18.0] # two wires"],
            ["sensor_mm = [11.0, 18.0] # two wires"],
        ),
        (Drop(("position", {"number": 2}, "sensor_mm")), ["sensor_mm = [12.0, 18.0] # two wires"], []),
        (Drop(("gauging", "caliper")), [], []),
        (Put(("max_over_limit_probability", "gauge"), 0.05), [], ["[max_over_limit_probability]", "gauge = 0.05"]),
        (Add(("row",), {"code": "S1", "may_be_over": 2}), [], ["[[row]]", 'code = "S1"', "may_be_over = 2"]),
        (Put(("wheel", "bore_diameter_m"), 7.0), [], []),
    ],
)
def test_only_what_was_asked_changes(wheel: Path, edit, gone: list[str], new: list[str]) -> None:
    edited = edit_toml(wheel, [edit], see(wheel))
    assert changed_lines(COMMENTED, wheel.read_text()) == (gone, new)
    assert edited.seen.content == wheel.read_bytes()
    assert ("-" in edited.diff) == bool(gone or new)


def test_a_new_key_stays_above_the_comment_on_the_next_table(wheel: Path) -> None:
    edit_toml(wheel, [Put(("gauging", "caliper"), {"sd_mm": 0.3, "step_mm": 0.1})], see(wheel))
    text = wheel.read_text()
    assert text.index("caliper") < text.index("# --- tools ---") < text.index("[[tool_type]]")


def test_a_file_changed_meanwhile_is_refused_with_what_differs(wheel: Path) -> None:
    seen = see(wheel)
    theirs = COMMENTED.replace("price = 3200.0", "price = 3500.0  # new quote")
    wheel.write_text(theirs)
    with pytest.raises(NotWritten) as refusal:
        edit_toml(wheel, [Put(("wheel", "bore_diameter_m"), 7.01)], seen)
    assert refusal.value.fault.code == "changed-meanwhile"
    assert "-price = 3200.0" in str(refusal.value)
    assert "+price = 3500.0  # new quote" in str(refusal.value)
    assert wheel.read_text() == theirs
    with pytest.raises(NotWritten, match="changed by someone else"):
        edit_toml(wheel, [Put(("wheel", "bore_diameter_m"), 7.01)], seen.sha256)


def test_a_change_between_look_and_replacement_is_noticed(wheel: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from wearplan.site.write import edits

    seen = see(wheel)
    theirs = COMMENTED.replace("3200.0", "3500.0")

    def slow(now, wanted):
        text = made(now, wanted)
        wheel.write_text(theirs)
        return text

    made = edits._edited_text
    monkeypatch.setattr(edits, "_edited_text", slow)
    with pytest.raises(NotWritten) as refusal:
        edit_toml(wheel, [Put(("wheel", "bore_diameter_m"), 7.01)], seen)
    assert refusal.value.fault.code == "changed-meanwhile"
    assert wheel.read_text() == theirs


def test_edits_go_on_from_one_another(wheel: Path) -> None:
    seen = see(wheel)
    for limit in (21.0, 22.0, 23.0):
        seen = edit_toml(wheel, [Put(("tool_type", 0, "wear_limit_mm"), limit)], seen).seen
    assert tomllib.loads(wheel.read_text())["tool_type"][0]["wear_limit_mm"] == 23.0


@pytest.mark.parametrize(
    ("edits", "told"),
    [
        ([Put(("position", {"number": 9}, "zone"), "gauge")], "no rows with number = 9"),
        ([Put(("position", {"zone": "centre"}, "angle_deg"), 5.0)], "2 rows with zone = centre"),
        ([Put(("position", {"number": 1}, "zone"), "middle")], "none of the words known"),
        ([Put(("position", {"number": 1}, "track_radius"), 5.0)], "unknown key"),
        ([Drop(("position", {"number": 1}, "zone"))], "zone is missing"),
        ([Put(("wheel", "bore_diameter_m"), object())], "no place in a TOML file"),
        ([Put(("wheel", "bore_diameter_m"), 7.1), Put(("position", 7, "zone"), "face")], "cannot be edited here"),
    ],
)
def test_an_edit_that_cannot_be_is_refused_whole(wheel: Path, edits, told: str) -> None:
    with pytest.raises(NotWritten, match=told):
        edit_toml(wheel, edits, see(wheel))
    assert wheel.read_text() == COMMENTED


def test_faults_that_were_there_do_not_hinder_an_edit_elsewhere(wheel: Path) -> None:
    wheel.write_text(COMMENTED.replace('zone = "centre"', 'zone = "?"', 1))
    edit_toml(wheel, [Put(("wheel", "bore_diameter_m"), 7.01)], see(wheel))
    assert "bore_diameter_m = 7.01   # measured twice" in wheel.read_text()


def test_line_ends_byte_mark_and_rights_stay(wheel: Path) -> None:
    wheel.write_bytes(b"\xef\xbb\xbf" + COMMENTED.replace("\n", "\r\n").encode())
    wheel.chmod(0o640)
    edit_toml(
        wheel, [Put(("wheel", "bore_diameter_m"), 7.01), Add(("row",), {"code": "S1", "may_be_over": 1})], see(wheel)
    )
    content = wheel.read_bytes()
    assert content.startswith(b"\xef\xbb\xbf# the wheel")
    assert content.count(b"\n") == content.count(b"\r\n")
    assert wheel.stat().st_mode & 0o777 == 0o640


def test_the_other_files_are_edited_too(tmp_path: Path) -> None:
    folder = small_site(tmp_path / "site")
    for name, edit in {
        "stops.toml": Put(("window", {"name": "shaft 3"}, "setup_hours"), 14.0),
        "stores.toml": Put(("stock", {"tool_type": "disc-17"}, "on_hand"), 9),
        "site.toml": Put(("pace", "advance_m_per_day"), 11.5),
        "ground/0001-tender.toml": Put(("section", 1, "boundary_sd_m"), 4.0),
    }.items():
        edit_toml(folder / name, [edit], see(folder / name))
    site = loaded(folder).site
    assert site.stops.windows[0].setup_hours == 14.0
    assert site.stores.stock[0].on_hand == 9
    assert site.pace.advance_m_per_day == 11.5
    assert site.grounds[0].sections[1].boundary_sd_m == 4.0


keys = st.sampled_from(("wear_limit_mm", "tilt_deg", "row", "arm", "housing"))
values = {
    "wear_limit_mm": st.floats(1, 900).map(lambda value: round(value, 2)),
    "tilt_deg": st.floats(0, 80).map(lambda value: round(value, 1)),
    "row": st.just("S1"),
    "arm": st.sampled_from(("A", "B", "C # not a comment")),
    "housing": st.sampled_from(("C1", '"quoted"', "é")),
}
steps = st.lists(
    keys.flatmap(
        lambda key: st.tuples(st.integers(1, 2), st.just(key), values[key] | st.none())
    ),
    max_size=8,
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(steps)
def test_any_run_of_edits_says_what_it_should_and_keeps_every_comment(run) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "site.toml").write_text("format = 1\n")
        path = folder / "wheel.toml"
        path.write_text(COMMENTED)
        expected = tomllib.loads(COMMENTED)
        seen = see(path)
        for number, key, value in run:
            place = ("position", {"number": number}, key)
            seen = edit_toml(path, [Drop(place) if value is None else Put(place, value)], seen).seen
            row = expected["position"][number - 1]
            row.pop(key, None)
            if value is not None:
                row[key] = value
        text = path.read_text()
    assert tomllib.loads(text) == expected
    for line in COMMENTED.split("\n"):
        if "#" in line:
            assert line[line.index("#") :] in text
