"""Everything at once, for a mail, a program or a spreadsheet."""

from __future__ import annotations

import json
import re
from datetime import datetime

from wearplan import __version__
from wearplan.report.answers import Answers
from wearplan.report.bodies import backtest_body, demand_body, envelope, outlook_body, plan_body, rates_body
from wearplan.report.paper.page import NOTICE
from wearplan.report.plan_text import caution_lines, headline
from wearplan.report.tables.demand import demand_tables
from wearplan.report.tables.plan import plan_tables
from wearplan.report.tables.table import Table
from wearplan.report.tables.wear import backtest_table, faults_table, outlook_table, rates_tables
from wearplan.report.words import marked


def all_tables(answers: Answers) -> list[Table]:
    """Every table that has rows, in the order of the page."""
    tables = plan_tables(answers.plan, answers.site) if answers.plan else []
    if answers.demand:
        tables += demand_tables(answers.demand)
    tables += [outlook_table(answers.outlook), *rates_tables(answers.fit)]
    if answers.backtest:
        tables.append(backtest_table(answers.backtest))
    tables.append(faults_table(answers.site.faults))
    return [table for table in tables if table.rows]


def whole_markdown(answers: Answers) -> str:
    """The page as Markdown: answer, cautions, tables."""
    site = answers.site
    lines = [f"# {marked(site.name)}: tools and stops", ""]
    if site.invented:
        lines += ["**Invented data: this drive does not exist.**", ""]
    lines += [f"**{NOTICE}**", ""]
    if answers.plan:
        lines += [f"{marked(line)}\n" for line in headline(answers.plan, site)]
        lines += ["## Cautions", ""]
        for head, told in caution_lines(answers.plan):
            lines += [f"**{marked(head)}**", "", *[f"- {marked(caution)}" for caution in told], ""]
    lines += ["## Tables", "", *[table.markdown() for table in all_tables(answers)]]
    made = datetime.now().astimezone().strftime("%Y-%m-%d %H:%M %Z")
    lines.append(f"wearplan {__version__}, made {made}; inputs sha256 {site.inputs_sha256}")
    return "\n".join(lines)


def whole_json(answers: Answers) -> str:
    """One object with the body of each answer under its name."""
    body = {"rates": rates_body(answers.fit), "outlook": outlook_body(answers.outlook)}
    if answers.plan:
        body["plan"] = plan_body(answers.plan)
    if answers.demand:
        body["demand"] = demand_body(answers.demand)
    if answers.backtest:
        body["backtest"] = backtest_body(answers.backtest)
    return (
        json.dumps(envelope(answers.site, body, answer="report"), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    )


def csv_files(answers: Answers) -> dict[str, str]:
    """File name -> CSV of each table, numbered in the order of the page."""
    return {
        f"{number:02d}-{re.sub('[^a-z0-9]+', '-', table.title.lower()).strip('-')[:48]}.csv": table.csv()
        for number, table in enumerate(all_tables(answers), start=1)
    }
