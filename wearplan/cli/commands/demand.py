"""Tools needed by month and stop, the chance of running short, and what to order by when.

Several SITE folders are taken as drives that draw on one store.
Exit code 4: a drive has no plan that keeps the rules, so nothing can be foretold.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import learn, look_ahead, output_arguments, propose, read_site
from wearplan.cli.streams import Progress, write_json, write_tables


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("site", type=Path, nargs="+", metavar="SITE", help="the site folder, or several on one store")
    output_arguments(parser)
    parser.add_argument("--pace", type=float, default=1.0, metavar="FACTOR", help="the pace times this factor")
    parser.add_argument("--look-back", action="store_true", help="what past stops would have ordered, against use")
    parser.add_argument("--since", type=Path, metavar="FILE", help="an earlier `demand --json`: say why orders moved")


def run(args: argparse.Namespace) -> int:
    from dataclasses import replace

    from wearplan.demand import demand_of, why_moved
    from wearplan.plan import Wishes
    from wearplan.report.bodies import demand_body, envelope
    from wearplan.report.tables.demand import demand_tables

    if args.pace <= 0:
        raise Stopped(Exit.USAGE, "--pace takes a factor above 0, such as 1.25")
    if args.look_back:
        return _look_back(args)
    before = _earlier(args.since) if args.since else None
    progress = Progress()
    drives = []
    for folder in args.site:
        site = read_site(folder, "demand")
        outlook = look_ahead(site, learn(site, progress), progress)
        plan = propose(site, outlook, progress, Wishes(deferral=False, tradeoff=False, comparison=False))
        drives.append((site, outlook, plan))
    progress("playing the plan on the draws")
    try:
        demand = demand_of(drives, pace=args.pace)
    except ValueError as error:
        raise Stopped(Exit.NO_PLAN, str(error), "`wearplan plan` says what clashes.") from error
    if before:
        demand = replace(demand, moved=why_moved(demand, before))
    progress.close()
    if args.json:
        write_json(envelope(drives[0][0], demand_body(demand), answer="demand"))
    else:
        orders, *others = demand_tables(demand)  # that nothing is to be ordered is an answer too
        write_tables([orders, *(table for table in others if table.rows)], csv=args.csv)
    return Exit.DONE


def _look_back(args: argparse.Namespace) -> int:
    from wearplan.demand import demand_in_hindsight
    from wearplan.report.bodies import envelope
    from wearplan.report.tables.look_back import hindsight_table

    if len(args.site) > 1:
        raise Stopped(Exit.USAGE, "--look-back takes one SITE")
    site = read_site(args.site[0], "demand")
    progress = Progress()
    past = demand_in_hindsight(site, progress=progress)
    progress.close()
    if not past:
        raise Stopped(Exit.NO, "No past stop has a plan to look back on.")
    if args.json:
        write_json(envelope(site, {"past": past}, answer="demand"))
    else:
        write_tables([hindsight_table(past)], csv=args.csv)
    return Exit.DONE


def _earlier(path: Path) -> dict[str, Any]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
        if not isinstance(found, dict) or found.get("answer") != "demand":
            raise ValueError("not the output of `wearplan demand --json`")
    except (OSError, ValueError) as error:
        why = error.strerror if isinstance(error, OSError) else error
        raise Stopped(Exit.USAGE, f"{path}: cannot be used: {why}") from error
    return found
