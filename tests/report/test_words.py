"""Numbers and names as people read them."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from wearplan.plan.words import chance
from wearplan.report.words import (
    chainage_text,
    chance_text,
    count_text,
    listing,
    marked,
    money_text,
    percent_text,
    plain,
    plural,
    significant_text,
    wrapped,
)


@pytest.mark.parametrize(
    ("value", "text"),
    [(2345.6, "2+345.6"), (0.0, "0+000.0"), (999.96, "1+000.0"), (-12.34, "-0+012.3"), (-0.01, "0+000.0"), (None, "—")],
)
def test_chainage(value, text):
    assert chainage_text(value) == text


def test_chainage_in_stations_of_a_hundred_feet():
    assert chainage_text(1234.5 * 0.3048, feet=True) == "12+34.5"


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.0, "0 %"), (0.004, "< 1 %"), (0.007, "1 %"), (0.126, "13 %"), (0.996, "> 99 %"), (1.0, "100 %"), (None, "—")],
)
def test_a_chance_is_never_rounded_to_a_certainty(share, text):
    assert percent_text(share) == text
    assert percent_text(math.nan) == "—"


@given(st.floats(min_value=0.0, max_value=1.0))
@example(1.0)
def test_a_table_rounds_a_chance_as_the_sentence_beside_it(share):
    assert chance_text(share) == chance(share)


def test_numbers_do_not_follow_the_machines_locale():
    assert count_text(1234567.8) == "1 234 568"
    assert count_text(0.25, 1) == "0.2"
    assert count_text(math.inf) == "∞"
    assert money_text(-54557, "EUR") == "EUR -54 557"
    assert money_text(None, "EUR") == "—"


@pytest.mark.parametrize(("value", "text"), [(0.012345, "0.0123"), (123456, "123 456"), (0, "0"), (9.999, "10.00")])
def test_significant_digits(value, text):
    assert significant_text(value) == text


def test_lists_and_plurals():
    assert listing(["a", "b", "c"]) == "a, b and c"
    assert listing(list("abcdefghij"), 3) == "a, b, c and 7 more"
    assert (plural(1, "entry", "entries"), plural(0, "entry", "entries")) == ("1 entry", "0 entries")


def test_a_persons_text_cannot_steer_a_terminal_or_markdown():
    assert plain("a\x1b]0;title\x07b\u202ec\nd") == "a]0;titlebc d"
    assert marked("<b> & [x](y) *z* |") == "&lt;b> & \\[x\\](y) \\*z\\* \\|"
    assert marked("&lt; < 1 %") == "&amp;lt; < 1 %"


@pytest.mark.parametrize("width", range(16, 60))
def test_a_number_keeps_its_thousands_and_unit_on_one_line(width):
    text = "tools 277 893, late or damaged tools 525 750 and EUR 1 000, chance > 99 % at 12.5 mm (cap 15 %)"
    lines = wrapped(text, width, later="  ")
    assert max(map(len, lines)) <= width
    for whole in ("277 893", "525 750", "EUR 1 000", "> 99 %", "12.5 mm", "15 %"):
        assert any(whole in line for line in lines)
    assert " ".join(line.strip() for line in lines) == text
