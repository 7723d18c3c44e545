"""Every drive in one table, and what needs a person first: face, pace, next stop, tools due, entries, orders, changes.

A folder that is broken, slow or away has its line with the reason and stops no other. Answers are kept by what they
came from, the day and the version, so that a second run works out only what changed. With --rates the drives' wear
rates are pooled, the spread between drives estimated; units of different drives are joined by their abrasivity tests or
by the mapping in --classes, never by name alone:

    [classes]
    "sandy gravel" = ["North drive: GC", "Second tube: G1"]

With --shared each drive is fitted anew from what the others learnt, which takes the place of its expected_rate there.

Exit code 1: at least one drive has no answer; its line says why.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import output_arguments
from wearplan.cli.streams import Progress, say, write, write_json, write_tables
from wearplan.site.write.outputs import write_output

if TYPE_CHECKING:
    from wearplan.demand import Demand
    from wearplan.fleet.rates import FleetRates
    from wearplan.fleet.records import Fleet
    from wearplan.fleet.types import FleetTypes


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folders", type=Path, nargs="+", metavar="FOLDER", help="the site folders")
    output_arguments(parser)
    parser.add_argument(
        "--rates", action="store_true", help="pool wear rates over drives; compare types of tools"
    )
    parser.add_argument("--classes", type=Path, metavar="TOML", help="which units are one class of ground")
    parser.add_argument("--shared", action="store_true", help="each drive starts from what the others learnt")
    parser.add_argument("--store", action="store_true", help="one store over all drives: its orders and shortages")
    parser.add_argument("--since", type=_day, metavar="DATE", help="tell what changed since; a week ago by default")
    parser.add_argument("--on", type=_day, metavar="DATE", help="the day to reckon from; today by default")
    parser.add_argument(
        "--jobs", type=int, default=-1, metavar="N", help="processes on this machine; all cores by default"
    )
    parser.add_argument(
        "--patience", type=float, default=30.0, metavar="MINUTES", help="give up a site that takes longer; 30"
    )
    parser.add_argument("--scheduler", metavar="ADDRESS", help="a dask scheduler, tcp://host:port (extra: fleet)")
    parser.add_argument("--afresh", action="store_true", help="work everything out, whatever was kept")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="write a page, .html, as well")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"'{text}' is no day: write it as 2026-11-25") from None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Found:
    """What was asked for."""

    fleet: Fleet
    rates: FleetRates | None
    types: FleetTypes | None
    store: Demand | None


def run(args: argparse.Namespace) -> int:
    from wearplan.fleet.fleet import SameFolder
    from wearplan.fleet.run import NoScheduler
    from wearplan.report.words import plain

    if args.jobs == 0 or args.jobs < -1:
        raise Stopped(Exit.USAGE, "--jobs takes a number of processes, from 1 on")
    if not args.patience > 0:
        raise Stopped(Exit.USAGE, "--patience takes minutes above 0")
    progress = Progress()
    try:
        found = _found(args, progress)
    except (SameFolder, NoScheduler, ValueError) as error:
        raise Stopped(Exit.USAGE, str(error)) from error
    finally:
        progress.close()
    lines = found.fleet.lines
    if found.store:
        say(*(f"{plain(line.name)} is not in the store's count: {line.state}" for line in lines if not line.use))
    if found.fleet.kept:
        say(f"{found.fleet.kept} of {len(lines)} lines are those of an earlier run of the same inputs.")
    _written(args, found)
    _shown(args, found)
    return Exit.DONE if all(line.state == "answered" for line in lines) else Exit.NO


def _found(args: argparse.Namespace, progress: Progress) -> _Found:
    from wearplan.fleet.classes import read_mapping
    from wearplan.fleet.fleet import fleet_of
    from wearplan.fleet.kept import Kept
    from wearplan.fleet.rates import beliefs_of, fleet_rates
    from wearplan.fleet.records import Asked
    from wearplan.fleet.run import Means
    from wearplan.fleet.store import NoStore, store_of
    from wearplan.fleet.types import fleet_types

    day = args.on or date.today()
    asked = Asked(day=day, since=args.since or day - timedelta(days=7), use=args.store)
    mapping = read_mapping(args.classes) if args.classes else None
    ways: Any = {
        "means": Means(jobs=args.jobs, scheduler=args.scheduler, patience_s=60.0 * args.patience),
        "kept": None if args.afresh else Kept(),
        "progress": progress,
    }
    beliefs: Any = ()
    if args.shared:
        learnt = fleet_of(args.folders, replace(asked, plan=False, use=False), **ways)
        beliefs = beliefs_of(learnt.lines, mapping)
    fleet = fleet_of(args.folders, asked, beliefs=beliefs, **ways)
    store = None
    if args.store:
        try:
            store = store_of(fleet.lines, day)
        except NoStore as error:  # the drives have their lines all the same
            say(f"No store was counted: {error}")
    return _Found(
        fleet=fleet,
        rates=fleet_rates(fleet.lines, mapping) if args.rates else None,
        types=fleet_types(fleet.lines) if args.rates else None,
        store=store,
    )


def _written(args: argparse.Namespace, found: _Found) -> None:
    from wearplan.report.paper.fleet import fleet_html

    if args.output is None:
        return
    try:
        write_output(args.output, fleet_html(found.fleet, found.rates, found.types))
    except OSError as error:
        raise Stopped(Exit.NO, f"{args.output} cannot be written: {error.strerror or error}") from error
    say(f"written: {args.output}")


def _shown(args: argparse.Namespace, found: _Found) -> None:
    from wearplan.report.bodies import envelope, fleet_body
    from wearplan.report.tables.demand import demand_tables
    from wearplan.report.tables.fleet import fleet_rates_tables, fleet_table, fleet_types_table
    from wearplan.report.words import plain

    if args.json:
        body = fleet_body(found.fleet, found.rates, found.types, found.store)
        write_json(envelope(None, body, answer="fleet"))
        return
    write_tables([fleet_table(found.fleet)], csv=args.csv)
    if not args.csv:
        pressing = found.fleet.first or (
            "Nothing was found that presses; what was not looked at is not fine for that.",
        )
        write("\n".join(["", "What needs a person first", "", *map(plain, pressing), ""]))
    if found.rates:
        write_tables(fleet_rates_tables(found.rates), csv=args.csv)
    if found.types and (found.types.types or found.types.remarks):
        write_tables([fleet_types_table(found.types)], csv=args.csv)
    if found.store:
        orders, *others = demand_tables(found.store)
        write_tables([orders, *(table for table in others if table.rows)], csv=args.csv)
