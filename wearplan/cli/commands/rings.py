"""Take ring rows from a machine's export into advance.csv.

With --mapping, a small TOML file that says which column is what, in which unit; without it the file must have our own
column names. A raw export (a row a second) is reduced to rings when the mapping has a [samples] table.
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
    parser.add_argument("file", type=Path, metavar="FILE", help="the export, CSV or the like")
    parser.add_argument("--mapping", type=Path, metavar="TOML")
    parser.add_argument("--dry-run", action="store_true", help="read and report, write nothing")


def run(args: argparse.Namespace) -> int:
    from wearplan.site import append_rings
    from wearplan.site.ring_import import own_mapping, read_rings
    from wearplan.site.ring_mapping import read_mapping
    from wearplan.site.samples import read_samples

    site = read_site(args.site, "check")
    if not args.file.is_file():
        raise Stopped(Exit.USAGE, f"{args.file} is no file")
    mapping = own_mapping()
    if args.mapping:
        mapping, faults = read_mapping(args.mapping)
        if mapping is None:
            raise Stopped(Exit.USAGE, *fault_lines(faults))
    progress = Progress()
    progress("reading the export")
    read = (read_samples if mapping.samples else read_rings)(args.file, mapping, site.drive)
    progress.close()
    say(*fault_lines(read.faults), *read.remarks)
    if not read.rows:
        raise Stopped(Exit.NO, "no ring could be read; nothing was written")
    if args.dry_run:
        write(f"{len(read.rows)} rings read, {read.rows[0].ring} to {read.rows[-1].ring}; nothing written")
        return Exit.DONE
    with writing():
        appended = append_rings(args.site, read.rows)
    say(*appended.remarks)
    write(f"{appended.path}: {appended.added} rings added, {appended.already} were there already")
    return Exit.DONE
