"""One page for the meeting: HTML that stands by itself, or Markdown for a mail; --csv and --xlsx write every table.

The page holds the same numbers as the other commands.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import every_answer, read_site, site_argument
from wearplan.cli.streams import Progress, say, write
from wearplan.site.write.outputs import write_output

if TYPE_CHECKING:
    from wearplan.report.answers import Answers


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="where to write it; without it, to stdout")
    parser.add_argument("--format", choices=("html", "md", "json"), default="html")
    parser.add_argument("--json", dest="format", action="store_const", const="json", help="the same as --format json")
    parser.add_argument(
        "--sheet", action="store_true", help="the meeting sheet: two sides of A4 in HTML, the page its annex"
    )
    parser.add_argument("--csv", type=Path, metavar="DIR", help="also write every table as CSV into DIR")
    parser.add_argument("--xlsx", type=Path, metavar="FILE", help="also write every table into a workbook")
    parser.add_argument("--no-backtest", action="store_true", help="leave out how past outlooks did")


def run(args: argparse.Namespace) -> int:
    from dataclasses import replace

    from wearplan.cli.alongside import Alongside
    from wearplan.report.paper.whole import csv_files, whole_json, whole_markdown

    if args.sheet and args.format != "html":
        raise Stopped(Exit.USAGE, "the meeting sheet is HTML; leave out --format, or --sheet for the page in that form")
    _there_is_room(args.output)
    _there_is_room(args.xlsx)
    site = read_site(args.site, "outlook")
    progress = Progress()
    past = None if args.no_backtest or args.sheet else Alongside(args.site)
    try:
        answers = every_answer(site, progress)
        if past is not None:
            progress("how past outlooks did")
            answers = replace(answers, backtest=past.result(site, progress))
    finally:
        if past is not None:
            past.close()
    progress.close()
    if args.sheet:
        text = _meeting(answers)
    elif args.format == "html":
        from wearplan.report.paper.page import page_html

        text = page_html(answers)
    else:
        text = whole_markdown(answers) if args.format == "md" else whole_json(answers)
    try:
        if args.output:
            write_output(args.output, text)
            say(f"wrote {args.output} ({len(text.encode()) // 1024} kB)")
        else:
            write(text)
        if args.csv:
            args.csv.mkdir(parents=True, exist_ok=True)
            for name, table in csv_files(answers).items():
                write_output(args.csv / name, table)
            say(f"wrote the tables into {args.csv}")
        if args.xlsx:
            _write_workbook(args.xlsx, answers)
    except OSError as error:
        raise Stopped(Exit.NO, f"cannot write: {error}") from error
    return Exit.DONE


def _meeting(answers: Answers) -> str:
    from wearplan import history
    from wearplan.report.before import kept_before
    from wearplan.report.paper.meeting import meeting_html

    site = answers.site
    rings = history.clean_rings(site)
    lives = history.lives(site, history.measure_exposure(site, rings))
    return meeting_html(
        answers, current=history.current_lives(lives), calendar=history.Calendar(site, rings), before=kept_before(site)
    )


def _write_workbook(path: Path, answers: Answers) -> None:
    from wearplan.report.paper.page import NOTICE
    from wearplan.report.paper.whole import all_tables
    from wearplan.report.plan_text import headline
    from wearplan.report.workbook import NoWorkbooks, workbook

    lines = headline(answers.plan, answers.site) if answers.plan else []
    try:
        content = workbook(all_tables(answers), answers.site, what="Tools and stops", notice=NOTICE, lines=lines)
    except NoWorkbooks as error:
        raise Stopped(Exit.NO, str(error)) from error
    write_output(path, content)
    say(f"wrote the tables into {path}")


def _there_is_room(output: Path | None) -> None:
    """Refuse a file that cannot be written before the work, not after it."""
    if output is None:
        return
    if output.is_dir():
        raise Stopped(Exit.USAGE, f"{output} is a folder: give a file in it, such as {output / 'page.html'}")
    if not output.parent.is_dir():
        raise Stopped(Exit.USAGE, f"there is no folder {output.parent} to write {output.name} into: make it first")
