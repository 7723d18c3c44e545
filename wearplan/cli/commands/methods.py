"""How the numbers are worked out: formulas with units and sources, worked examples, and what is not modelled.

Without a name it lists the pages; with one it shows that page. The start of a name is enough.
"""

from __future__ import annotations

import argparse

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import json_argument
from wearplan.cli.streams import write, write_json


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("page", nargs="?", metavar="PAGE", help="name of a page, or its start; all: every page")
    json_argument(parser)


def run(args: argparse.Namespace) -> int:
    from wearplan import methods

    every = methods.pages()
    if args.page is None:
        chosen = every
    else:
        chosen = tuple(page for page in every if args.page == "all" or page.name.startswith(args.page))
    if not chosen:
        raise Stopped(Exit.USAGE, f"there is no page {args.page}; there are {', '.join(methods.NAMES)}")
    if args.json:
        from wearplan.report.bodies import envelope

        told = [{"name": page.name, "title": page.title, "markdown": page.text} for page in chosen]
        write_json(envelope(None, {"pages": told}, answer="methods"))
    elif args.page is None:
        width = max(len(name) for name in methods.NAMES)
        write("\n".join(f"{page.name:<{width}}  {page.title}" for page in every))
    else:
        write("\n\n\n".join(page.text.rstrip() for page in chosen))
    return Exit.DONE
