"""Drafts come back whole after whatever happened."""

from __future__ import annotations

import dataclasses
import os
import random
import time
from datetime import timedelta
from pathlib import Path

import pytest

from tests.site.crew import NOW, inspection, killed_while, small_site
from wearplan.site.write.drafts import Draft, drop_draft, load_drafts, save_draft
from wearplan.site.write.durable import NotWritten
from wearplan.site.write.writing import write_inspection


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "state"))
    return small_site(tmp_path / "site")


def draft(name: str = "20251120T0640-aaaaaa", **values: str) -> Draft:
    return Draft(id=name, what="inspection", who="M. Person", begun_at=NOW, values=values)


def test_the_connection_dies_at_44(site: Path) -> None:
    def typing(tell) -> None:
        form = draft()
        for place in range(1, 99):
            form = dataclasses.replace(form, values={**form.values, str(place): "9,5"})
            form = save_draft(site, form, now=NOW)
            if place == 44:
                tell("44")
                time.sleep(60)

    if not hasattr(os, "fork"):
        pytest.skip("needs processes that can be forked")
    assert killed_while(typing, rng=random.Random(1), longest_s=0.0) == ["44"]
    (found,) = load_drafts(site)
    assert len(found.values) == 44
    assert (found.who, found.what, found.begun_at) == ("M. Person", "inspection", NOW)
    again = save_draft(site, dataclasses.replace(found, values={**found.values, "45": "8"}), now=NOW)
    assert len(load_drafts(site)[0].values) == len(again.values) == 45


@pytest.mark.parametrize("kept", [0, 1, 40, 100, -1])
def test_a_torn_write_costs_the_last_key_at_most(site: Path, kept: int) -> None:
    form = draft()
    for place in range(1, 6):
        form = save_draft(site, dataclasses.replace(form, values={**form.values, str(place): "7"}), now=NOW)
    home = form.kept_at
    assert home is not None
    last = max(home.glob("*.json"), key=lambda path: b'"turn": 5' in path.read_bytes())
    content = last.read_bytes()
    last.write_bytes(content[:kept])
    assert len(load_drafts(site)[0].values) == 4
    last.write_bytes(content[:100] + b"\0" * (len(content) - 100))
    assert len(load_drafts(site)[0].values) == 4
    form = save_draft(site, dataclasses.replace(load_drafts(site)[0], values={"all": "new"}), now=NOW)
    assert load_drafts(site)[0].values == {"all": "new"}


def test_several_drafts_stand_side_by_side(site: Path) -> None:
    first = save_draft(site, draft("a-1", x="1"), now=NOW)
    save_draft(site, draft("b-2", x="2"), now=NOW + timedelta(minutes=5))
    assert [found.id for found in load_drafts(site)] == ["b-2", "a-1"]
    drop_draft(site, first)
    assert [found.id for found in load_drafts(site)] == ["b-2"]
    drop_draft(site, first)


def test_a_record_that_was_written_is_not_offered_again(site: Path) -> None:
    new = inspection()
    save_draft(site, draft(new.id, x="1"), now=NOW)
    write_inspection(site, new)  # and then the power goes, before the draft is dropped
    assert load_drafts(site) == ()


def test_a_draft_begun_again_from_an_older_state_is_the_one_offered(site: Path) -> None:
    first = save_draft(site, draft(x="1"), now=NOW)
    for value in "23456":
        save_draft(site, dataclasses.replace(first, values={"x": value}), now=NOW)
    assert load_drafts(site)[0].values == {"x": "6"}


def test_drafts_are_left_out_of_version_control(site: Path) -> None:
    save_draft(site, draft(), now=NOW)
    assert (site / ".wearplan" / ".gitignore").read_text() == "*\n"


def test_a_draft_of_a_stranger_is_only_data(site: Path, tmp_path: Path) -> None:
    save_draft(site, dataclasses.replace(draft(), who="\x1b[31mred\x1b[0m [bold]x"), now=NOW)
    assert load_drafts(site)[0].who == "red [bold]x"
    home = site / ".wearplan" / "drafts"
    (home / "broken.a.json").write_text("{")
    (home / "list.a.json").write_text("0\n[]\n")
    (home / "deep.a.json").write_text("x\n" + "[" * 100_000)
    (tmp_path / "secret.json").write_bytes(next(home.glob("2025*.json")).read_bytes())
    (home / "link.a.json").symlink_to(tmp_path / "secret.json")
    assert [found.id for found in load_drafts(site)] == ["20251120T0640-aaaaaa"]


def test_what_cannot_be_kept_is_said(site: Path) -> None:
    with pytest.raises(NotWritten, match="cannot be kept"):
        save_draft(site, dataclasses.replace(draft(), values={"x": object()}), now=NOW)


def test_nowhere_to_write_is_said(site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv("WEARPLAN_STATE_DIR", str(tmp_path / "file"))
    site.rename(tmp_path / "moved")
    with pytest.raises(NotWritten) as refusal:
        save_draft(site, draft(), now=NOW)
    assert refusal.value.fault.code == "folder-gone"


def test_saving_is_cheap_enough_for_every_key(site: Path) -> None:
    form = draft(**{str(place): "9,5 even limit" for place in range(300)})
    took = []
    for _ in range(20):
        began = time.perf_counter()
        form = save_draft(site, form, now=NOW)
        took.append(time.perf_counter() - began)
    assert sorted(took)[10] < 0.25
