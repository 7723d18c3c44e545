"""Take ring rows from a machine's export into advance.csv.

With --mapping, a small TOML file that says which column is what, in which unit; without it the file must have our own
column names, else a mapping is proposed on stdout, to be checked and given. A raw export (a row a second, one file or
several) is reduced to rings when the mapping has a [samples] table.
Running it twice adds nothing twice. Exit code 1: no row could be read.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import fault_lines, read_site, site_argument, writing
from wearplan.cli.streams import Progress, say, write


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    parser.add_argument("files", type=Path, nargs="+", metavar="FILE", help="the export, CSV or the like")
    parser.add_argument("--mapping", type=Path, metavar="TOML")
    parser.add_argument("--dry-run", action="store_true", help="read and report, write nothing")


def run(args: argparse.Namespace) -> int:
    from wearplan.site import append_rings
    from wearplan.site.ring_import import own_mapping, read_rings
    from wearplan.site.ring_mapping import read_mapping
    from wearplan.site.samples import read_samples

    site = read_site(args.site, "check")
    for file in args.files:
        if not file.is_file():
            raise Stopped(Exit.USAGE, f"{file} is no file")
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
    rows = [row for read in reads for row in read.rows]
    for read in reads:
        say(*fault_lines(read.faults), *read.remarks)
    if not rows:
        _propose(args)
        raise Stopped(Exit.NO, "no ring could be read; nothing was written")
    if args.dry_run:
        write(f"{len(rows)} rings read, {rows[0].ring} to {rows[-1].ring}; nothing written")
        return Exit.DONE
    with writing():
        appended = append_rings(args.site, rows)
    say(*appended.remarks)
    write(f"{appended.path}: {appended.added} rings added, {appended.already} were there already")
    return Exit.DONE


def _propose(args: argparse.Namespace) -> None:
    """A mapping for an export that came without one, as far as its heads tell."""
    from wearplan.site.ring_guess import propose_mapping

    proposed = None if args.mapping else propose_mapping(args.files[0])
    if proposed is not None:
        say("A mapping proposed from its heads stands on stdout: keep it in a file, check it, give it by --mapping.")
        write(proposed.rstrip())
