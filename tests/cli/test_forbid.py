"""`plan --forbid` takes a window by its name or by a chainage in it."""

from pathlib import Path

import pytest

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.commands.plan import _windows
from wearplan.site import load

SITE = load(Path(__file__).parents[2] / "sample_wheel").site


def test_a_window_by_name_or_by_a_chainage_in_it():
    window = SITE.stops.windows[0]
    middle = 0.5 * (window.from_chainage_m + window.to_chainage_m)
    assert _windows(SITE, window.name) == (window.name,)
    assert window.name in _windows(SITE, f"{middle:.1f}")


@pytest.mark.parametrize("text", ["nowhere", "1+000.0"])
def test_neither_a_window_nor_a_chainage_in_one(text):
    with pytest.raises(Stopped) as stopped:
        _windows(SITE, text)
    assert stopped.value.code == Exit.USAGE
    assert "there are" in stopped.value.lines[0]
