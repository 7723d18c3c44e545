"""Take in what the office already has: workbooks, sheets and laboratory files become records.

XLSX, ODS, CSV and AGS 4. It says which tables it found and how it understands each column, asks only what cells cannot
say, and shows every odd cell: taken, asked or refused. Nothing is written before yes. Into a folder that does not exist
it writes layout, tool types, ground and stock too; what no file holds stays open as "?".

Answers are kept in SITE/take.toml and found there next month. A script reads the questions with --json, writes

    [answers]
    "time zone" = "+01:00"
    "chainage of rings" = "face"
    "Wear history!H13" = "10"

    [site]                       # facts no file holds; what is left out stays open
    name = "Drive 1"
    bore_diameter_m = 8.84

into a TOML file and gives it by --mapping. [site] may have: name, invented, currency, jurisdiction, end_chainage_m,
advance_m_per_day, working_days_per_week, bore_diameter_m, ground_known_on, ground_source, no_stockout_probability,
review_days.

Also in [answers]: "sheet NAME" = "read" for a hidden sheet, "table NAME" = "leave out" for a sheet not to be taken.

Exit code 1: nothing was written, something waits for an answer, or the folder contradicts some records: those are
listed and not written, the others are.
"""

from __future__ import annotations

import argparse
import contextlib
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearplan.cli.at_the_gate import HOW, gate_arguments, refused_lines
from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.receipts import acknowledge, writing
from wearplan.cli.steps import agreed, json_argument
from wearplan.cli.streams import Progress, say, write, write_json

FACTS = (
    "name", "bore_diameter_m", "advance_m_per_day", "working_days_per_week", "ground_known_on", "ground_source",
    "no_stockout_probability", "review_days",
)  # fmt: skip
"""Facts no sheet holds that a new folder needs; what is not given in [site] stands open in it."""

if TYPE_CHECKING:
    from wearplan.site.records import Site
    from wearplan.take.asking import Question
    from wearplan.take.engine import Taken
    from wearplan.take.keep.writing import Proposal


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "site", type=Path, metavar="SITE", help="the site folder; a new one is written where there is none"
    )
    parser.add_argument("files", type=Path, nargs="*", metavar="FILE", help="workbooks, CSV or AGS 4")
    parser.add_argument("--mapping", type=Path, metavar="TOML", help="answers, in place of SITE/take.toml")
    json_argument(parser)
    parser.add_argument("--yes", action="store_true", help="write without asking; what has an open question waits")
    parser.add_argument(
        "--suggested", action="store_true", help="answer every question by what is suggested, and say so"
    )
    gate_arguments(parser)
    parser.add_argument("--withdraw", metavar="TAKE", help="take a whole take back by further records")
    parser.add_argument("--reason", metavar="TEXT", help="with --withdraw: why")


def run(args: argparse.Namespace) -> int:
    if args.withdraw:
        return _withdraw(args)
    if not args.files:
        raise Stopped(Exit.USAGE, "give the office's files: wearplan take SITE FILE ...")
    _are_files(args.files)
    return take_files(args.site, args.files, args)


def new_from(folder: Path, args: argparse.Namespace) -> int:
    """`new --from`: the same, into a folder that must not stand yet."""
    if folder.exists() and (not folder.is_dir() or any(path.name != "take.toml" for path in folder.iterdir())):
        raise Stopped(
            Exit.USAGE, f"{folder} is not empty; name a folder that does not exist yet, or use `wearplan take`"
        )
    _are_files(args.files)
    return take_files(folder, args.files, args)


def _are_files(paths: list[Path]) -> None:
    for path in paths:
        if not path.is_file():
            raise Stopped(Exit.USAGE, f"{path} is no file")


def take_files(folder: Path, files: list[Path], args: argparse.Namespace) -> int:
    """Read, ask, show, write; shared with ``new --from``."""
    from wearplan.report.take_text import checked_lines, preview_lines, table_lines

    site = _standing(folder)
    ask = not args.json and not args.yes and sys.stdin.isatty()
    taken = _understood(folder, files, site, args, ask=ask)
    proposal = _proposal(args, taken, folder, site)
    if not args.json:
        write("\n".join([*table_lines(taken), *preview_lines(taken, proposal), *checked_lines(site, proposal)]))
    yes = not proposal.empty and (args.yes or (ask and agreed()))
    written: list[str] = []
    if yes:
        from wearplan.take.keep.writing import keep_answers
        from wearplan.take.keep.writing import write as write_all

        with writing("What was written before stands; taking the same files again goes on from there."):
            written = write_all(proposal, folder)
            acknowledge(f"written: take {proposal.take_id} into {folder}", on_stderr=args.json)
        keep_answers(folder, taken)
    if args.json:
        write_json(_body(taken, proposal, written, site))
    else:
        _tell_outcome(taken, proposal, written, folder, args.mapping)
    undecided = not proposal.empty and not yes
    if proposal.held:
        say(*refused_lines(proposal.held), f"{len(proposal.held)} found: those records are not written. {HOW}")
    return Exit.NO if undecided or taken.questions or proposal.held else Exit.DONE


def _proposal(args: argparse.Namespace, taken: Taken, folder: Path, site: Site | None) -> Proposal:
    """What would be written, with what was accepted by name."""
    from wearplan.cli.at_the_gate import accepted
    from wearplan.take.keep.holding import Accepted
    from wearplan.take.keep.writing import propose

    now, names = datetime.now().astimezone(), getattr(args, "accept", [])
    proposal = propose(taken, folder, site, now)
    if not names or accepted(args, proposal.found, args.by) is None:
        return proposal
    why = dict.fromkeys(names, args.because.strip())
    return propose(taken, folder, site, now, Accepted(who=args.by.strip(), why=why))


