"""The sheet to take into the chamber: places in walking order, last reading and limit, empty boxes.

Blind unless --expected is given: an expected value beside the box would steer the reading.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import json_argument, learn, look_ahead, read_site, site_argument
from wearplan.cli.streams import Progress, say, write, write_json
from wearplan.site.write.outputs import write_output

FORMATS = ("csv", "md", "html")


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    parser.add_argument("--format", choices=FORMATS, help="without it, as FILE's name ends, else csv")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="without it, to stdout")
    json_argument(parser)
    parser.add_argument("--order", choices=("arm", "radius"), default="arm", help="walking order")
    parser.add_argument("--place", type=int, action="append", default=[], help="only this place (may be repeated)")
    parser.add_argument("--expected", action="store_true", help="add expected wear (it steers the reading)")


def run(args: argparse.Namespace) -> int:
    from wearplan import history
    from wearplan.report.bodies import envelope
    from wearplan.report.paper.chamber import CARE, sheet_csv, sheet_html, sheet_markdown, sheet_rows
    from wearplan.report.words import plural

    site = read_site(args.site, "outlook" if args.expected else "check")
    outlook = None
    if args.expected:
        progress = Progress()
        outlook = look_ahead(site, learn(site, progress), progress)
        progress.close()
    face_m = history.face_m(site)
    current = history.current_lives(history.lives(site))
    rows = sheet_rows(site, current, face_m=face_m, order=args.order, outlook=outlook, only=args.place)
    if not rows:
        raise Stopped(Exit.NO, "no such place is on the wheel now")
    if args.json:
        write_json(envelope(site, {"order": args.order, "places": rows, "caution": CARE}, answer="sheet"))
        if args.output is None:
            return Exit.DONE
    end = args.output.suffix.lstrip(".").casefold() if args.output else ""
    form = args.format or (end if end in FORMATS else "csv")
    if form == "csv":
        text = sheet_csv(rows)
    else:
        text = sheet_markdown(site, rows) if form == "md" else sheet_html(site, rows)
    if args.output is None:
        write(text)
        return Exit.DONE
    try:
        write_output(args.output, text)
    except OSError as error:
        raise Stopped(Exit.NO, f"{args.output} cannot be written: {error.strerror or error}") from error
    say(f"wrote {args.output}: {plural(len(rows), 'place')}")
    return Exit.DONE
