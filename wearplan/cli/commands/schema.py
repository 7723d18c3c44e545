"""JSON Schema of the folder's files, for editors that complete and check TOML.

Without FILE the names of the files; with it that file's schema; with --write all of them into a folder.
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.streams import say, write
from wearplan.site.write.outputs import write_output


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("file", nargs="?", help="such as wheel.toml")
    parser.add_argument("--write", type=Path, metavar="DIR", help="write every schema into this folder")
    parser.add_argument("--json", action="store_true", help="one JSON object of all schemas")


def run(args: argparse.Namespace) -> int:
    from wearplan.site import schemas

    known = schemas()
    if args.write:
        try:
            args.write.mkdir(parents=True, exist_ok=True)
            for name, schema in known.items():
                path = args.write / f"{name.replace('/', '-')}.schema.json"
                write_output(path, json.dumps(schema, indent=1, ensure_ascii=False) + "\n")
                say(str(path))
        except OSError as error:
            raise Stopped(Exit.NO, f"{args.write} cannot be written: {error.strerror or error}") from error
    elif args.json:
        write(json.dumps(known, indent=1, ensure_ascii=False))
    elif args.file is None:
        write("\n".join(known))
    elif args.file in known:
        write(json.dumps(known[args.file], indent=1, ensure_ascii=False))
    else:
        raise Stopped(Exit.USAGE, f"no schema of '{args.file}'; there are: {', '.join(known)}")
    return Exit.DONE
