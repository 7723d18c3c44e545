"""Write a commented folder to start from.

What only the site can say is left open; `wearplan check` names each such line. With --from the office's own files fill
what they hold, as `wearplan take` does.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.receipts import acknowledge
from wearplan.cli.steps import json_argument
from wearplan.cli.streams import say, write, write_json


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="must not exist yet, or be empty")
    parser.add_argument("--places", type=int, default=1, metavar="N", help="so many [[position]] blocks to fill in")
    parser.add_argument(
        "--from", dest="files", type=Path, nargs="+", metavar="FILE", help="workbooks, CSV or AGS 4 to begin with"
    )
    parser.add_argument("--mapping", type=Path, metavar="TOML", help="with --from: answers, as for `wearplan take`")
    parser.add_argument("--yes", action="store_true", help="with --from: write without asking")
    parser.add_argument("--suggested", action="store_true", help="with --from: answer by what is suggested")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    from wearplan.site import new_folder

    if args.files:
        from wearplan.cli.commands.take import new_from

        return new_from(args.folder, args)
    if not 1 <= args.places <= 1000:
        raise Stopped(Exit.USAGE, "--places takes a number from 1 to 1000")
    try:
        written = new_folder(args.folder, places=args.places)
        acknowledge(f"written: {args.folder}", on_stderr=True)
    except FileExistsError as error:
        raise Stopped(Exit.USAGE, str(error)) from error
    except OSError as error:
        raise Stopped(Exit.NO, f"{args.folder} cannot be written: {error.strerror or error}") from error
    if args.json:
        from wearplan.report.bodies import envelope

        write_json(envelope(None, {"written": [str(path) for path in written]}, answer="new"))
    else:
        write("\n".join(map(str, written)))
    say(f"Next: fill in what only the site knows; `wearplan check {args.folder}` names each line.")
    return Exit.DONE
