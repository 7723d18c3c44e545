"""Records that correct others: which hold, which stand aside, what is named."""

from __future__ import annotations

import itertools

import pytest

from tests.site.small_site import FIRST, FIRST_FILE, by_code, texts, write
from wearplan.site import load


def record(name, corrects=None, reason="typing slip", wear=3.5):
    text = FIRST.replace("20251110T0640-aaaa", name).replace("wear_mm = 3.5", f"wear_mm = {wear}")
    if corrects is not None:
        head = f'corrects = "{corrects}"\n' + (f'reason = "{reason}"\n' if reason else "")
        text = text.replace("ring = 20", head + "ring = 20")
    return text


def loaded(folder, *records):
    """``records``: (id, corrects or None)."""
    files = {name: text for name, text in texts().items() if not name.startswith("inspections/")}
    for name, corrects in records:
        files[f"inspections/{name}.toml"] = record(name, corrects)
    return load(write(folder, files))


def ids(inspections):
    return [one.id for one in inspections]


def test_a_correction_replaces(tmp_path):
    got = loaded(tmp_path, ("a1", None), ("b1", "a1"))
    assert got.faults == ()
    assert (ids(got.site.inspections), ids(got.site.corrected)) == (["b1"], ["a1"])


def test_chain_and_undo(tmp_path):
    got = loaded(tmp_path, ("a1", None), ("b1", "a1"), ("c1", "b1"), ("d1", "c1"))
    assert got.faults == ()
    assert ids(got.site.inspections) == ["d1"]
    assert sorted(ids(got.site.corrected)) == ["a1", "b1", "c1"]


def test_unknown_target_is_named_and_nothing_is_lost(tmp_path):
    got = loaded(tmp_path, ("a1", None), ("b1", "a2"))
    assert {fault.code for fault in got.faults} == {"corrects-unknown", "stop-told-twice"}
    (fault,) = by_code(got, "corrects-unknown")
    assert fault.forbids == ()
    assert 'did you mean "a1"?' in fault.what
    assert ids(got.site.inspections) == ["a1", "b1"]


def test_two_corrections_of_one_record(tmp_path):
    got = loaded(tmp_path, ("a1", None), ("b1", "a1"), ("c1", "a1"))
    (fault,) = got.faults
    assert (fault.code, fault.forbids) == ("corrects-twice", ())
    assert ids(got.site.inspections) == ["c1"]
    assert sorted(ids(got.site.corrected)) == ["a1", "b1"]


def test_two_corrections_are_settled_by_a_third(tmp_path):
    got = loaded(tmp_path, ("a1", None), ("b1", "a1"), ("c1", "a1"), ("d1", "c1"))
    assert got.faults == ()
    assert ids(got.site.inspections) == ["d1"]


def test_a_branch_that_went_on_is_not_taken_twice(tmp_path):
    got = loaded(tmp_path, ("a1", None), ("b1", "a1"), ("c1", "a1"), ("d1", "b1"))
    assert [fault.code for fault in got.faults] == ["corrects-twice"]
    assert ids(got.site.inspections) == ["d1"]


@pytest.mark.parametrize("circle", [("a1",), ("a1", "b1"), ("a1", "b1", "c1")])
def test_a_circle_forbids(tmp_path, circle):
    pairs = list(zip(circle, circle[1:] + circle[:1], strict=True))
    got = loaded(tmp_path, *pairs, ("z1", "a1"))
    assert by_code(got, "corrects-circle")
    assert "plan" in got.faults[0].forbids
    assert set(ids(got.site.inspections)) | set(ids(got.site.corrected)) == {*circle, "z1"}


def test_every_record_is_in_force_or_corrected_whatever_corrects_what(tmp_path):
    names = ("a1", "b1", "c1", "d1")
    for number, targets in enumerate(itertools.product((None, *names, "zz"), repeat=3)):
        if number % 5:
            continue
        got = loaded(tmp_path / str(number), ("a1", None), *zip(names[1:], targets, strict=True))
        force, aside = ids(got.site.inspections), ids(got.site.corrected)
        assert sorted(force + aside) == sorted(names)
        assert force


def test_correction_without_reason_is_named_and_holds(tmp_path):
    files = texts()
    files["inspections/b1.toml"] = record("b1", "20251110T0640-aaaa", reason=None)
    got = load(write(tmp_path, files))
    assert [(fault.code, fault.forbids) for fault in got.faults] == [("no-reason", ())]
    assert "b1" in ids(got.site.inspections)


def test_copy_of_a_file_is_named(tmp_path):
    files = texts()
    files[FIRST_FILE.replace(".toml", " (1).toml")] = FIRST
    got = load(write(tmp_path / "same", files))
    (fault,) = by_code(got, "id-doubled")
    assert fault.forbids == ()
    assert len(got.site.inspections) == 2
    files[FIRST_FILE.replace(".toml", " (1).toml")] = FIRST.replace("wear_mm = 3.5", "wear_mm = 4.5")
    got = load(write(tmp_path / "other", files))
    (fault,) = by_code(got, "id-doubled")
    assert "plan" in fault.forbids
    assert got.site.inspections[0].origin.file == FIRST_FILE


def test_file_of_another_name_is_named_and_read(tmp_path):
    files = texts()
    files["inspections/renamed.toml"] = files.pop(FIRST_FILE)
    got = load(write(tmp_path, files))
    assert [(fault.code, fault.forbids) for fault in got.faults] == [("id-and-name", ())]
    assert len(got.site.inspections) == 2


def test_a_correction_settles_what_is_wrong_in_the_record_it_replaces(tmp_path):
    files = texts()
    files[FIRST_FILE] = FIRST.replace("chainage_m = 130.0", "chainage_m = 1300.0").replace(
        "position = 3", "position = 33"
    )
    assert load(write(tmp_path / "before", files)).site.forbidding("plan")
    files["inspections/b1.toml"] = record("b1", "20251110T0640-aaaa")
    got = load(write(tmp_path / "after", files))
    assert got.faults == ()
    assert ids(got.site.inspections) == ["b1", "20251118T0640-bbbb"]


def test_a_correction_settles_a_record_that_cannot_be_read(tmp_path):
    """What the unreadable one corrected stays aside all the same."""
    files = {name: text for name, text in texts().items() if not name.startswith("inspections/")}
    files["inspections/a1.toml"] = record("a1")
    files["inspections/b1.toml"] = record("b1", "a1") + "\n[[measurement"
    got = load(write(tmp_path / "before", files))
    assert [fault.code for fault in got.faults if fault.forbids] == ["not-toml"]
    assert got.site.inspections == ()
    files["inspections/c1.toml"] = record("c1", "b1")
    got = load(write(tmp_path / "after", files))
    assert got.faults == ()
    assert (ids(got.site.inspections), ids(got.site.corrected)) == (["c1"], ["a1"])
