"""Units of different drives: joined by a mapping or by tests, never by name alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from wearplan.fleet.classes import BadMapping, Unit, match, read_mapping


def unit(drive, code, name="clay", **tests):
    return Unit(drive, code, name, tests)


def test_tests_join_what_names_may_not():
    units = [
        unit("North", "GC", "gravel", cai=2.4, ucs_mpa=74.0),
        unit("South", "G1", "coarse gravel", cai=2.5, ucs_mpa=70.0),  # other name, two tests alike
        unit("West", "GC", "gravel", cai=2.2),  # one name, one test alike
        unit("East", "GC", "gravel", cai=4.9, ucs_mpa=74.0),  # one name, tests apart
        unit("Far", "GC", "gravel"),  # one name, no test
        unit("Near", "X", "sand", cai=2.4),  # one test alike under another name says too little
    ]
    found = match(units)
    assert found.of["North", "GC"] == found.of["South", "G1"] == found.of["West", "GC"]
    assert len({found.of[each.key] for each in units}) == 4
    assert found.why["South", "G1"] == "by tests"
    assert found.why["Far", "GC"] == "by itself"
    assert any("Far: GC" in remark and "kept apart" in remark for remark in found.remarks)


def test_a_class_takes_one_unit_of_a_drive():
    alike = {"cai": 2.0, "ucs_mpa": 50.0}
    found = match([unit("North", "A", **alike), unit("South", "B", **alike), unit("South", "C", **alike)])
    assert found.of["South", "B"] == found.of["North", "A"]
    assert found.of["South", "C"] != found.of["North", "A"]


def test_what_the_user_confirmed_goes_before_tests(tmp_path: Path):
    path = tmp_path / "classes.toml"
    path.write_text('[classes]\n"glacial" = ["North: GC", "South (old): T2", "Gone: Z"]\n')
    mapping = read_mapping(path)
    alike = {"cai": 2.0, "ucs_mpa": 50.0}
    found = match([unit("North", "GC", **alike), unit("South (old)", "T2"), unit("West", "Q", **alike)], mapping)
    assert found.names[found.of["North", "GC"]] == "glacial"
    assert found.of["South (old)", "T2"] == found.of["North", "GC"]
    assert found.of["West", "Q"] != found.of["North", "GC"]  # a confirmed class is not widened in silence
    assert found.why["North", "GC"] == "by the mapping"
    assert any("Gone: Z" in remark for remark in found.remarks)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[classes", "cannot be read"),
        ("x = 1\n", "no table"),
        ('[classes]\n"a" = ["North"]\n', "not of the form"),
        ('[classes]\n"a" = ["N: x"]\n"b" = ["N: x"]\n', "more than once"),
    ],
)
def test_a_mapping_that_cannot_be_used_says_why(tmp_path: Path, text: str, says: str):
    path = tmp_path / "classes.toml"
    path.write_text(text)
    with pytest.raises(BadMapping, match=says):
        read_mapping(path)
    with pytest.raises(BadMapping, match="cannot be read"):
        read_mapping(tmp_path / "none.toml")
