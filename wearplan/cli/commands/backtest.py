"""How outlooks made at each past stop did against the readings that followed, beside simple rules."""

from __future__ import annotations

import argparse

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import output_arguments, read_site, site_argument
from wearplan.cli.streams import Progress, write_json, write_tables


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    output_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from wearplan import wear
    from wearplan.report.bodies import backtest_body, envelope
    from wearplan.report.tables.wear import backtest_table

    site = read_site(args.site, "backtest")
    progress = Progress()
    result = wear.backtest(site, progress=progress)
    progress.close()
    if not result.methods:
        raise Stopped(Exit.NO, "No tool was read at two stops yet, so no outlook can be scored.")
    if args.json:
        write_json(envelope(site, backtest_body(result), answer="backtest"))
    else:
        write_tables([backtest_table(result)], csv=args.csv)
    return Exit.DONE
