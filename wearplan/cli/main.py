"""`main(argv) -> int`: finds the command, runs it, turns outcomes into exit codes."""

from __future__ import annotations

import argparse
import errno
import importlib
import os
import sys
import textwrap
from collections.abc import Sequence

from wearplan import __version__
from wearplan.cli import receipts
from wearplan.cli.codes import Exit, Stopped

COMMANDS = {
    "new": "write a folder to start from",
    "check": "read a site folder and list its faults",
    "rates": "what each unit of ground costs each kind of tool",
    "outlook": "wear now, and where each tool reaches its limit",
    "plan": "where to stop, what to change there, and what it costs to go on",
    "demand": "tools needed by month, what to order by when",
    "fleet": "every drive in one table, rates pooled over drives",
    "backtest": "how past outlooks did against the readings that followed",
    "life": "the story of one tool or one place",
    "sheet": "the sheet to take into the chamber",
    "log": "record an inspection from a filled sheet",
    "take": "take in the office's workbooks, sheets and laboratory files",
    "rings": "take ring rows from a machine's export",
    "sensor": "record one word of a wear sensor",
    "event": "record one event of the drive",
    "merge": "take the new facts of another copy of the folder",
    "report": "one page for the meeting",
    "carry": "rates of this drive as expected_rate of the next one",
    "methods": "how the numbers are worked out, and what is not modelled",
    "schema": "JSON Schema of the folder's files",
    "open": "the terminal app",
}


class Help(argparse.RawDescriptionHelpFormatter):
    """Paragraphs filled to the terminal's width; a paragraph with an indented line stays as written."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        blocks = text.strip("\n").split("\n\n")
        return "\n\n".join(
            super(Help, self)._fill_text(block, width, indent)
            if "\n " in f"\n{block}"
            else textwrap.fill(" ".join(block.split()), width, initial_indent=indent, subsequent_indent=indent)
            for block in blocks
        )


EPILOG = """\
exit codes: 0 done; 1 ran, and the answer is no; 2 usage; 3 the folder has faults that forbid the answer;
4 no plan keeps the rules, or none was found; 70 our own fault; 130 interrupted.

Planning aid only: entries are decided under local law, the site's approved procedure and licensed people."""


def parser(only: str | None = None) -> argparse.ArgumentParser:
    """The parser; with ``only`` the arguments of that one command are filled in, the others are just named."""
    top = argparse.ArgumentParser(
        prog="wearplan",
        description="Plans chamber entries and tool changes of a pressurised-face shield.",
        epilog=EPILOG,
        formatter_class=Help,
    )
    top.add_argument("--version", action="version", version=f"wearplan {__version__}")
    below = top.add_subparsers(dest="command", metavar="COMMAND")
    for name, what in COMMANDS.items():
        sub = below.add_parser(name, help=what, formatter_class=Help)
        if only in (None, name):
            module = _module(name)
            sub.description = module.__doc__
            module.arguments(sub)
    return top


def _module(name: str):  # type: ignore[no-untyped-def]
    return importlib.import_module(f"wearplan.cli.commands.{name}")


def main(argv: Sequence[str]) -> int:
    """Run one command line.

    Returns
    -------
    int
        An exit code of `Exit`.
    """
    argv = list(argv)
    named = next((word for word in argv if word in COMMANDS), "")
    if not argv and sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM") != "dumb":
        argv, named = ["open"], "open"
    try:
        args = parser(named).parse_args(argv)
    except SystemExit as stop:
        return int(stop.code or 0)
    receipts.forget()
    if not args.command:
        parser("").print_help(sys.stderr)
        return Exit.USAGE
    try:
        code = int(_module(args.command).run(args))
        sys.stdout.flush()
        return code
    except Stopped as stop:
        for line in stop.lines:
            print(line, file=sys.stderr)
        return stop.code
    except (KeyboardInterrupt, Exception) as error:
        return _cut_short(args.command, argv, error)


def _cut_short(command: str, argv: Sequence[str], error: BaseException) -> int:
    """The exit code of a run that something ended, with a word on what was written."""
    if isinstance(error, KeyboardInterrupt):
        code = receipts.ended(command, "interrupted")
        return code if receipts.stands() else Exit.INTERRUPTED
    if isinstance(error, BrokenPipeError):
        receipts.mute()
        if command in receipts.WRITERS:
            return receipts.ended(command, "the reader of the output went away")
        return Exit.DONE  # a pager was closed: nobody is left to tell
    if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EIO) and error.filename is None:
        receipts.mute()
        return receipts.ended(command, f"the output cannot be written ({error.strerror})")
    return _our_fault(argv, error)


def _our_fault(argv: Sequence[str], error: BaseException) -> int:
    import traceback

    from wearplan.site.write.state_home import write_fault_log

    print(f"wearplan failed through a fault of its own ({type(error).__name__}: {error}).", file=sys.stderr)
    trace = "".join(traceback.format_exception(error))
    details = write_fault_log(trace, what=f"wearplan {' '.join(argv)}") or trace
    if receipts.stands():
        print(f"What was written stands: {'; '.join(receipts.stands())}. Details: {details}", file=sys.stderr)
        return Exit.DONE
    print(f"Nothing of the folder was changed by it. Details: {details}", file=sys.stderr)
    return Exit.OURS
