"""What was learnt, as `expected_rate` lines for the ground file of the next drive, the source named.

With one SITE: its own rates, with a doubt for what differs between drives that is taken, not measured. With several:
their rates pooled, the spread between drives estimated from them. Units of different drives are joined by their
abrasivity tests or by the mapping in --classes (see `wearplan fleet --help`), never by name alone.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import json_argument, learn, read_site
from wearplan.cli.streams import Progress, say, write, write_json


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("sites", type=Path, nargs="+", metavar="SITE", help="the site folder, or several")
    parser.add_argument("--classes", type=Path, metavar="TOML", help="which units are one class of ground")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    if len(args.sites) > 1:
        return _of_several(args)
    from wearplan.demand import expected_rates
    from wearplan.report.bodies import envelope

    site = read_site(args.sites[0], "rates")
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


def _of_several(args: argparse.Namespace) -> int:
    from datetime import date

    from wearplan.fleet.carry import expected_rates_of
    from wearplan.fleet.classes import BadMapping, read_mapping
    from wearplan.fleet.fleet import SameFolder, fleet_of
    from wearplan.fleet.kept import Kept
    from wearplan.fleet.rates import fleet_rates
    from wearplan.fleet.records import Asked
    from wearplan.report.bodies import envelope
    from wearplan.report.words import plain

    progress = Progress()
    try:
        mapping = read_mapping(args.classes) if args.classes else None
        # rates do not depend on the day
        asked = Asked(day=date(2000, 1, 1), since=date(2000, 1, 1), plan=False)
        fleet = fleet_of(args.sites, asked, kept=Kept(), progress=progress)
    except (BadMapping, SameFolder) as error:
        raise Stopped(Exit.USAGE, str(error)) from error
    finally:
        progress.close()
    left_out = [line for line in fleet.lines if not line.rates]
    say(*(plain(f"{line.name} is left out: {line.why or 'nothing was learnt yet'}") for line in left_out))
    rates = fleet_rates(fleet.lines, mapping)
    say(*map(plain, (*fleet.remarks, *rates.remarks)))
    if not rates.following:
        raise Stopped(Exit.NO, "No unit has readings yet, so there is nothing to carry over.")
    text = expected_rates_of(rates, fleet.lines)
    if args.json:
        write_json(envelope(None, {"toml": text, "next_drive": rates.following}, answer="carry"))
    else:
        write(text)
    return Exit.DONE
