"""The backtest in a second process gives what this one would, and is done without where that process dies."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.simulate import World
from tests.simulate.write import write_folder
from wearplan import wear
from wearplan.cli.alongside import Alongside
from wearplan.site import load


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("site") / "drive"
    write_folder(World(3, places=16, length_m=900.0, wear_scale=2.0).site, path)
    return path


@pytest.fixture(scope="module")
def site(folder):
    return load(folder).site


@pytest.fixture(scope="module")
def own(site):
    return wear.backtest(site)


def same(one, other):
    """Equal to the last digit; a score that is not a number in both counts as equal, which ``==`` denies."""
    return repr(one) == repr(other)


def test_the_same_answer(folder, site, own):
    past = Alongside(folder)
    try:
        assert same(past.result(site), own)
    finally:
        past.close()


def test_a_second_process_that_dies_is_done_without(folder, site, own):
    past = Alongside(folder)
    if past._process is not None:
        past._process.kill()
    assert same(past.result(site), own)
    past.close()


def test_a_folder_changed_meanwhile_is_worked_out_again(folder, site, own, monkeypatch):
    past = Alongside(folder)
    asked = []
    monkeypatch.setattr(wear, "backtest", lambda found, progress=None: asked.append(found) or own)
    other = replace(site, inputs_sha256="0" * 64)
    assert past.result(other) == own
    assert asked == [other]
    past.close()
