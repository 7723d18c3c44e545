"""Wear now, and where each tool reaches its limit.

With --at also the wear and the chance over the limit at a chainage, if nothing is changed before.
"""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import driven_at, learn, look_ahead, output_arguments, read_site, site_argument
from wearplan.cli.streams import Progress, width, write, write_json, write_tables

if TYPE_CHECKING:
    from wearplan.wear import Outlook


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    output_arguments(parser)
    parser.add_argument("--at", metavar="CHAINAGE", help="a chainage ahead, such as 2345.6 or 2+345.6")
    parser.add_argument("--place", type=int, action="append", default=[], help="only this place (may be repeated)")
    parser.add_argument("--ground", type=float, default=1.0, metavar="FACTOR", help="all rates times this factor")
    parser.add_argument("--fan", action="store_true", help="with --place: a chart of wear ahead")


def run(args: argparse.Namespace) -> int:
    from wearplan.report.bodies import envelope, outlook_body
    from wearplan.report.tables.wear import outlook_table

    site = read_site(args.site, "outlook")
    at_m = driven_at(site, args.at) if args.at else None
    progress = Progress()
    outlook = look_ahead(site, learn(site, progress), progress, ground_factor=args.ground)
    progress.close()
    if at_m is not None and at_m < outlook.face_m:
        raise Stopped(Exit.USAGE, f"{args.at} lies behind the face; --at takes a chainage ahead of it")
    unknown = [number for number in args.place if number not in outlook.numbers]
    if unknown:
        raise Stopped(Exit.USAGE, f"there is no place {unknown[0]} on the wheel now")
    if args.json:
        write_json(envelope(site, outlook_body(outlook, at_m), answer="outlook"))
        return Exit.DONE
    write_tables([outlook_table(outlook, at_m=at_m, positions=tuple(args.place))], csv=args.csv)
    if args.fan:
        for number in args.place:
            write("\n".join(["", f"Wear ahead at place {number}, mm, if its tool is left", *_fan(outlook, number)]))
    return Exit.DONE


def _fan(outlook: Outlook, number: int) -> list[str]:
    from wearplan.report.drawing.fan import fan_key, fan_sheet, tool_fan
    from wearplan.report.drawing.sheet import must_be_plain
    from wearplan.report.words import chainage_text

    column, bare = outlook.layout.index(number), must_be_plain(getattr(sys.stdout, "encoding", None))
    fan = tool_fan(
        outlook.wear_mm[:, column, :], at_m=outlook.grid_m, limit=float(outlook.limit_mm[column]),
        damage=float(outlook.damage_limit_mm[column]),
    )  # fmt: skip
    sheet = fan_sheet(
        fan, width=min(width(), 100), height=16, plain=bare,
        x_text=lambda driven_m: chainage_text(outlook.site.drive.chainage_m(driven_m)),
    )  # fmt: skip
    return [*sheet.lines(), "".join(text for text, _ in fan_key(plain=bare))]
