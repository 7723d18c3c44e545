"""The page for the meeting: self-contained, in order, accessible, and the same numbers as the other answers."""

from __future__ import annotations

import html
import itertools
import re
from dataclasses import replace
from datetime import UTC, datetime
from html.parser import HTMLParser

import pytest

from wearplan.report.bodies import demand_body, plan_body
from wearplan.report.paper.page import NOTICE, page_html
from wearplan.report.plan_text import WHOLE, caution_lines, plan_text, stop_cautions
from wearplan.report.words import chainage_text, count_text, held, money_text

VOID = {"meta", "br", "img", "line", "rect", "circle", "path", "polyline", "polygon"}


class Tree(HTMLParser):
    """Tags with attributes and text, and whether they close as they opened."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.faults = [], [], []
        self.text: dict[str, list[str]] = {}

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs), tuple(name for name, _ in self.open)))
        if tag not in VOID:
            self.open.append((tag, len(self.tags) - 1))

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs), tuple(name for name, _ in self.open)))

    def handle_endtag(self, tag):
        if tag in VOID:
            return
        if not self.open or self.open[-1][0] != tag:
            self.faults.append((tag, self.getpos()))
            return
        self.open.pop()

    def handle_data(self, data):
        if self.open:
            self.text.setdefault(self.open[-1][0], []).append(data)


def read(text) -> Tree:
    tree = Tree()
    tree.feed(text)
    tree.close()
    return tree


@pytest.fixture(scope="module")
def written(answers) -> str:
    return page_html(answers, made_at=datetime(2026, 11, 20, 6, 30, tzinfo=UTC))


@pytest.fixture(scope="module")
def page(written) -> str:
    """As read: a blank that must not break is a blank."""
    return written.replace("\xa0", " ")


def test_no_number_is_torn_from_its_unit_where_a_line_of_the_page_ends(written, answers):
    cost = money_text(answers.plan.expected_cost, answers.site.currency)
    assert held(cost) != cost
    assert held(cost) in written
    assert cost not in written


@pytest.fixture(scope="module")
def tree(page) -> Tree:
    return read(page)


def test_it_stands_by_itself(page, tree):
    assert len(page.encode()) < 2_000_000
    used = re.sub(r'xmlns="http://www.w3.org/2000/svg"', "", page)
    assert "script" not in {tag for tag, _, _ in tree.tags}
    assert not re.search(r"@import|url\((?!#)", used)
    for _, attrs, _ in tree.tags:
        for key in ("src", "href", "action", "data", "poster"):
            assert attrs.get(key, "#").startswith("#")
    assert not {tag for tag, _, _ in tree.tags} & {"link", "iframe", "object", "embed", "img", "form"}


def test_every_tag_closes_and_every_id_is_one(tree):
    assert tree.faults == []
    assert tree.open == []
    ids = [attrs["id"] for _, attrs, _ in tree.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    for _, attrs, _ in tree.tags:
        if "href" in attrs:
            assert attrs["href"][1:] in ids
        if "aria-labelledby" in attrs:
            assert attrs["aria-labelledby"] in ids


def test_headings_go_down_one_step_at_a_time(tree):
    levels = [int(tag[1]) for tag, _, _ in tree.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in itertools.pairwise(levels))
    assert len(levels) > 8
    assert next(attrs["lang"] for tag, attrs, _ in tree.tags if tag == "html") == "en"
    assert sum(tag == "main" for tag, _, _ in tree.tags) == 1


def test_every_table_has_a_caption_and_scoped_heads(page, tree):
    tables = [index for index, (tag, _, _) in enumerate(tree.tags) if tag == "table"]
    assert len(tables) > 10
    assert all(tree.tags[index + 1][0] == "caption" for index in tables)
    assert all(attrs.get("scope") for tag, attrs, _ in tree.tags if tag == "th")
    assert len(tree.text["caption"]) == len(tables)


def test_every_picture_has_a_title_a_description_and_a_role(page):
    drawn = re.findall(r"<svg .*?</svg>", page, re.S)
    assert len(drawn) >= 8
    for picture in drawn:
        assert re.match(r"<svg [^>]*role=\"img\" aria-label=\"[^\"]{10,}\"", picture)
        assert re.search(r"<title>[^<]{10,}</title><desc>[^<]{20,}</desc>", picture)


def test_notice_invented_and_what_it_was_made_from(page, answers):
    assert html.escape(NOTICE) in page
    assert "this drive does not exist" in page
    assert answers.site.inputs_sha256 in page
    assert "2026-11-20 06:30 UTC" in page
    plain = page_html(replace(answers, site=replace(answers.site, invented=False)))
    assert "does not exist" not in plain


def test_the_answer_and_its_cautions_come_first(page, answers):
    places = [page.index(f'id="{key}"') for key in ("answer", "cautions", "stops", "go-on", "store", "wheel", "rates")]
    assert places == sorted(places)
    for stop in answers.plan.stops:
        for line in stop_cautions(stop):
            assert f"<li>{html.escape(line)}</li>" in page
    for caution in answers.plan.cautions:
        assert html.escape(caution.text) in page


def test_every_caution_is_told_once_where_it_belongs(answers):
    groups = caution_lines(answers.plan)
    lines = [line for _, told in groups for line in told]
    assert {line for stop in answers.plan.stops for line in stop_cautions(stop)} <= set(lines)
    heads = [head for head, _ in groups]
    assert len(heads) == len(set(heads))
    whole = dict(groups).get(WHOLE, [])
    assert not set(whole) & {line for stop in answers.plan.stops for line in stop_cautions(stop)}


def test_the_same_numbers_as_terminal_and_json(page, answers):
    plan, demand = plan_body(answers.plan), demand_body(answers.demand)
    text = plan_text(answers.plan, answers.site, width=200)
    for stop in plan["stops"]:
        for words in (chainage_text(stop["chainage_m"]), count_text(stop["cost"]), stop["window"]):
            assert words in page
            assert words in text
        assert f'<td class="n">{stop["entries"]}</td>' in page
    for row in plan["deferral"]:
        assert count_text(row["extra_cost"]) in page
        assert count_text(row["extra_cost"]) in text
    for order in demand["orders"]:
        assert order["order_by"] in page
        assert order["tool_type"] in page
    assert count_text(plan["expected_cost"]) in page
    for rate in answers.fit.rates:
        assert html.escape(rate.basis) in page


def test_names_from_a_stranger_stay_words(answers):
    name = '<script>alert("x")</script>\x1b[2J'
    outlook = replace(answers.outlook, site=replace(answers.site, name=name))
    stops = tuple(replace(stop, window=name, reason=name) for stop in answers.plan.stops)
    hostile = replace(
        answers,
        site=outlook.site,
        outlook=outlook,
        plan=replace(answers.plan, stops=stops, remarks=(name,)),
        ring_notes=(name,),
    )
    page = page_html(hostile)
    assert "<script" not in page
    assert "\x1b" not in page
    assert page.count("&lt;script&gt;") > 5
    assert read(page).faults == []


@pytest.mark.parametrize("left_out", ["plan", "demand", "backtest"])
def test_a_part_that_cannot_be_had_is_left_out_and_the_rest_stands(answers, left_out):
    changes = {left_out: None, **({"demand": None} if left_out == "plan" else {})}
    page = page_html(replace(answers, **changes))
    assert read(page).faults == []
    assert "The wheel now" in page
    assert html.escape(NOTICE) in page
    if left_out == "plan":
        assert "No plan is made" in page


def test_the_reasons_asked_for_are_not_offered_again(answers):
    changes = tuple(replace(answers.plan.stops[0].changes[0], place=str(n)) for n in range(9))
    plan = replace(answers.plan, stops=(replace(answers.plan.stops[0], changes=changes), *answers.plan.stops[1:]))
    offer = "--reasons tells the reason of every change"
    assert offer in plan_text(plan, answers.site, width=200)
    assert offer not in plan_text(plan, answers.site, width=200, reasons=True)


def test_what_part_worn_tools_save_is_told_beside_the_costs(answers):
    kept = replace(answers.plan, moves_save=0.0)
    saving = replace(answers.plan, moves_save=6161.4)
    said = f"{money_text(6161.4, answers.site.currency)}; no cost here counts that"
    for told in (plan_text(saving, answers.site, width=400), page_html(replace(answers, plan=saving))):
        assert said in told.replace("\xa0", " ")
    assert "part-worn tools put on in place" not in plan_text(kept, answers.site, width=400)
