"""Where to stop, what to change there, and what it costs to go on to the next window.

Exit code 4: no plan keeps the rules; the places, stretch and rule that clash are named.
"""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.receipts import writing
from wearplan.cli.steps import (
    driven_at,
    learn,
    look_ahead,
    output_arguments,
    propose,
    read_site,
    site_argument,
)
from wearplan.cli.streams import Progress, say, width, write, write_json, write_tables

SECTIONS = ("answer", "stops", "reasons", "passing", "others", "cautions", "basis")
"""As in `wearplan.report.plan_text`, which is not imported for the help alone."""

if TYPE_CHECKING:
    from wearplan.plan import Plan, Wishes
    from wearplan.site.records import Site
    from wearplan.wear import Outlook


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    output_arguments(parser)
    parser.add_argument(
        "--force", metavar="WINDOW", action="append", default=[],
        help="stop in that window, told by its name (the plan chooses the ring), or at a chainage (may be repeated)",
    )  # fmt: skip
    parser.add_argument(
        "--forbid", metavar="WINDOW", action="append", default=[],
        help="never stop in that window, told by its name or by a chainage in it",
    )  # fmt: skip
    parser.add_argument("--max-entries", type=int, metavar="N", help="at most N entries under pressure")
    parser.add_argument(
        "--margin", choices=("half", "1.1", "1.2"), default="",
        help="leave something in hand: half of every cap, or the caps kept in ground so many times as hard",
    )  # fmt: skip
    parser.add_argument(
        "--standing", action="store_true",
        help="the drive stands stopped at the face, its readings logged: what to change before it goes on (anywhere, "
        "in no window too where a late tool stopped it); the set-up is spent",
    )  # fmt: skip
    parser.add_argument(
        "--keep", action="store_true",
        help="keep what is asked in the folder (wishes.toml): plan, demand, pack, sheet and page follow it",
    )  # fmt: skip
    parser.add_argument("--because", default="", metavar="TEXT", help="with --keep: who decided it, and why")
    parser.add_argument("--let-go", action="store_true", help="let go of the wishes kept in the folder, then plan")
    parser.add_argument("--sturdy", action="store_true", help="what each of these margins costs, and what it keeps")
    parser.add_argument("--ground", type=float, default=1.0, metavar="FACTOR", help="all rates times this factor")
    parser.add_argument("--time", type=float, default=60.0, metavar="SECONDS", help="the best plan after that long")
    parser.add_argument("--quick", action="store_true", help="the stops alone: no deferral, trade-off or comparison")
    parser.add_argument("--reasons", action="store_true", help="the reason of every change, stop by stop")
    parser.add_argument(
        "--section", action="append", default=[], choices=SECTIONS, metavar="NAME",
        help=f"that part of the text alone (may be repeated): {', '.join(SECTIONS)}",
    )  # fmt: skip
    parser.add_argument("--pack", type=Path, metavar="DIR", help="write the work pack of the next stop into DIR")
    parser.add_argument("--read-by", metavar="NAME", help="with --pack: who has read the plan (no approval)")


def run(args: argparse.Namespace) -> int:
    from wearplan.plan.ahead.here import NOT_PLANNED
    from wearplan.report.bodies import envelope, plan_body

    if args.pack and not (args.read_by or "").strip():
        raise Stopped(Exit.USAGE, "a work pack is written only with the name of who has read the plan: --read-by NAME")
    if args.let_go:
        _let_go(args)
    site = read_site(args.site, "plan")
    progress = Progress()
    outlook = look_ahead(site, learn(site, progress), progress, ground_factor=args.ground)
    if args.sturdy:
        return _sturdy(args, site, outlook, progress)
    asked = _wishes(args, site)
    if args.keep and not asked.asks:
        raise Stopped(Exit.USAGE, "nothing is asked that could be kept: --margin, --force, --forbid or --max-entries")
    plan = propose(site, outlook, progress, asked)
    progress.close()
    if refused := [remark for remark in plan.remarks if args.standing and remark.startswith(NOT_PLANNED)]:
        raise Stopped(Exit.NO, refused[0])
    if args.keep:
        _keep(args, site, asked, plan)
    if args.json:
        write_json(envelope(site, plan_body(plan), answer="plan"))
    elif args.csv:
        from wearplan.report.tables.plan import plan_tables

        write_tables(plan_tables(plan, site), csv=True)
    else:
        from wearplan.report.plan_text import plan_text

        write(plan_text(plan, site, width=width(), reasons=args.reasons, sections=args.section))
    if args.pack:
        _write_pack(args, site, outlook, plan)
    return Exit.DONE if plan.keeps_rules else Exit.NO_PLAN


