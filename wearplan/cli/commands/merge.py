"""Take the new facts of another copy of this folder: a colleague's laptop, a stick, a shared drive.

Inspections, ring rows, sensor words, events and states of the ground that the other copy has and this one has not are
held against this folder like typed ones and written; what contradicts it is listed and left. Files that people write as
a whole (wheel.toml, stops.toml ...) are never touched: where they differ, that is said. Merging twice adds nothing.

Exit code 1: something contradicts, or nothing was agreed to.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.receipts import acknowledge, writing
from wearplan.cli.steps import agreed, json_argument, read_site, site_argument
from wearplan.cli.streams import say, write, write_json

if TYPE_CHECKING:
    from wearplan.gate.merging import Brought


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    parser.add_argument("other", type=Path, metavar="OTHER", help="the other copy of the folder; it is only read")
    json_argument(parser)
    parser.add_argument("--yes", action="store_true", help="write without asking")


def run(args: argparse.Namespace) -> int:
    from wearplan.gate.merging import brought
    from wearplan.report.bodies import envelope

    here, there = read_site(args.site, "check"), read_site(args.other, "check")
    try:
        found = brought(here, there, now=here.now())
    except ValueError as error:
        raise Stopped(Exit.USAGE, str(error)) from error
    counts = _counts(found)
    if not args.json:
        write("\n".join(_lines(found, counts)))
    yes = not found.empty and (args.yes or (not args.json and agreed()))
    if yes:
        with writing("What was written before stands; merging again goes on from there."):
            _write(args.site, found)
            acknowledge(f"written into {args.site}: {', '.join(counts)}", on_stderr=args.json)
    refused = [{"what": what, "finding": finding} for what, finding in found.refused]
    if args.json:
        body = {"new": counts, "written": yes, "contradicted": refused, "differs": found.differs}
        write_json(envelope(here, body, answer="merge"))
    if not found.empty and not yes:
        say("Nothing was written. Answer y, or give --yes.")
    return Exit.NO if refused or (not found.empty and not yes) else Exit.DONE


def _counts(found: Brought) -> list[str]:
    from wearplan.report.words import plural

    counted = (
        (len(found.inspections), "inspection"),
        (len(found.rings), "ring row"),
        (len(found.words), "sensor word"),
        (len(found.events), "event"),
        (len(found.grounds), "state of the ground"),
    )
    return [
        plural(count, one) if one != "state of the ground" else f"{count} of the ground"
        for count, one in counted
        if count
    ]


def _lines(found: Brought, counts: list[str]) -> list[str]:
    from wearplan.report.words import plain

    lines = [f"New in the other copy: {', '.join(counts)}." if counts else "The other copy has nothing new."]
    lines += [f"  {path.parent.name}/{path.name}" for path in (*found.inspections, *found.grounds)]
    lines += [f"contradicted: {plain(what)}: {finding.line}" for what, finding in found.refused]
    lines += [f"differs, left as it is: {name}" for name in found.differs]
    return lines


def _write(folder: Path, found: Brought) -> None:
    from wearplan.site import append_event, append_rings, append_sensor_word
    from wearplan.site.write.durable import create_once, make_folder, within

    if found.rings:
        append_rings(folder, found.rings)
    for path in (*found.grounds, *found.inspections):
        home = within(folder, path.parent.name, path.name)
        make_folder(home.parent)
        create_once(home, path.read_bytes())
    for word in found.words:
        append_sensor_word(folder, word)
    for event in found.events:
        append_event(folder, event)
