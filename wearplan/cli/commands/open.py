"""The terminal app: look at the wheel, log an inspection, decide on a stop, order tools."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from wearplan.cli.codes import Exit, Stopped


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("site", type=Path, nargs="?", metavar="SITE", help="the site folder; without it, recent sites")


def run(args: argparse.Namespace) -> int:
    if not (sys.stdin.isatty() and sys.stdout.isatty()) or os.environ.get("TERM") == "dumb":
        raise Stopped(
            Exit.USAGE,
            "the app needs a terminal; the commands give the same answers as text (wearplan --help)",
        )
    from wearplan.tui.app import run as run_app

    return run_app(args.site)
