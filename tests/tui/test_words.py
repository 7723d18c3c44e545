"""Sentences that name one thing or several."""

from __future__ import annotations

import pytest

from wearplan.tui.rooms import not_given


@pytest.mark.parametrize(
    ("answer", "begin"),
    [
        ("rates", "The rates are not given: "),
        ("outlook", "The outlook is not given: "),
        ("backtest", "The test of past outlooks is not given: "),
    ],
)
def test_the_verb_goes_with_the_answer(answer: str, begin: str) -> None:
    assert not_given(answer, "why") == f"{begin}why"
