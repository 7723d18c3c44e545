"""Ctrl-C while the plan is searched: what was not shown is not said."""

from __future__ import annotations

import os
import signal
from dataclasses import dataclass

import pytest

from wearplan import plan
from wearplan.cli import steps
from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.streams import Progress


@dataclass(frozen=True)
class Found:
    status: str
    remarks: tuple[str, ...] = ("one",)


def propose(monkeypatch, status, *, press):
    def search(site, outlook, *, should_stop, **_):
        assert not should_stop()
        if press:
            os.kill(os.getpid(), signal.SIGINT)
            assert should_stop()
        return Found(status)

    monkeypatch.setattr(plan, "propose", search)
    before = signal.getsignal(signal.SIGINT)
    try:
        return steps.propose(None, None, Progress())
    finally:
        assert signal.getsignal(signal.SIGINT) is before


def test_a_search_stopped_before_a_plan_was_met_does_not_say_there_is_none(monkeypatch, capsys):
    with pytest.raises(Stopped) as stopped:
        propose(monkeypatch, "not_found", press=True)
    assert stopped.value.code == Exit.INTERRUPTED
    assert "is not known" in stopped.value.lines[0]
    assert propose(monkeypatch, "impossible", press=True).status == "impossible"


def test_a_plan_of_a_stopped_search_says_so(monkeypatch, capsys):
    assert propose(monkeypatch, "least_cost", press=True).remarks == (steps.STOPPED, "one")
    assert propose(monkeypatch, "least_cost", press=False).remarks == ("one",)