def _let_go(args: argparse.Namespace) -> None:
    from wearplan.site.records.wishes import FILE
    from wearplan.site.write.wishes import let_go

    if args.keep:
        raise Stopped(Exit.USAGE, "--keep and --let-go ask for opposite things")
    with writing():
        say(f"{FILE} was taken away." if let_go(args.site) else "There were no wishes kept in the folder.")


def _keep(args: argparse.Namespace, site: Site, asked: Wishes, plan: Plan) -> None:
    """Keep what was asked; not where no plan keeps the rules with it."""
    from wearplan.plan.kept import to_keep
    from wearplan.site.write.wishes import keep_wishes

    if not plan.keeps_rules:
        say("The wishes are not kept: no plan keeps the rules with them.")
        return
    with writing():
        path = keep_wishes(args.site, to_keep(site, asked, because=args.because))
    say(f"kept in {path}; --let-go undoes it")


def _sturdy(args: argparse.Namespace, site: Site, outlook: Outlook, progress: Progress) -> int:
    from wearplan.plan.answers.sturdy import sturdy
    from wearplan.report.bodies import envelope
    from wearplan.report.tables.plan import sturdy_table

    found = sturdy(site, outlook, _wishes(args, site))
    progress.close()
    if args.json:
        write_json(envelope(site, {"sturdy": found}, answer="plan"))
    else:
        write_tables([sturdy_table(found, site)], csv=args.csv)
    return Exit.DONE if found else Exit.NO_PLAN


def _write_pack(args: argparse.Namespace, site: Site, outlook: Outlook, plan: Plan) -> None:
    from wearplan import history
    from wearplan.plan import read_by
    from wearplan.report.paper.pack import write_pack

    try:
        reader = read_by(plan, name=args.read_by or "", at=datetime.now().astimezone())
    except ValueError as error:
        raise Stopped(Exit.NO, f"no work pack was written: {error}") from error
    current = history.current_lives(history.lives(site))
    try:
        for path in write_pack(site, outlook, plan, current, args.pack, read_by=reader):
            say(f"wrote {path}")
    except OSError as error:
        raise Stopped(Exit.NO, f"the work pack cannot be written: {error}") from error


def _wishes(args: argparse.Namespace, site: Site) -> Wishes:
    from wearplan.plan import Wishes

    named = tuple(window.name for window in site.stops.windows) if site.stops else ()
    return Wishes(
        forced_m=tuple(_place(site, text, named) for text in args.force if text not in named),
        forced_windows=tuple(text for text in args.force if text in named),
        forbidden_windows=tuple(name for text in args.forbid for name in _windows(site, text)),
        max_entries=args.max_entries,
        margin=args.margin,
        standing=args.standing,
        time_limit_s=args.time,
        deferral=not args.quick,
        tradeoff=not args.quick,
        comparison=not args.quick,
    )


def _place(site: Site, text: str, named: tuple[str, ...]) -> float:
    """Driven metres of a chainage; exit 2 where it is none, with the names of the windows."""
    from wearplan.report.words import listing

    try:
        return driven_at(site, text)
    except Stopped as error:
        raise Stopped(Exit.USAGE, f"{error.lines[0]}; or name a window: {listing(named, 20)}") from None


def _windows(site: Site, text: str) -> tuple[str, ...]:
    """The window of that name, else those that hold that chainage; exit 2 where there is none."""
    from wearplan.report.words import listing

    windows = site.stops.windows if site.stops else ()
    names = tuple(window.name for window in windows)
    if text in names:
        return (text,)
    try:
        driven_m = driven_at(site, text)
    except Stopped:
        raise Stopped(Exit.USAGE, f"there is no window '{text}'; there are: {listing(names, 20)}") from None
    inside = tuple(window.name for window in windows if window.from_m - 1e-6 <= driven_m <= window.to_m + 1e-6)
    if not inside:
        raise Stopped(Exit.USAGE, f"{text} lies in no window; there are: {listing(names, 20)}")
    return inside
