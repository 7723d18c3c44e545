"""Work stopped in the app: what was not shown is not said."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.tui.small import small_plan, small_site
from wearplan import plan as plan_room
from wearplan.plan import Wishes
from wearplan.tui.rooms import STOPPED, Cancelled, Rooms
from wearplan.tui.state import Snapshot


@pytest.fixture
def searched(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Rooms.plan with a search that gives a plan of a status."""

    def search(status: str, *, stopped: bool) -> Any:
        found = replace(small_plan(Wishes()), status=status, remarks=("one",))
        monkeypatch.setattr(plan_room, "propose", lambda *_, **__: found)
        snapshot = Snapshot(folder=Path("site"), site=small_site(), outlook=object())  # type: ignore[arg-type]
        return Rooms().plan(snapshot, lambda *_: None, lambda: stopped)["plan"]

    return search


def test_a_search_stopped_before_a_plan_was_met_does_not_say_there_is_none(searched: Any) -> None:
    with pytest.raises(Cancelled):
        searched("not_found", stopped=True)
    assert searched("impossible", stopped=True).status == "impossible"


def test_a_plan_of_a_stopped_search_says_so(searched: Any) -> None:
    assert searched("least_cost", stopped=True).remarks == (STOPPED, "one")
    assert searched("least_cost", stopped=False).remarks == ("one",)
