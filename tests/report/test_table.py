"""One table in four writings: the same cells, harmless whatever a person typed."""

from __future__ import annotations

import csv
import io
import re
from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wearplan.report.tables.table import Band, Column, Table

HOSTILE = (
    '<script>alert("x")</script>',
    '"><img src=x onerror=alert(1)>',
    "=HYPERLINK(1)",
    "+1+cmd",
    "@SUM(A1)",
    "-2+3",
    "\x1b[31mred\x1b[0m",
    "a|b",
    "[link](javascript:alert(1))",
    "*bold* `code`",
    "right\u202eleft",
    "line\nbreak",
    "&amp;",
)


def table(**over):
    options = {
        "title": "Wear",
        "columns": (
            Column(key="place", head="place", form="id"),
            Column(key="serial", head="serial", spare=2),
            Column(key="wear_mm", head="wear mm", form="fixed1"),
            Column(key="chance", head="chance", form="percent", spare=1),
            Column(key="why", head="why", wrap=True),
        ),
        "rows": (
            (1, "D-1", Band(1.0, 2.25, None), 0.004, "because " * 20),
            (12, "=cmd", Band(3.0, 4.0, 5.5), 1.0, None),
        ),
        "notes": ("A note " * 30,),
    }
    return Table(**{**options, **over})


@pytest.mark.parametrize("width", range(60, 161, 10))
def test_text_keeps_to_the_width_and_names_what_it_leaves_out(width):
    lines = table().text(width).splitlines()
    assert all(len(line) <= width for line in lines)
    rule = next(number for number, line in enumerate(lines) if line.startswith("─"))
    head = " ".join(lines[2:rule])
    left = next((line for line in lines if line.startswith("left out")), "")
    for column in table().columns:
        assert (column.head in head) != (column.head in left)
    assert "place" in head
    assert "why" in head


@settings(max_examples=50, deadline=None)
@given(
    words=st.lists(st.text(st.characters(codec="utf-8"), max_size=60), min_size=1, max_size=5),
    width=st.integers(60, 160),
)
def test_whatever_is_typed_text_keeps_its_lines_and_steers_no_terminal(words, width):
    made = Table(
        title="t",
        columns=(Column(key="n", head="n", form="id"), Column(key="w", head="words", wrap=True)),
        rows=tuple(enumerate(words)),
    )
    text = made.text(width)
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", text)
    if all(len(word) <= 24 for line in words for word in line.split()):
        assert all(len(line) <= width for line in text.splitlines())


def test_csv_has_raw_numbers_and_three_columns_a_band():
    head, first, second = csv.reader(io.StringIO(table().csv()))
    assert head == ["place", "serial", "wear_mm_p05", "wear_mm_p50", "wear_mm_p95", "chance", "why"]
    assert first[2:6] == ["1.0", "2.25", "", "0.004"]
    assert second[1] == "'=cmd"
    assert second[5:] == ["1.0", ""]


class Reader(HTMLParser):
    """Tags met, and the text of cells."""

    def __init__(self):
        super().__init__()
        self.tags, self.cells, self._in = [], [], False

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag == "td":
            self.cells.append("")
            self._in = True

    def handle_endtag(self, tag):
        self._in = self._in and tag != "td"

    def handle_data(self, data):
        if self._in:
            self.cells[-1] += data


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_words_stay_words(words):
    made = table(title=words, rows=((1, words, 1.0, 0.5, words),), notes=(words,))
    html = Reader()
    html.feed(made.html())
    known = {"div", "table", "caption", "thead", "tbody", "tr", "th", "td", "p"}
    assert {tag for tag, _ in html.tags} <= known
    assert not any(key.startswith("on") or key in ("src", "href", "style") for _, attrs in html.tags for key in attrs)
    assert html.cells[1] == html.cells[4] == made.cells()[0][1]
    markdown = made.markdown()
    assert not re.search(r"<[a-zA-Z/!?]", markdown)
    assert not re.search(r"(?<!\\)\[link", markdown)
    row = next(line for line in markdown.splitlines() if line.startswith("| 1 "))
    assert len(re.findall(r"(?<!\\)\|", row)) == 6
    assert "\x1b" not in made.text(100) + markdown + made.html()
    cell = next(iter(list(csv.reader(io.StringIO(made.csv())))[1:]))[1]
    assert cell[:1] not in "=+-@\t\r"


def test_html_names_its_table_and_the_scope_of_its_heads():
    html = Reader()
    html.feed(table().html())
    tags = [tag for tag, _ in html.tags]
    assert tags.count("caption") == 1
    assert all(attrs.get("scope") == "col" for tag, attrs in html.tags if tag == "th")
    region = html.tags[0][1]
    assert region["role"] == "region"
    assert region["aria-label"] == "Wear"
    assert region["tabindex"] == "0"


def test_blocks_on_a_phone_keep_their_heads():
    """Tables with long text are shown as blocks on a narrow screen, so every cell carries its head and its role."""
    html = Reader()
    html.feed(table().html())
    cells = [attrs for tag, attrs in html.tags if tag == "td"]
    assert [attrs["data-head"] for attrs in cells[:5]] == [column.head for column in table().columns]
    assert all(attrs["role"] == "cell" for attrs in cells)
    plain = Reader()
    plain.feed(table(columns=(Column(key="a", head="a"),), rows=(("x",),)).html())
    assert "stack" not in dict(plain.tags)["table"].get("class", "")


def test_an_empty_table_says_so():
    assert "(none)" in table(rows=()).text(80)


def test_cells_are_the_same_in_every_writing():
    html = Reader()
    html.feed(table().html())
    shown = [cell for row in table().cells() for cell in row]
    assert html.cells == shown
    assert all(cell.strip() in table().markdown() for cell in shown)


def wide_heads():
    """Heads longer than what stands below, and long text that has no room beside it."""
    return Table(
        title="If passed",
        columns=(
            Column(key="window", head="window"),
            Column(key="cost", head="EUR more than the plan", form="int"),
            Column(key="over", head="a tool over its limit", form="percent"),
            Column(key="damage", head="a tool over its damage limit", form="percent", spare=1),
            Column(key="note", head="note", wrap=True),
        ),
        rows=(("north bank block", 13308153, 0.5, 0.001, "breaks the cap on passing a limit at 43 " * 3),),
    )


def test_narrow_folds_heads_before_it_leaves_columns_out():
    lines = wide_heads().text(80).splitlines()
    assert max(map(len, lines)) <= 80
    assert not any(line.startswith("left out") for line in lines)
    assert {"more", "damage"} <= set(" ".join(lines[2:7]).split())


@pytest.mark.parametrize("width", range(40, 61, 5))
def test_long_text_stands_below_its_row_where_there_is_no_room_beside_it(width):
    lines = wide_heads().text(width).splitlines()
    assert max(map(len, lines)) <= width
    assert " ".join(line.strip() for line in lines if line.startswith("    b")).startswith("breaks the cap")


def test_the_test_of_past_outlooks_says_why_there_is_nothing():
    from wearplan.report.tables.wear import backtest_table
    from wearplan.wear.scoring.hindsight import Backtest, remarks_on, summarise

    empty = Backtest(methods=summarise([]), stops=0, cases=(), remarks=remarks_on([]))
    assert "too few stops with readings to score anything yet" in backtest_table(empty).text(80)
