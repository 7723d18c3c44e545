"""The way from a folder to an answer, shared by the commands."""

from __future__ import annotations

import argparse
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.streams import Progress, say

if TYPE_CHECKING:
    from wearplan.plan import Plan, Wishes
    from wearplan.report.answers import Answers
    from wearplan.site.records import Fault, Site
    from wearplan.wear import Fit, Outlook

DRAWS = 400


def site_argument(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("site", type=Path, metavar="SITE", help="the site folder")


def output_arguments(parser: argparse.ArgumentParser, *, csv: bool = True) -> None:
    group = parser.add_mutually_exclusive_group()
    group.add_argument("--json", action="store_true", help="one JSON object on stdout")
    if csv:
        group.add_argument("--csv", action="store_true", help="the tables as CSV on stdout")


def json_argument(parser: argparse.ArgumentParser) -> None:
    """``--json`` of a command whose answer is what it did."""
    parser.add_argument("--json", action="store_true", help="one JSON object on stdout")


def read_site(folder: Path, answer: str) -> Site:
    """The site, or exit 3 with the faults that forbid ``answer``; faults that do not are counted on stderr."""
    from wearplan.site import load

    loaded = load(folder)
    site = loaded.site
    forbidding = tuple(fault for fault in loaded.faults if answer in fault.forbids) or (
        loaded.faults if site is None else ()
    )
    if site is None or forbidding:
        shown = fault_lines(forbidding)
        raise Stopped(Exit.FAULTS, *shown, f"These forbid `{answer}`. `wearplan check {folder}` lists every fault.")
    if loaded.faults:
        count = len(loaded.faults)
        are, none = ("faults are", "none forbids") if count > 1 else ("fault is", "it does not forbid")
        say(f"{count} {are} named by `wearplan check {folder}`; {none} this answer.")
    if site.invented:
        say("Invented data: this drive does not exist.")
    return site


def fault_lines(faults: tuple[Fault, ...], most: int = 20) -> list[str]:
    from wearplan.report.words import plain

    lines = [plain(str(fault)) for fault in faults[:most]]
    if len(faults) > most:
        lines.append(f"... and {len(faults) - most} more")
    return lines


def learn(site: Site, progress: Progress) -> Fit:
    from wearplan import wear

    progress("learning wear rates")
    return wear.learn(site, progress=progress)


def look_ahead(site: Site, fit: Fit, progress: Progress, *, ground_factor: float = 1.0) -> Outlook:
    from wearplan import wear

    progress("looking ahead")
    return wear.look_ahead(site, fit, draws=DRAWS, ground_factor=ground_factor)


STOPPED = (
    "The search was stopped by Ctrl-C: the plan is the best until then; left to its end, it may find a cheaper one, "
    "and comparisons it had not come to are left out."
)


def propose(site: Site, outlook: Outlook, progress: Progress, wishes: Wishes | None = None) -> Plan:
    """The plan; Ctrl-C gives the best one so far, a second Ctrl-C ends the command.

    Where a search that was stopped had met no plan, the command ends with that; a plan it did meet says that it was
    stopped.
    """
    import signal
    from dataclasses import replace

    from wearplan import plan

    pressed: list[int] = []
    before = signal.getsignal(signal.SIGINT)

    def ask_to_stop(number: int, frame: object) -> None:
        pressed.append(number)
        signal.signal(signal.SIGINT, before)
        say("", "stopping: the best plan so far follows (Ctrl-C again to end at once)")

    progress("planning")
    try:
        signal.signal(signal.SIGINT, ask_to_stop)
        found = plan.propose(
            site, outlook, wishes=wishes or plan.Wishes(), progress=progress, should_stop=lambda: bool(pressed)
        )
    finally:
        signal.signal(signal.SIGINT, before)
    if not pressed:
        return found
    if found.status == "not_found":
        raise Stopped(Exit.INTERRUPTED, "Stopped before a plan was found; whether one keeps the rules is not known.")
    return replace(found, remarks=(STOPPED, *found.remarks))


def driven_at(site: Site, text: str) -> float:
    """Driven metres of a chainage written as ``2345.6`` or ``2+345.6``; exit 2 where it is neither."""
    import re

    match = re.fullmatch(r"\s*(-?)(?:(\d+)\+)?(\d+(?:\.\d+)?)\s*", text)
    if not match:
        raise Stopped(Exit.USAGE, f"'{text}' is no chainage: write 2345.6 or 2+345.6")
    value = (1000.0 * int(match[2]) if match[2] else 0.0) + float(match[3])
    driven = site.drive.driven_m(-value if match[1] else value)
    if not -1e-6 <= driven <= site.drive.length_m + 1e-6:
        raise Stopped(Exit.USAGE, f"{text} is not on this drive")
    return driven


def every_answer(site: Site, progress: Progress) -> Answers:
    """Every answer the folder allows but the backtest; those that faults forbid are left out and named."""
    from wearplan import history
    from wearplan.demand.answer import with_memory
    from wearplan.report.answers import Answers

    fit = learn(site, progress)
    outlook = look_ahead(site, fit, progress)
    plan = None if site.forbidding("plan") else propose(site, outlook, progress)
    store = None
    if plan is not None and plan.keeps_rules and not site.forbidding("demand"):
        progress("playing the plan on the draws")
        store, _ = with_memory((site, outlook, plan), site.folder)
    for answer, found in (("plan", plan), ("demand", store)):
        if found is None:
            say(f"the {answer} is left out; `wearplan {answer} {site.folder}` says why")
    return Answers(
        site=site,
        fit=fit,
        outlook=outlook,
        plan=plan,
        demand=store,
        ring_notes=history.clean_rings(site).notes,
    )


def agreed() -> bool:
    """Whether the person at the terminal says yes to what was shown; never where nobody can be asked."""
    if not sys.stdin.isatty():
        return False
    try:
        return input("Write it? [y/N] ").strip().lower() in ("y", "yes")
    except EOFError:
        return False


def ring_place(site: Site, *, ring: int | None, chainage: str | None) -> tuple[int | None, float, float]:
    """(ring, chainage_m, driven_m) of a record from what was given; the end of the ring where no chainage was."""
    if chainage is not None:
        driven_m = driven_at(site, chainage)
        return ring, site.drive.chainage_m(driven_m), driven_m
    if ring is None:
        raise Stopped(Exit.USAGE, "say where: --ring N or --at CHAINAGE")
    for row in site.rings:
        if row.ring == ring and row.end_chainage_m is not None and row.end_m is not None:
            return ring, row.end_chainage_m, row.end_m
    raise Stopped(Exit.USAGE, f"ring {ring} is not in advance.csv; give its chainage with --at")


def moment(text: str | None, site: Site) -> datetime:
    """A time as people write it; now where nothing is given; of the site's clock where it carries no offset."""
    from wearplan.site.parse import typed
    from wearplan.site.records.clock import placed

    now = site.now().replace(microsecond=0)
    if text is None:
        return now
    try:
        return placed(typed.moment(text, now), site.zone)
    except ValueError as error:
        raise Stopped(Exit.USAGE, str(error)) from error
