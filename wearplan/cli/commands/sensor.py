"""Record one word of a wear sensor: a wear reported, or that its line was proved live.

  wearplan sensor SITE 12 "reported 12.0" --ring 702
  wearplan sensor SITE 12 "line proved" --at 1+164.4

Silence counts as "below" only after the line was last proved live. Exit code 1: ring, chainage and time contradict
the ring log or each other, and nothing was written.
"""

from __future__ import annotations

import argparse

from wearplan.cli.at_the_gate import gate_arguments, moment_at, pass_word
from wearplan.cli.codes import Exit, Stopped
from wearplan.cli.receipts import acknowledge, writing
from wearplan.cli.steps import json_argument, read_site, ring_place, site_argument
from wearplan.cli.streams import write, write_json


def arguments(parser: argparse.ArgumentParser) -> None:
    site_argument(parser)
    json_argument(parser)
    parser.add_argument("position", type=int, help="the place on the wheel")
    parser.add_argument("word", help='"reported 12.0" (mm of wear) or "line proved"')
    parser.add_argument("--ring", type=int)
    parser.add_argument("--at", metavar="CHAINAGE")
    parser.add_argument("--time", metavar="ISO", help="when; by default now, at the face")
    gate_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from wearplan.gate import acceptance, sensor_reading
    from wearplan.report.bodies import appended_body, envelope
    from wearplan.site import append_event, append_sensor_word
    from wearplan.site.records import SensorWord

    site = read_site(args.site, "check")
    try:
        reported = sensor_reading(site, args.position, args.word)
    except ValueError as error:
        raise Stopped(Exit.USAGE, str(error)) from error
    ring, chainage_m, driven_m = ring_place(site, ring=args.ring, chainage=args.at)
    word = SensorWord(
        position=args.position,
        chainage_m=chainage_m,
        driven_m=driven_m,
        ring=ring,
        at=moment_at(site, args.time, driven_m),
        reported_mm=reported,
    )
    words = pass_word(args, site, word, "sensor")
    with writing():
        if words:
            append_event(args.site, acceptance(site, words, word, now=site.now()))
        appended = append_sensor_word(args.site, word)
        acknowledge(f"{appended.path}: {'added' if appended.added else 'was there already'}", on_stderr=args.json)
    if args.json:
        write_json(envelope(site, appended_body(appended), answer="sensor"))
        return Exit.DONE
    for remark in appended.remarks:
        write(remark)
    return Exit.DONE
