"""The small parts of reading: the index of lines, the log of faults, strict cells, words that are near."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from datetime import UTC, datetime

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from wearplan.site.parse.cells import BadCell, has_no_offset, moment, number, whole
from wearplan.site.parse.faults import ALIKE, MOST, FaultLog
from wearplan.site.parse.lines import header_lines, index_lines
from wearplan.site.parse.text import CONTROL, clean, did_you_mean, shown

TEXT = '''\
a = 1
"b c".d = """x
[[no]]
"""
[t]
x = [1, [2,
 3], {k = 5, "l" = [
 1.5, 2025-01-01T00:00:00]}]
[[p]] # c
y.z = '#'
[[p.q]]
r = 1
[p.s]
u = 2
[[p]]
y = 3
[[p.q]]
v = {}
'''


def test_index_of_lines():
    index = index_lines(TEXT)
    assert index["a",] == 1
    assert index["b c", "d"] == 2
    assert index["t", "x", 1, 0] == 6
    assert index["t", "x", 1, 1] == 7
    assert index["t", "x", 2, "l", 1] == 8
    assert index["p", 0, "y", "z"] == 10
    assert index["p", 0, "q", 0, "r"] == 12
    assert index["p", 0, "s", "u"] == 14
    assert index["p", 1, "y"] == 16
    assert index["p", 1, "q", 0] == 17
    assert header_lines(TEXT)["p"] == [9, 15]


def paths(value, path=()):
    if path:
        yield path, value
    if isinstance(value, dict):
        for key, item in value.items():
            yield from paths(item, (*path, key))
    elif isinstance(value, list):
        for at, item in enumerate(value):
            yield from paths(item, (*path, at))


keys = st.text(min_size=1, max_size=6)
leaves = st.one_of(st.integers(-99, 99), st.floats(-9, 9), st.booleans(), st.text(max_size=9), st.dates())
tables = st.recursive(
    st.dictionaries(keys, leaves, max_size=3),
    lambda inner: st.dictionaries(keys, st.one_of(leaves, inner, st.lists(inner, max_size=3), st.lists(leaves))),
    max_leaves=12,
)


@settings(max_examples=200, deadline=None)
@given(tables, st.booleans())
def test_every_key_of_any_text_is_found_where_it_stands(data, multiline):
    text = tomli_w.dumps(data, multiline_strings=multiline)
    assert tomllib.loads(text) is not None
    index = index_lines(text)
    lines = text.split("\n")
    for path, value in paths(tomllib.loads(text)):
        if isinstance(value, dict | list) and value and path not in index:
            continue  # a table that only its sub-tables mention by name
        assert path in index, path
        if isinstance(path[-1], str) and path[-1].isascii() and path[-1].isalnum():
            assert path[-1] in lines[index[path] - 1]


def test_log_of_faults_is_bounded_and_keeps_what_it_forbids():
    log = FaultLog()
    for at in range(100_000):
        log.add("a.csv", at + 1, "", f"fault {at}", code="x", forbids=("plan",) if at == 99_999 else ())
    for at in range(5_000):
        log.add(f"{at}.toml", 1, "", "fault", code="y", forbids=("rates",) if at == 4_999 else ())
    faults = log.faults()
    assert len(faults) <= 2 * MOST + 2
    assert sum(fault.file == "a.csv" for fault in faults) == ALIKE + 1
    assert any("99900 more" in fault.what and fault.forbids == ("plan",) for fault in faults)
    assert any("rates" in fault.forbids for fault in faults)


@given(st.text(max_size=12))
def test_no_text_but_a_number_is_one(text):
    try:
        value = number(text, -1e6, 1e6)
    except BadCell:
        return
    bare = text.strip(" \t")
    assert value == (float(bare) if bare else None)
    assert not set(bare) - set("+-.0123456789eE")


@given(st.floats(-1e6, 1e6))
def test_every_number_is_read_exactly(value):
    assert number(repr(value), -1e6, 1e6) == value


@pytest.mark.parametrize("text", ["1_000", "٣", "1,5", "nan", "inf", "1e999", "0x1", "1.2.3", "--1", "1e", "²", "1 2"])
def test_what_is_no_number(text):
    with pytest.raises(BadCell):
        number(text, -1e9, 1e9)


@pytest.mark.parametrize(("text", "value"), [("262", 262), (" 262.0 ", 262), ("-3", -3), ("", None)])
def test_whole_numbers(text, value):
    assert whole(text, -10, 1000) == value


@pytest.mark.parametrize("text", ["2.5", "1e2", "99999", "٣", "two"])
def test_what_is_no_whole_number(text):
    with pytest.raises(BadCell):
        whole(text, -10, 1000)


def test_moments():
    assert moment("2025-11-17T22:10:00Z") == datetime(2025, 11, 17, 22, 10, tzinfo=UTC)
    assert moment("2025-11-17 22:10") == datetime(2025, 11, 17, 22, 10, tzinfo=UTC)
    assert moment("") is None
    assert has_no_offset("2025-11-17 22:10")
    assert not has_no_offset("2025-11-17T22:10:00-05:00")
    for text in ("17.11.2025", "2025-13-01", "yesterday", "9" * 100):
        with pytest.raises(BadCell):
            moment(text)


@given(st.text())
def test_cleaned_text_cannot_steer(text):
    assert not CONTROL.search(clean(text))
    assert len(shown(text)) <= 62
    assert "\n" not in shown(text)


def test_nearest_words():
    assert did_you_mean("ring_lenght_m", ["ring_length_m", "end_chainage_m"]) == 'did you mean "ring_length_m"?'
    assert did_you_mean("qq", ["SG", "CL"]) == 'known: "SG", "CL"'
    assert did_you_mean("x", []) == "none is defined yet"


@pytest.mark.parametrize("module", ["wearplan.site", "wearplan.site.records", "wearplan.site.parse.text"])
def test_looking_at_the_room_costs_no_models_of_files(module):
    code = f"import sys, {module}; print([m for m in ('pydantic', 'numpy', 'scipy', 'textual') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_public_names():
    import wearplan.site

    for name in dir(wearplan.site):
        if not name.startswith("_"):
            assert getattr(wearplan.site, name) is not None
    with pytest.raises(AttributeError):
        _ = wearplan.site.no_such_name
