"""The terminal app: look at the wheel, log an inspection, decide on a stop, order tools."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from wearplan.cli.codes import Exit, Stopped


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("site", type=Path, nargs="?", metavar="SITE", help="the site folder; without it, recent sites")
    parser.add_argument(
        "--browser", action="store_true", help="in a browser on this machine (the extra 'browser')"
    )
    parser.add_argument("--port", type=int, default=8017, metavar="N", help="with --browser: where it listens (8017)")


def run(args: argparse.Namespace) -> int:
    if args.browser:
        return _in_browser(args)
    served = "TEXTUAL_DRIVER" in os.environ  # the server of --browser is the terminal then
    bare = not (sys.stdin.isatty() and sys.stdout.isatty()) or os.environ.get("TERM") == "dumb"
    if bare and not served:
        raise Stopped(
            Exit.USAGE,
            "the app needs a terminal; the commands give the same answers as text (wearplan --help)",
        )
    from wearplan.tui.app import run as run_app

    return run_app(args.site)


def _in_browser(args: argparse.Namespace) -> int:
    from wearplan.tui.browser import NoBrowser, serve

    if not 1 <= args.port <= 65535:
        raise Stopped(Exit.USAGE, "--port is a number from 1 to 65535")
    try:
        serve(args.site, args.port)
    except NoBrowser as missing:
        raise Stopped(Exit.USAGE, str(missing)) from missing
    except OSError as error:
        raise Stopped(Exit.NO, f"port {args.port} cannot be used ({error.strerror}): give another --port") from error
    return Exit.DONE
