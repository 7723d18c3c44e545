"""Record one event of the drive, and see which places to look at.

wearplan event SITE boulder --ring 702 --note "bang, torque to 3,800 kNm for two minutes"

Exit code 1: ring, chainage and time contradict the ring log or each other, and nothing was written.
"""

from __future__ import annotations

import argparse
from dataclasses import replace

from wearplan.cli.at_the_gate import gate_arguments, moment_at, pass_word
from wearplan.cli.codes import Exit
from wearplan.cli.receipts import acknowledge, writing
from wearplan.cli.steps import json_argument, learn, read_site, ring_place, site_argument
from wearplan.cli.streams import Progress, write, write_json


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    json_argument(parser)
    parser.add_argument("kind", help="boulder, steel, pile, metal in muck, torque jump, ... in the site's words")
    parser.add_argument("--ring", type=int)
    parser.add_argument("--at", metavar="CHAINAGE")
    parser.add_argument("--time", metavar="ISO", help="when; by default now, at the face")
    parser.add_argument("--note")
    gate_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from wearplan.report.bodies import appended_body, envelope
    from wearplan.report.words import listing
    from wearplan.site import append_event
    from wearplan.site.records import Event
    from wearplan.wear import look_at

    site = read_site(args.site, "check")
    ring, chainage_m, driven_m = ring_place(site, ring=args.ring, chainage=args.at)
    at = moment_at(site, args.time, driven_m)
    event = Event(kind=args.kind, ring=ring, chainage_m=chainage_m, driven_m=driven_m, at=at, note=args.note)
    words = pass_word(args, site, event, "event")
    if words:
        event = replace(event, note=". ".join(part for part in (args.note, words) if part))
    with writing():
        appended = append_event(args.site, event)
        acknowledge(f"{appended.path}: {'added' if appended.added else 'was there already'}", on_stderr=args.json)
    look = None
    if not site.forbidding("rates"):
        progress = Progress()
        look = look_at(learn(site, progress), driven_m)
        progress.close()
    if args.json:
        write_json(envelope(site, {**appended_body(appended), "look_at": look}, answer="event"))
        return Exit.DONE
    for remark in appended.remarks:
        write(remark)
    if look is not None:
        write(f"At the next stop look at: {listing([str(number) for number in look], 40)}.")
    return Exit.DONE
