"""What every command that writes a record asks at the gate: findings, and who accepts them and why."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING

from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.steps import moment
from wearplan.cli.streams import say, write_json

if TYPE_CHECKING:
    from wearplan.gate import Finding
    from wearplan.site.records import Event, SensorWord, Site

HOW = "Correct it, or accept each by its name: --accept NAME --because TEXT --by NAME."


def gate_arguments(parser: argparse.ArgumentParser, *, who: bool = True) -> None:
    parser.add_argument(
        "--accept", metavar="NAME", action="append", default=[],
        help="write it although this was found; may be given again",
    )  # fmt: skip
    parser.add_argument("--because", metavar="TEXT", help="with --accept: why; the record keeps it")
    if who:
        parser.add_argument("--by", metavar="NAME", help="with --accept: who; the record keeps it")


def accepted(args: argparse.Namespace, findings: Iterable[Finding], who: str | None) -> str | None:
    """The line a record keeps of what was accepted; None where nothing was. Exit 2 where something is missing."""
    from wearplan.gate import acceptance_words

    if not args.accept:
        return None
    strange = sorted(set(args.accept) - {each.name for each in findings})
    if strange:
        raise Stopped(Exit.USAGE, f"nothing named {', '.join(strange)} was found in this record")
    if not (args.because or "").strip() or not (who or "").strip():
        raise Stopped(Exit.USAGE, "--accept needs --because TEXT and a name (--by, or entered by): both are kept")
    return acceptance_words(args.accept, who=str(who).strip(), why=args.because.strip())


def pass_word(args: argparse.Namespace, site: Site, word: SensorWord | Event, answer: str) -> str | None:
    """Hold a sensor's word or an event against the log: exit 1 with what contradicts it; what was accepted."""
    from wearplan.gate import contradicted, judge_word
    from wearplan.report.bodies import envelope

    findings = judge_word(site, word, now=site.now())
    words = accepted(args, findings, args.by)
    refused = contradicted(findings, args.accept)
    if refused and args.json:
        write_json(envelope(site, {"added": 0, "contradicted": refused}, answer=answer))
    if refused:
        raise Stopped(Exit.NO, *refused_lines(refused), f"Nothing was written. {HOW}")
    return words


def refused_lines(refused: Iterable[Finding]) -> list[str]:
    return [f"contradicted: {each.line}" for each in refused]


def moment_at(site: Site, text: str | None, driven_m: float) -> datetime | None:
    """The time given; without one now where the face stands, and none for a place it has passed."""
    ends = [row.end_m for row in site.rings if row.end_m is not None and not row.damaged]
    if text is None and ends and driven_m < max(ends) - 2 * site.drive.ring_length_m:
        say("No time is recorded, since the face has passed this place; give --time where it is known.")
        return None
    return moment(text, site)
