"""Record an inspection from a filled sheet: what would be written, which readings look wrong, then the question.

The facts of the stop stand in rows above the sheet's header (ring,262) or are given here. An empty box means not read.
With --corrects the new record replaces an earlier one; the earlier one stays in the folder. With --undo a record is
taken back by a further one: what it corrected holds again, or for an original nothing of that stop. What the folder
contradicts (a ring of another month, a serial standing elsewhere) is not written by --yes: each must be accepted by its
name, with who and why. Exit code 1: nothing was written.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from wearplan.cli.at_the_gate import HOW, accepted, gate_arguments, refused_lines
from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.receipts import acknowledge, writing
from wearplan.cli.steps import DRAWS, agreed, fault_lines, json_argument, read_site, site_argument
from wearplan.cli.streams import Progress, say, write, write_json

if TYPE_CHECKING:
    from wearplan.gate import Finding
    from wearplan.report.preview import Odd
    from wearplan.site.records import Inspection, Site
    from wearplan.wear import Outlook

HEAD = {
    "ring": "N", "at": "CHAINAGE", "started": "TIME", "ended": "TIME", "mode": "MODE", "pressure": "BAR",
    "entries": "N", "person-hours": "H", "method": "GAUGE", "measured-by": "NAME", "entered-by": "NAME",
}  # fmt: skip


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    parser.add_argument("file", type=Path, nargs="?", metavar="FILE", help="the filled sheet, CSV or Markdown")
    for name, what in HEAD.items():
        parser.add_argument(f"--{name}", metavar=what)
    json_argument(parser)
    parser.add_argument("--yes", action="store_true", help="write without asking")
    gate_arguments(parser)
    parser.add_argument("--corrects", metavar="ID", help="this record replaces that inspection")
    parser.add_argument("--undo", metavar="ID", help="take that correction back")
    parser.add_argument("--reason", metavar="TEXT", help="with --corrects or --undo: why")
    parser.add_argument("--no-bands", action="store_true", help="do not hold readings against the outlook")


def run(args: argparse.Namespace) -> int:
    from wearplan.gate import contradicted
    from wearplan.report.bodies import envelope
    from wearplan.report.preview import before_writing, written
    from wearplan.site.write.record_toml import same_record

    site = read_site(args.site, "check")
    if args.undo:
        return _undo(args, site)
    site = _with_clock(args, site)
    inspection = replace(_proposed(args, site), corrects=args.corrects)
    there = same_record(site, inspection)
    if there is not None:
        return _stands_already(args, site, there)
    inspection, findings = _at_the_gate(args, site, inspection)
    refused = contradicted(findings, args.accept)
    before = None if args.no_bands or site.forbidding("outlook") else _outlook(site)
    odd = _odd(site, inspection, before)
    if not args.json:
        _preview(site, inspection, odd, held=before is not None)
        for each in findings:
            if each not in refused:
                write(f"  ? {each.line}")
    yes = not refused and (args.yes or (not args.json and agreed()))
    path, meaning = None, []
    if yes:
        with writing():
            path = _write(args, inspection)
            acknowledge(f"written: {path}", on_stderr=args.json)
        meaning = _meaning(args.site, before)
    if args.json:
        body = {"written": path and str(path), "id": inspection.id, "what": written(site, inspection), "odd": odd}
        judged = {"contradicted": refused, "findings": findings, "meaning": meaning}
        body |= {"remarks": before_writing(site, inspection)}
        write_json(envelope(site, {**body, **judged}, answer="log"))
    if refused:
        raise Stopped(
            Exit.NO,
            *refused_lines(refused),
            f"Nothing was written. {HOW}",
        )
    if path is None:
        raise Stopped(Exit.NO, "Nothing was written. Answer y, or give --yes.")
    if not args.json:
        write("\n".join(meaning))
    return Exit.DONE


def _odd(site: Site, inspection: Inspection, before: Outlook | None) -> tuple[Odd, ...]:
    """Readings to look at again; a correction is judged without the record it replaces, as far as that stop."""
    from wearplan import history
    from wearplan.gate import as_before
    from wearplan.report.preview import odd_readings

    old = next((each for each in (*site.inspections, *site.corrected) if each.id == inspection.corrects), None)
    base = as_before(site, old) if old is not None else site
    held = _outlook(base) if old is not None and before is not None else before
    return odd_readings(site, inspection, history.current_lives(history.lives(base)), held)


def _with_clock(args: argparse.Namespace, site: Site) -> Site:
    """The site's own clock, asked once and kept: over ssh this computer's may be another one."""
    from wearplan.site.write.edits import keep_time_zone

    if site.time_zone is not None or args.json or args.yes or not sys.stdin.isatty():
        return site
    here = f"{site.now():%z}"
    try:
        said = input(f"The site's clock, kept in site.toml (such as +01:00; Enter: this computer's, {here}): ")
    except EOFError:
        return site
    said = said.strip()
    if not said:
        return site
    try:
        with writing():
            keep_time_zone(args.site, said)
    except ValueError as error:
        raise Stopped(Exit.USAGE, f"'{said}' {error}") from error
    return replace(site, time_zone=said)


def _stands_already(args: argparse.Namespace, site: Site, there: Inspection) -> int:
    """The very same record is in the folder: nothing is written, and that is no failure."""
    from wearplan.report.bodies import envelope

    said = f"this very record stands in the folder already, as {there.id}; nothing was written"
    if args.json:
        write_json(envelope(site, {"written": False, "id": there.id, "said": said}, answer="log"))
    else:
        write(said[:1].upper() + said[1:] + ".")
    return Exit.DONE


def _at_the_gate(
    args: argparse.Namespace, site: Site, inspection: Inspection
) -> tuple[Inspection, tuple[Finding, ...]]:
    """The record as it would be written, with what was accepted in its note, and what speaks against it."""
    from wearplan.gate import judge, with_words

    findings = judge(site, inspection, now=site.now())
    words = accepted(args, findings, args.by or inspection.entered_by)
    return with_words(inspection, words), findings


def _undo(args: argparse.Namespace, site: Site) -> int:
    """Take a record back: what it corrected holds again, or for an original nothing."""
    from wearplan.gate import contradicted, judge, undone
    from wearplan.report.bodies import envelope
    from wearplan.site import undo_correction

    if not args.reason:
        raise Stopped(Exit.USAGE, "--undo needs --reason TEXT")
    again = undone(site, args.undo)
    findings = judge(site, again, now=site.now()) if again is not None else ()
    words, refused = accepted(args, findings, args.by), contradicted(findings, args.accept)
    if refused and args.json:
        write_json(envelope(site, {"written": None, "contradicted": refused}, answer="log"))
    if refused:
        raise Stopped(Exit.NO, *refused_lines(refused), f"Nothing was written. {HOW}")
    with writing():
        path = undo_correction(args.site, args.undo, args.reason, now=site.now(), note=words)
        acknowledge(f"written: {path}", on_stderr=args.json)
    if args.json:
        write_json(envelope(None, {"written": str(path)}, answer="log"))
    return Exit.DONE


def _proposed(args: argparse.Namespace, site: Site) -> Inspection:
    from wearplan.site.sheets.filled import read_filled_sheet

    if args.file is None:
        raise Stopped(Exit.USAGE, "give the filled sheet, or --undo ID")
    if bool(args.corrects) != bool(args.reason):
        raise Stopped(Exit.USAGE, "--corrects ID and --reason TEXT go together")
    given = {"chainage_m" if name == "at" else name: getattr(args, name.replace("-", "_")) for name in HEAD}
    head = {key: value for key, value in given.items() if value is not None}
    filled = read_filled_sheet(args.file, site, head=head, now=site.now())
    say(*filled.remarks)
    if filled.faults or filled.inspection is None:
        raise Stopped(Exit.NO, *fault_lines(filled.faults, most=100), "Nothing was written.")
    return filled.inspection


def _outlook(site: Site) -> Outlook:
    from wearplan import wear

    progress = Progress()
    progress("learning wear rates")
    outlook = wear.look_ahead(site, wear.learn(site, progress=progress), draws=DRAWS)
    progress.close()
    return outlook


def _preview(site: Site, inspection: Inspection, odd: Sequence[Odd], *, held: bool) -> None:
    from wearplan.report.preview import before_writing, written
    from wearplan.report.words import chainage_text

    write(f"Inspection at ring {inspection.ring}, {chainage_text(inspection.chainage_m)}, {inspection.mode}:")
    for line in written(site, inspection):
        write(f"  {line}")
    for line in before_writing(site, inspection):
        write(f"  ? {line}")
    for entry in odd:
        write(f"  ? place {entry.position}: {entry.what}")
    if not odd:
        write("  No reading looks odd." if held else "  No reading looks odd (not held against the outlook).")


def _write(args: argparse.Namespace, inspection: Inspection) -> Path:
    from wearplan.site import correct_inspection, write_inspection

    if args.corrects:
        return correct_inspection(args.site, args.corrects, inspection, args.reason)
    return write_inspection(args.site, inspection)


def _meaning(folder: Path, before: Outlook | None) -> list[str]:
    """What the new record means at once; the record stands whatever comes of this."""
    from wearplan.history import current_lives, lives
    from wearplan.report.preview import what_it_means
    from wearplan.report.trouble import trouble_lines
    from wearplan.site import load

    site = load(folder).site
    if site is None:
        return []
    current = current_lives(lives(site))
    if before is None or site.forbidding("outlook"):
        return trouble_lines(current)
    return what_it_means(site, before, _outlook(site), current)
