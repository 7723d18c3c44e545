"""The story of one tool by its serial, or of one place by its number, with every record it rests on."""

from __future__ import annotations

import argparse

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import output_arguments, read_site, site_argument
from wearplan.cli.streams import write, write_json, write_tables


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    parser.add_argument("what", metavar="SERIAL|PLACE", help="a serial such as D-0188, or the number of a place")
    parser.add_argument("--serial", action="store_true", help="take a number as a serial, not as a place")
    output_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from wearplan.history import tell_life
    from wearplan.report.bodies import envelope
    from wearplan.report.tables.life import life_body, life_tables

    site = read_site(args.site, "rates")
    place = int(args.what) if args.what.isdecimal() and not args.serial else None
    try:
        account = tell_life(site, position=place) if place is not None else tell_life(site, serial=args.what)
    except LookupError as error:
        raise Stopped(Exit.NO, f"{error.args[0]}.") from error
    if args.json:
        write_json(envelope(site, life_body(account), answer="life"))
        return Exit.DONE
    if not args.csv:
        write(f"{account.title}\n")
    write_tables(life_tables(account), csv=args.csv)
    return Exit.DONE
