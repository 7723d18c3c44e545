"""Read a site folder and list its faults, each with its place and the way out.

Then pressures to be asked about, and how the log of rings is read.

Exit code 0: nothing wrong, or only faults that forbid no answer. 3: a fault forbids an answer.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wearplan.cli.codes import Exit
from wearplan.cli.steps import output_arguments, site_argument
from wearplan.cli.streams import write, write_json, write_tables

if TYPE_CHECKING:
    from wearplan.site.records import Site

MOST_REMARKS = 20


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    output_arguments(parser)
    parser.add_argument("--all", action="store_true", help="every fault, not only the first 200, and every remark")


def run(args: argparse.Namespace) -> int:
    from wearplan.report.bodies import envelope, faults_body
    from wearplan.report.tables.wear import faults_table
    from wearplan.report.words import plain, plural
    from wearplan.site import load

    loaded = load(args.site)
    faults, remarks = loaded.faults, (*pressure_remarks(loaded.site), *ring_remarks(loaded.site))
    told = remarks if args.all else remarks[:MOST_REMARKS]
    if args.json:
        write_json(envelope(loaded.site, faults_body(faults, told, len(remarks)), answer="check"))
    elif args.csv:
        write_tables([faults_table(faults)], csv=True)
    else:
        shown = faults if args.all else faults[:200]
        for fault in shown:
            tail = f" (forbids {', '.join(fault.forbids)})" if fault.forbids else ""
            write(plain(f"{fault}{tail}"))
        if len(shown) < len(faults):
            write(f"... and {len(faults) - len(shown)} more (--all)")
        for remark in told:
            write(plain(f"remark: {remark}"))
        if len(told) < len(remarks):
            write(f"... and {plural(len(remarks) - len(told), 'more remark')} (--all)")
        write(_summary(loaded.site, faults, plural))
    forbids = loaded.site is None or any(fault.forbids for fault in faults)
    return Exit.FAULTS if forbids else Exit.DONE


def pressure_remarks(site: Site | None) -> tuple[str, ...]:
    """Windows whose recorded pressure and the water head there are far apart: to be asked about."""
    if site is None:
        return ()
    from wearplan.ground.water import doubts

    told = []
    for each in doubts(site):
        at = each.window.origin
        told.append(f"{at.file}:{at.line}: {each.sentence}" if at.file else each.sentence)
    return tuple(told)


def ring_remarks(site: Site | None) -> tuple[str, ...]:
    """What of the log of rings is not taken as written, and what stands in for it: no faults, but to be known."""
    if site is None or not site.rings or not site.grounds:
        return ()
    from wearplan import history

    return history.clean_rings(site).notes


def _summary(site, faults, plural) -> str:  # type: ignore[no-untyped-def]
    if site is None:
        return f"{plural(len(faults), 'fault')}; no site can be made of this folder."
    read = (
        f"{site.name}: {plural(len(site.wheel.positions), 'place')}, {plural(len(site.rings), 'ring row')}, "
        f"{plural(len(site.inspections), 'inspection')}"
    )
    bad = sum(1 for fault in faults if fault.forbids)
    if not faults:
        return f"{read}. No faults found."
    if len(faults) == 1:
        return f"{read}. 1 fault, which forbids {'an' if bad else 'no'} answer."
    return f"{read}. {len(faults)} faults, {bad or 'none'} of them forbidding an answer."