def _understood(folder: Path, files: list[Path], site: Site | None, args: argparse.Namespace, *, ask: bool) -> Taken:
    """What the files say, asked about until nothing new is open."""
    from wearplan.report.take_text import table_lines
    from wearplan.take.engine import take

    given, facts = _answers(folder, args.mapping)
    progress = Progress()
    while True:
        taken = take(files, site, given, accept=args.suggested, tell=progress, facts=facts)
        progress.close()
        fresh = [question for question in taken.questions if question.name not in given]
        if not ask or not fresh:
            return taken
        if not given and not facts:
            write("\n".join(table_lines(taken)))
        given |= {question.name: _put(question) or "" for question in fresh}


def _tell_outcome(taken: Taken, proposal: Proposal, written: list[str], folder: Path, mapping: Path | None) -> None:
    """What was written, what is open, and what to do about it."""
    if written:
        back = f"`wearplan take {folder} --withdraw {proposal.take_id} --reason ...` takes it back."
        write("\n".join(["", "written:", *written, f"This take is {proposal.take_id}; {back}"]))
    if taken.questions:
        say(
            f"{len(taken.questions)} questions are open; what hangs on them was not taken. Answer them in "
            f"{mapping or folder / 'take.toml'}."
        )
    if not proposal.empty and not written:
        say("Nothing was written. Answer y, or give --yes.")


def _standing(folder: Path) -> Site | None:
    from wearplan.site import load

    if not (folder / "site.toml").is_file():
        if folder.is_dir() and any(p.name != "take.toml" for p in folder.iterdir()):
            raise Stopped(Exit.USAGE, f"{folder} is not empty and no site folder")
        return None
    loaded = load(folder)
    if loaded.site is None:
        raise Stopped(
            Exit.FAULTS,
            f"{folder} has faults that hide the drive or the wheel: `wearplan check {folder}` names "
            "them; mend those first",
        )
    return loaded.site


def _answers(folder: Path, mapping: Path | None) -> tuple[dict[str, Any], dict[str, Any]]:
    from wearplan.take.asking import read_answers

    given: dict[str, Any] = {}
    facts: dict[str, Any] = {}
    for path in dict.fromkeys((folder / "take.toml", mapping or folder / "take.toml")):
        if path.is_file() or path == mapping:
            try:
                answers, site = read_answers(path)
            except ValueError as error:
                raise Stopped(Exit.USAGE, str(error)) from error
            given |= answers
            facts |= site
    return given, facts


def _put(question: Question) -> Any:
    """One question on the terminal; an empty answer leaves it open, or takes what is suggested."""
    from wearplan.take.asking import fits

    where = question.example
    place = " ".join(str(where.get(key, "")) for key in ("file", "sheet", "cell") if where.get(key))
    say("", f"{question.sentence}", f"  {question.count} cells; {place}: {where.get('shown', '')}" if where else "")
    for number, choice in enumerate(question.choices, start=1):
        mark = "  (suggested)" if choice == question.suggested else ""
        say(f"  {number}  {choice}{mark}")
    hint = f" [{question.suggested}]" if question.suggested else ""
    while True:
        try:
            text = input(f"answer{hint}, - to leave open: ").strip()
        except EOFError:
            return None
        if text == "-":
            return None
        text = text or question.suggested or ""
        value = _as_answer(question, text)
        if not text or fits(value, question.choices, question.form, question.about):
            return value or None
        wanted = "answer to this: give a number of the list" if question.choices else "number"
        say(f"'{text}' is no {wanted}")


def _as_answer(question: Question, text: str) -> Any:
    """What was typed: the number of a choice, a number, or words."""
    if question.form == "choice" and text.isdigit() and 1 <= int(text) <= len(question.choices):
        return question.choices[int(text) - 1]
    if question.form == "number":
        with contextlib.suppress(ValueError):
            return float(text.replace(",", "."))
    return text.replace(",", ".") if question.about == "cell" else text


def _body(taken: Taken, proposal: Proposal, written: list[str], site: Site | None) -> dict[str, Any]:
    from wearplan.report.bodies import envelope
    from wearplan.report.take_text import checked_lines

    body = {
        "take": proposal.take_id,
        "files": [{"file": book.file, "sha256": book.sha256} for book in taken.books],
        "tables": taken.tables,
        "settled": taken.answers.settled,
        "answered": taken.answers.used,
        "questions": taken.questions,
        "cells": taken.findings,
        "would_write": proposal.counts(),
        "open_facts": [] if site else [name for name in FACTS if name not in taken.site_facts],
        "waits": proposal.waits,
        "differs": proposal.differs,
        "odd": checked_lines(site, proposal),
        "contradicted": proposal.held,
        "written": written,
    }
    return envelope(site, body, answer="take")


def _withdraw(args: argparse.Namespace) -> int:
    from wearplan.take.keep.writing import withdraw

    if not args.reason:
        raise Stopped(Exit.USAGE, "--withdraw needs --reason TEXT")
    site = _standing(args.site)
    if site is None:
        raise Stopped(Exit.USAGE, f"{args.site} is no site folder")
    with writing():
        paths = withdraw(args.site, site, args.withdraw, args.reason, datetime.now().astimezone())
        acknowledge(f"written: {args.withdraw} is withdrawn", on_stderr=args.json)
    if args.json:
        from wearplan.report.bodies import envelope

        write_json(
            envelope(site, {"withdrawn": args.withdraw, "written": [str(path) for path in paths]}, answer="take")
        )
    else:
        write("\n".join([*map(str, paths), "Ring rows stay in advance.csv; each names its file in its last column."]))
    return Exit.DONE
