"""Take ring rows from a machine's export into advance.csv.

With --mapping, a small TOML file that says which column is what, in which unit; without it the file must have the
heads of advance.csv, else a mapping is proposed on stdout: keep it in a file, check every line, and give it. Separator,
decimal sign and encoding are found by looking.

A mapping for a row a ring (our name = their head):

    [time]
    form = "%d.%m.%Y %H:%M:%S"     # without it: ISO 8601
    offset = "+01:00"

    [columns]
    ring = "Ring No."
    end_chainage_m = { head = "Chainage tail [m]", add = 9.5 }
                                   # chainages are the face's: 9.5 m ahead of
                                   # what this export gives; -9.5 where
                                   # chainage falls as the drive advances
    finished_at = "End of ring"
    revolutions_total = "Turns"    # or revolutions_boring
    revolutions_idle = "Turns idle"
    thrust_kn = "Thrust [MN]"      # a unit in brackets is understood, or:
    torque_knm = { head = "Torque", unit = "MNm" }

Also: start_chainage_m, advance_m, finished_on, revolutions_ccw, revolutions_ccw_share, rotation_rpm, boring_minutes,
idle_minutes, regime (their words in [regimes]), face_pressure_bar; further columns to keep in [extra]; [file] with
separator, decimal, encoding, header_line where looking fails.

A raw export, a row a second, in one file or several, is reduced to rings by [samples] in place of [columns]: time,
rotation_rpm, chainage_m or stroke_m, and ring, thrust_kn, torque_knm, face_pressure_bar where there are any.

Running it twice adds nothing twice. Exit code 1: no row could be read, or some contradict the ring log or each other:
those are listed and not written, the others are.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearplan.cli.at_the_gate import HOW, accepted, gate_arguments, refused_lines
from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.receipts import acknowledge, writing
from wearplan.cli.steps import fault_lines, json_argument, read_site, site_argument
from wearplan.cli.streams import Progress, say, write, write_json

if TYPE_CHECKING:
    from wearplan.gate import JudgedRing
    from wearplan.site.exports.rings import RingsRead
    from wearplan.site.records import RingRow, Site


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    parser.add_argument("files", type=Path, nargs="+", metavar="FILE", help="the export, CSV or the like")
    parser.add_argument("--mapping", type=Path, metavar="TOML")
    json_argument(parser)
    parser.add_argument("--dry-run", action="store_true", help="read and report, write nothing")
    gate_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from wearplan.site.exports.guess import propose_mapping

    site = read_site(args.site, "check")
    for file in args.files:
        if not file.is_file():
            raise Stopped(Exit.USAGE, f"{file} is no file")
        with file.open("rb") as start:
            if start.read(2) == b"PK":
                raise Stopped(Exit.USAGE, f"{file} is a workbook: `wearplan take {args.site} {file}` reads it")
    reads = _reads(args, site)
    rows = [row for read in reads for row in read.rows]
    proposed = None if rows or args.mapping else propose_mapping(args.files[0])
    for read in reads:
        if proposed is None:
            say(*fault_lines(read.faults))
        say(*read.remarks)
    if proposed is not None:
        _propose(args, site, proposed)
    if not rows:
        raise Stopped(Exit.NO, "no ring could be read; nothing was written")
    return _take_in(args, site, rows)


def _take_in(args: argparse.Namespace, site: Site, rows: list[RingRow]) -> int:
    """Write the rows nothing speaks against, list the others."""
    from wearplan.gate import contradicted, judge_rings
    from wearplan.report.bodies import envelope
    from wearplan.report.words import plural

    judged = judge_rings(site, rows, now=site.now())
    findings = [each for one in judged for each in one.findings]
    words = accepted(args, findings, args.by)
    refused = contradicted(findings, args.accept)
    sound = [one.row for one in judged if not contradicted(one.findings, args.accept)]
    found = {"read": len(rows), "first_ring": rows[0].ring, "last_ring": rows[-1].ring, "contradicted": refused}
    done = {"added": 0, "already": 0} if args.dry_run else _append(args, site, sound, judged, words)
    if args.json:
        write_json(envelope(site, {**found, **({} if args.dry_run else done)}, answer="rings"))
    elif args.dry_run:
        write(f"{plural(len(rows), 'ring')} read, {rows[0].ring} to {rows[-1].ring}; nothing written")
    if refused:
        count = plural(len(rows) - len(sound), "row")
        raise Stopped(Exit.NO, *refused_lines(refused), f"{count} not written; the others stand as told. {HOW}")
    return Exit.DONE


def _append(
    args: argparse.Namespace, site: Site, sound: list[RingRow], judged: tuple[JudgedRing, ...], words: str | None
) -> dict[str, Any]:
    """What was added; who accepted what, and why, goes into the events before the row itself."""
    from wearplan.gate import acceptance
    from wearplan.report.bodies import appended_body
    from wearplan.report.words import plural
    from wearplan.site import append_event, append_rings

    with writing():
        for one in judged if words else ():
            if any(each.name in args.accept for each in one.findings):
                append_event(args.site, acceptance(site, str(words), one.row, now=site.now()))
        appended = append_rings(args.site, sound)
        said = f"{plural(appended.added, 'ring')} added, {appended.already} there already"
        acknowledge(f"{appended.path}: {said}", on_stderr=args.json)
    if not args.json:
        say(*appended.remarks)
    return appended_body(appended)


def _reads(args: argparse.Namespace, site: Site) -> list[RingsRead]:
    """What the files hold, by the user's mapping or our own heads."""
    from wearplan.site.exports.mapping import read_mapping
    from wearplan.site.exports.rings import own_mapping, read_rings
    from wearplan.site.exports.samples import read_samples

    mapping = own_mapping()
    if args.mapping:
        told, faults = read_mapping(args.mapping)
        if told is None:
            raise Stopped(Exit.USAGE, *fault_lines(faults))
        mapping = told
    progress = Progress()
    progress("reading the export")
    if mapping.samples:
        ends = {row.ring: row.end_chainage_m for row in site.rings if row.end_chainage_m is not None}
        reads = [read_samples(args.files, mapping, site.drive, known_ends=ends)]
    else:
        reads = [read_rings(file, mapping, site.drive) for file in args.files]
    progress.close()
    return reads


def _propose(args: argparse.Namespace, site: Site, proposed: str) -> None:
    from wearplan.report.bodies import envelope

    say(
        f"{args.files[0]} has heads of its own. A mapping proposed from them stands on stdout: keep it in a file, "
        "check every line, give it by --mapping."
    )
    if args.json:
        write_json(envelope(site, {"proposed_mapping": proposed}, answer="rings"))
    else:
        write(proposed.rstrip())
