"""The rates of this drive as `expected_rate` lines for the ground file of the next one, the source named."""

from __future__ import annotations

import argparse

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import json_argument, learn, read_site, site_argument
from wearplan.cli.streams import Progress, write, write_json


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    from wearplan.demand import expected_rates
    from wearplan.report.bodies import envelope

    site = read_site(args.site, "rates")
    progress = Progress()
    fit = learn(site, progress)
    progress.close()
    text = expected_rates(site, fit)
    if "expected_rate" not in text:
        raise Stopped(Exit.NO, "No unit has readings yet, so there is nothing to carry over.")
    if args.json:
        write_json(envelope(site, {"toml": text}, answer="carry"))
    else:
        write(text)
    return Exit.DONE
