"""What each unit of ground costs each kind of tool, with bands and what they rest on."""

from __future__ import annotations

import argparse

from wearplan.cli.codes import Exit
from wearplan.cli.steps import learn, output_arguments, read_site, site_argument
from wearplan.cli.streams import Progress, write_json, write_tables


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    output_arguments(parser)
    parser.add_argument(
        "--types", action="store_true", help="types and batches compared: wear, cost of a metre, a fair trial"
    )


def run(args: argparse.Namespace) -> int:
    from wearplan.report.bodies import envelope, rates_body
    from wearplan.report.tables.compared import types_tables
    from wearplan.report.tables.wear import rates_tables

    site = read_site(args.site, "rates")
    progress = Progress()
    fit = learn(site, progress)
    progress.close()
    if args.json:
        write_json(envelope(site, rates_body(fit), answer="rates"))
    else:
        write_tables(types_tables(fit) if args.types else rates_tables(fit), csv=args.csv)
    return Exit.DONE
