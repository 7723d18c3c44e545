"""Wishes kept in the folder: followed by every plan, undone as easily, and never mixed with others."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from tests.plan.makers import make_outlook, make_site, window
from tests.site.small_site import texts, write
from wearplan.plan import Wishes, propose
from wearplan.plan.kept import followed, to_keep
from wearplan.site import load
from wearplan.site.records import KeptWishes
from wearplan.site.write.wishes import keep_wishes, let_go

ALONE = Wishes(deferral=False, tradeoff=False, comparison=False)
SITE = make_site(windows=(window("long", 340.0, 400.0), window("mid", 520.0, 560.0), window("far", 700.0, 720.0)))
OUTLOOK = make_outlook(SITE, mm_per_100m=6.0, wear_now_mm=6.0)


def test_a_plan_follows_what_is_kept_and_says_so() -> None:
    asked = replace(ALONE, margin="half", forced_windows=("far",))
    kept = replace(SITE, wishes=to_keep(SITE, asked, because="superintendent, river ahead"))
    by_hand, by_folder = propose(SITE, OUTLOOK, wishes=asked), propose(kept, OUTLOOK, wishes=ALONE)
    assert by_folder.stops == by_hand.stops
    assert by_folder.expected_cost == by_hand.expected_cost
    assert by_folder.wishes.margin == "half"
    assert by_folder.forced_extra_cost == pytest.approx(by_hand.forced_extra_cost)
    said = [remark for remark in by_folder.remarks if "wishes.toml" in remark]
    assert len(said) == 1
    assert "superintendent, river ahead" in said[0]
    free = propose(kept, OUTLOOK, wishes=replace(ALONE, free=True))
    assert free.stops == propose(SITE, OUTLOOK, wishes=ALONE).stops
    assert free.expected_cost < by_folder.expected_cost


def test_wishes_asked_for_take_the_place_of_those_kept() -> None:
    kept = replace(SITE, wishes=KeptWishes(margin="1.2", stop_in=("far",)))
    asked, said = followed(kept, replace(ALONE, forbidden_windows=("mid",)))
    assert (asked.margin, asked.forced_windows, asked.forbidden_windows) == ("", (), ("mid",))
    assert "not followed" in said[0]


def test_kept_in_the_folder_and_let_go(tmp_path: Path) -> None:
    folder = write(tmp_path / "site", texts())
    before = load(folder).site
    assert before is not None
    assert before.wishes is None
    name = before.stops.windows[0].name
    wishes = KeptWishes(margin="1.1", not_in=(name,), max_entries=3, because='A. Nobody, "river"')
    keep_wishes(folder, wishes)
    after = load(folder).site
    assert after is not None
    assert after.wishes == wishes
    assert after.inputs_sha256 != before.inputs_sha256
    assert let_go(folder)
    assert not let_go(folder)
    assert load(folder).site.inputs_sha256 == before.inputs_sha256


def test_a_window_that_is_not_there_is_a_fault_that_forbids_the_plan(tmp_path: Path) -> None:
    folder = write(tmp_path / "site", texts())
    (folder / "wishes.toml").write_text('margin = "1.1"\nnot_in = ["nowhere"]\n', encoding="utf-8")
    loaded = load(folder)
    fault = next(f for f in loaded.faults if f.file == "wishes.toml")
    assert fault.line == 2
    assert "nowhere" in fault.what
    assert "plan" in fault.forbids
    assert loaded.site is not None
    assert loaded.site.forbidding("plan")
