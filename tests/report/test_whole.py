"""Markdown for a mail, one JSON object, CSV of every table."""

from __future__ import annotations

import csv
import io
import json

from wearplan.report.paper.page import NOTICE
from wearplan.report.paper.whole import all_tables, csv_files, whole_json, whole_markdown


def test_markdown_has_answer_cautions_and_every_table(answers):
    text = whole_markdown(answers)
    assert text.index(NOTICE) < text.index("Next stop:") < text.index("## Cautions") < text.index("## Tables")
    for table in all_tables(answers):
        assert f"### {table.title}" in text
    assert answers.site.inputs_sha256 in text
    assert "\n\n\n\n" not in text


def test_json_holds_every_answer_under_its_name(answers):
    body = json.loads(whole_json(answers))
    assert {"rates", "outlook", "plan", "demand", "backtest"} <= set(body)
    assert body["inputs_sha256"] == answers.site.inputs_sha256
    assert body["plan"]["expected_cost"] == answers.plan.expected_cost
    assert len(body["outlook"]["tools"]) == len(answers.outlook.numbers)
    order = body["demand"]["orders"][0]
    assert {"tool_type", "quantity", "order_by"} <= set(order)
    assert {"tool_type", "date", "probability"} <= set(body["demand"]["shortage"][0])
    assert {"month", "tool_type", "used"} <= set(body["demand"]["periods"][0])


def test_csv_of_every_table_reads_back(answers):
    files = csv_files(answers)
    assert len(files) == len(all_tables(answers))
    for text, table in zip(files.values(), all_tables(answers), strict=True):
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) == len(table.rows) + 1
        assert len({len(row) for row in rows}) == 1
