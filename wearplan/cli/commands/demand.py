"""What the store should do by when: order, hurry, ask of suppliers or leave, at least expected cost; tools by month.

Several SITE folders are taken as drives that draw on one store. Dates are counted from today, or from the day given
with --on. --keep keeps the forecast in the folder (forecasts/), --since tells what moved since a kept one and why.

Exit code 4: a drive has no plan that keeps the rules, so nothing can be foretold.
"""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import learn, look_ahead, output_arguments, propose, read_site
from wearplan.cli.streams import Progress, say, write_json, write_tables

if TYPE_CHECKING:
    from wearplan.demand import Demand
    from wearplan.demand.memory.kept import Kept

LAST = "last"


def arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("site", type=Path, nargs="+", metavar="SITE", help="the site folder, or several on one store")
    output_arguments(parser)
    parser.add_argument(
        "--on", type=_day, metavar="DATE", help="count from this day, such as 2026-11-30, not from today"
    )
    parser.add_argument("--pace", type=float, default=1.0, metavar="FACTOR", help="the pace times this factor")
    parser.add_argument("--look-back", action="store_true", help="how past and kept forecasts did against use")
    parser.add_argument("--keep", action="store_true", help="keep this forecast in the folder, to compare with later")
    parser.add_argument(
        "--since", nargs="?", const=LAST, metavar="DATE|FILE",
        help="tell what moved, and why, since the last kept forecast, the last one up to a date, or one in a file",
    )  # fmt: skip
    parser.add_argument(
        "--write", type=Path, metavar="FOLDER",
        help="write purchase request, budget and calendar there, under names that stay the same",
    )  # fmt: skip


def run(args: argparse.Namespace) -> int:
    from wearplan.demand.answer import compared, uses_of, with_pace
    from wearplan.demand.memory.kept import keep, to_json
    from wearplan.plan import Wishes
    from wearplan.report.bodies import demand_body, envelope
    from wearplan.report.tables.demand import demand_tables

    _refuse(args)
    if args.look_back:
        return _look_back(args)
    before = _earlier(args) if args.since else None
    progress = Progress()
    drives = []
    for folder in args.site:
        site = read_site(folder, "demand")
        outlook = look_ahead(site, learn(site, progress), progress)
        plan = propose(site, outlook, progress, Wishes(deferral=False, tradeoff=False, comparison=False))
        drives.append((site, outlook, plan))
    progress("playing the plan on the draws")
    try:
        uses = uses_of(drives)
    except ValueError as error:
        raise Stopped(Exit.NO_PLAN, str(error), "`wearplan plan` says what clashes.") from error
    demand = with_pace(uses, as_of=args.on, pace=args.pace)
    if before is not None:
        progress("playing the kept forecast again")
        demand = compared(before, uses[0], drives[0][1], demand)
    kept = keep(uses[0], demand, pace=args.pace) if len(uses) == 1 and (args.keep or args.json) else None
    progress.close()
    if args.keep and kept is not None:
        _keep(kept, args.site[0])
    if args.json:
        body = {**demand_body(demand), "kept": to_json(kept) if kept else None}
        write_json(envelope(drives[0][0], body, answer="demand"))
    else:
        orders, *others = demand_tables(demand)  # that nothing is to be ordered is an answer too
        write_tables([orders, *(table for table in others if table.rows)], csv=args.csv)
    if args.write:
        _write_out(args.write, drives, demand)
    return Exit.DONE


def _refuse(args: argparse.Namespace) -> None:
    if args.pace <= 0:
        raise Stopped(Exit.USAGE, "--pace takes a factor above 0, such as 1.25")
    seen: dict[Path, Path] = {}
    for folder in args.site:
        whole = folder.resolve()
        if whole in seen:
            raise Stopped(
                Exit.USAGE,
                f"{folder} and {seen[whole]} are the same folder: its tools would be counted twice",
                "Give each drive once.",
            )
        seen[whole] = folder
    if len(args.site) > 1 and (args.since or args.keep):
        raise Stopped(Exit.USAGE, "--since and --keep take one SITE: a forecast is kept with its own drive")


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"{text!r} is no date: write 2026-11-30") from error


def _earlier(args: argparse.Namespace) -> Kept:
    """The kept forecast to compare with."""
    from wearplan.demand.memory.kept import kept_in, last_before, read

    text = str(args.since)
    upto = None
    if text != LAST:
        try:
            upto = date.fromisoformat(text)
        except ValueError:
            try:
                return read(Path(text))
            except (OSError, ValueError) as error:
                why = error.strerror if isinstance(error, OSError) else error
                raise Stopped(Exit.USAGE, f"{text}: cannot be used: {why}") from error
    found = last_before(kept_in(args.site[0]), upto)
    if found is None:
        when = f" up to {upto}" if upto else ""
        raise Stopped(
            Exit.NO, f"No forecast is kept in {args.site[0]}{when}.", "`wearplan demand SITE --keep` keeps one."
        )
    return found


def _keep(kept: Kept, folder: Path) -> None:
    from wearplan.demand.memory.kept import write
    from wearplan.site.write.durable import NotWritten

    try:
        path = write(kept, folder)
    except NotWritten as error:
        raise Stopped(Exit.NO, str(error)) from error
    say(f"kept as {path}")


def _write_out(folder: Path, drives: list[Any], demand: Demand) -> None:
    from wearplan.report.calendar import calendar, days_of
    from wearplan.report.paper.page import NOTICE
    from wearplan.report.tables.demand import budget_table
    from wearplan.report.tables.purchase import purchase_table
    from wearplan.report.workbook import NoWorkbooks, workbook
    from wearplan.site.write.durable import NotWritten, replace_whole

    tables = {"purchase-request": purchase_table(demand), "budget": budget_table(demand)}
    files = {f"{name}.csv": table.csv().encode() for name, table in tables.items()}
    days = days_of(demand, [(site, plan) for site, _, plan in drives])
    files["store.ics"] = calendar(days, name=" and ".join(demand.drives), stamp=demand.as_of).encode()
    site = drives[0][0]
    try:
        for name, table in tables.items():
            files[f"{name}.xlsx"] = workbook([table], site, what=table.title, notice=NOTICE)
    except NoWorkbooks as error:
        say(str(error))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files.items():
            replace_whole(folder / name, content)
    except (OSError, NotWritten) as error:
        raise Stopped(Exit.NO, f"cannot write: {error}") from error
    say(f"wrote {', '.join(sorted(files))} into {folder}")


def _look_back(args: argparse.Namespace) -> int:
    from wearplan import history
    from wearplan.demand import demand_in_hindsight
    from wearplan.demand.memory.kept import kept_in
    from wearplan.demand.memory.score import scores
    from wearplan.report.bodies import envelope
    from wearplan.report.tables.look_back import hindsight_table, scores_table

    if len(args.site) > 1:
        raise Stopped(Exit.USAGE, "--look-back takes one SITE")
    site = read_site(args.site[0], "demand")
    progress = Progress()
    kept = scores(site, kept_in(args.site[0]), face_m=history.face_m(site))
    past = demand_in_hindsight(site, progress=progress)
    progress.close()
    if not past and not kept:
        raise Stopped(Exit.NO, "No past stop has a plan to look back on, and no forecast is kept.")
    if args.json:
        write_json(envelope(site, {"past": past, "kept": kept}, answer="demand"))
    else:
        tables = [*([hindsight_table(past)] if past else []), *([scores_table(kept)] if kept else [])]
        write_tables(tables, csv=args.csv)
    return Exit.DONE
