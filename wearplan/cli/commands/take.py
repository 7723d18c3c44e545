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

Exit code 1: nothing was written, or something waits for an answer.
"""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import json_argument, writing
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
    from wearplan.take.engine import take
    from wearplan.take.keep.writing import propose

    site = _standing(folder)
    given, facts = _answers(folder, args.mapping)
    progress = Progress()
    ask = not args.json and not args.yes and sys.stdin.isatty()
    while True:
        taken = take(files, site, given, accept=args.suggested, tell=progress, facts=facts)
        progress.close()
        fresh = [q for q in taken.questions if q.name not in given]
        if not ask or not fresh:
            break
        if not given and not facts:
            _tables(taken)
        for question in fresh:
            answer = _put(question)
            given[question.name] = answer
        given = {name: answer for name, answer in given.items() if answer is not None} | {
            n: "" for n, a in given.items() if a is None
        }
    proposal = propose(taken, folder, site, datetime.now().astimezone())
    if not args.json:
        _tables(taken)
        _preview(taken, proposal)
    agreed = not proposal.empty and (args.yes or (ask and _agreed()))
    written: list[str] = []
    if agreed:
        from wearplan.take.keep.writing import write as write_all

        with writing():
            written = write_all(proposal, folder)
        _keep(folder, taken)
    if args.json:
        write_json(_body(taken, proposal, written, site))
    elif written:
        write(
            "\n".join(
                [
                    "",
                    "written:",
                    *written,
                    f"This take is {proposal.take_id}; `wearplan take {folder} --withdraw "
                    f"{proposal.take_id} --reason ...` takes it back.",
                ]
            )
        )
    open_ones = [q for q in taken.questions]
    if open_ones and not args.json:
        say(
            f"{len(open_ones)} questions are open; what hangs on them was not taken. Answer them in "
            f"{args.mapping or folder / 'take.toml'}."
        )
    if not agreed and not proposal.empty and not args.json:
        say("Nothing was written. Answer y, or give --yes.")
    if not proposal.empty and not agreed:
        return Exit.NO
    return Exit.NO if open_ones else Exit.DONE


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
    where = question.example
    place = " ".join(str(where.get(key, "")) for key in ("file", "sheet", "cell") if where.get(key))
    say("", f"{question.sentence}", f"  {question.count} cells; {place}: {where.get('shown', '')}" if where else "")
    for number, choice in enumerate(question.choices, start=1):
        mark = "  (suggested)" if choice == question.suggested else ""
        say(f"  {number}  {choice}{mark}")
    hint = f" [{question.suggested}]" if question.suggested else ""
    try:
        text = input(f"answer{hint}, - to leave open: ").strip()
    except EOFError:
        return None
    if text == "-":
        return None
    if not text:
        text = question.suggested or ""
    if text.isdigit() and question.choices and 1 <= int(text) <= len(question.choices) and question.form == "choice":
        return question.choices[int(text) - 1]
    if question.form == "number":
        try:
            return float(text.replace(",", "."))
        except ValueError:
            return None
    return text or None


def _tables(taken: Taken) -> None:
    for found in taken.tables:
        name = found.file if found.sheet == found.file else f"{found.file}, {found.sheet}"
        write(
            f"{name} {found.range}: "
            f"{found.what}{f', {found.rows} rows' if found.rows and not found.what.startswith('readings, ') else ''}"
        )
        for column in found.columns:
            if "meaning" in column:
                cells = "; ".join(column["cells"])
                write(
                    f"    {column['head'][:34]:<34} {column['meaning'].replace('_', ' '):<22} "
                    f"{column['unit']:<6} {cells[:60]}"
                )


def _preview(taken: Taken, proposal: Proposal) -> None:
    from wearplan.report.words import plain

    if taken.answers.settled:
        write("\nUnderstood from the files:")
        for name, why in taken.answers.settled.items():
            write(f"  {plain(name)}: {plain(why)}")
    if taken.answers.used:
        write("\nAnswered:")
        for name, answer in taken.answers.used.items():
            write(f"  {plain(name)} = {plain(str(answer))}")
    for duty in ("asked", "refused", "taken", "left out"):
        told = [f for f in taken.findings if f.duty == duty]
        if told:
            write(f"\n{duty} ({len(told)}):")
            for finding in told[:200]:
                where = " ".join(part for part in (finding.file, finding.sheet, finding.cell) if part)
                write(plain(f"  {where}: {finding.shown!r} {finding.what}"))
    _preview_end(taken, proposal)


def _preview_end(taken: Taken, proposal: Proposal) -> None:
    from wearplan.report.words import plain

    if taken.questions:
        write(f"\nOpen questions ({len(taken.questions)}):")
        for question in taken.questions:
            write(plain(f"  {question.name}: {question.sentence} [{' | '.join(question.choices)}]"))
    write("\nWould be written:")
    counts = _counts(proposal)
    for name, count in counts.items():
        if count:
            write(f"  {count} {name.replace('_', ' ')}")
    for line in [*proposal.waits, *proposal.differs]:
        write(plain(f"  ? {line}"))


def _counts(proposal: Proposal) -> dict[str, int]:
    records = [*proposal.new, *(c.inspection for c in proposal.corrections)]
    readings = [m for i in records for m in i.measurements]
    fittings = [f for i in records for f in i.fittings]
    return {
        "files_of_a_new_folder": len(proposal.texts),
        "rings": len(proposal.rings),
        "stops": len(proposal.new),
        "corrections": len(proposal.corrections),
        "stops_as_on_record": proposal.same,
        "readings": sum(m.not_read is None for m in readings),
        "bounds": sum(m.wear_below_mm is not None or m.wear_above_mm is not None for m in readings),
        "reasons_for_not_reading": sum(m.not_read is not None for m in readings),
        "changes": len(fittings),
        "serials": len({s for f in fittings for s in (f.old_serial, f.new_serial) if s}),
    }


def _agreed() -> bool:
    try:
        return input("Write it? [y/N] ").strip().lower() in ("y", "yes")
    except EOFError:
        return False


def _keep(folder: Path, taken: Taken) -> None:
    """Keep the answers, and what next month's workbook alone could not tell: names of places, heights of new tools."""
    from wearplan.take.asking import answers_toml

    if taken.wheel.from_files and any(place.name != str(place.number) for place in taken.wheel.places):
        taken.answers.used["place numbers"] = {place.name: place.number for place in taken.wheel.places}
    for tool in taken.wheel.tools.values():
        if taken.wheel.from_files and tool.new_height_mm is not None:
            taken.answers.used[f"new height of {tool.code}"] = tool.new_height_mm

    (folder / "take.toml").write_text(answers_toml(taken.answers, taken.site_facts), encoding="utf-8", newline="\n")


def _body(taken: Taken, proposal: Proposal, written: list[str], site: Site | None) -> dict[str, Any]:
    from wearplan.report.bodies import envelope

    body = {
        "take": proposal.take_id,
        "files": [{"file": book.file, "sha256": book.sha256} for book in taken.books],
        "tables": taken.tables,
        "settled": taken.answers.settled,
        "answered": taken.answers.used,
        "questions": taken.questions,
        "cells": taken.findings,
        "would_write": _counts(proposal),
        "open_facts": [] if site else [name for name in FACTS if name not in taken.site_facts],
        "waits": proposal.waits,
        "differs": proposal.differs,
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
    if args.json:
        from wearplan.report.bodies import envelope

        write_json(
            envelope(site, {"withdrawn": args.withdraw, "written": [str(path) for path in paths]}, answer="take")
        )
    else:
        write("\n".join([*map(str, paths), "Ring rows stay in advance.csv; each names its file in its last column."]))
    return Exit.DONE
