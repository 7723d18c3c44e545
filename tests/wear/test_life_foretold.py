"""The life foretold at past stops against the life reached."""

import math
from types import SimpleNamespace

import pytest

from wearplan.wear.scoring.life_foretold import Foretold, crossing, life_words, score_lives


def life(*readings):
    made = [SimpleNamespace(driven_m=m, wear_mm=mm, sound=True, source="inspection") for m, mm in readings]
    return SimpleNamespace(from_m=100.0, start_wear_mm=0.0, readings=made)


def test_where_readings_cross_the_limit():
    # by hand: from 16 mm at 300 m to 24 mm at 340 m, 20 mm lies half way
    assert crossing(life((200.0, 8.0), (300.0, 16.0), (340.0, 24.0)), 20.0) == (320.0, True)
    assert crossing(life((200.0, 8.0), (300.0, 16.0)), 20.0) == (300.0, False)
    assert crossing(life((150.0, None)), 20.0) is None
    assert crossing(life((150.0, 25.0)), 20.0) == (140.0, True)


def test_lives_taken_off_early_are_no_errors():
    made = [
        Foretold(life="1-1", tool_type="a", foretold_m=220.0, reached_m=200.0, crossed=True),
        Foretold(life="2-1", tool_type="a", foretold_m=190.0, reached_m=200.0, crossed=True),
        Foretold(life="3-1", tool_type="a", foretold_m=500.0, reached_m=100.0, crossed=False),
        Foretold(life="4-1", tool_type="b", foretold_m=50.0, reached_m=100.0, crossed=False),
    ]
    a, b = score_lives(made)
    assert (a.lives, a.censored) == (2, 1)
    assert a.mean_error == pytest.approx(0.025)
    assert a.mean_absolute_error == pytest.approx(0.075)
    assert a.outlived == 0.0
    assert math.isnan(b.mean_error)
    assert b.outlived == 1.0
    assert "2 lives" in life_words(a)
    assert "no life's readings crossed" in life_words(b)
