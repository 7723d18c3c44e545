"""Words of care for a stop. They never say that a place may be entered, and give nothing to work by.

Every stop carries some, in free air too. Compressed air adds its own; the jurisdiction adds what was read of its
text, with clause, address and date, and the plain word "unknown" where nothing was read.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from wearplan.ground.water import doubt, head_bar
from wearplan.plan.records import Caution

from .jurisdictions import Jurisdiction, jurisdiction_of

if TYPE_CHECKING:
    from datetime import date

    from wearplan.plan.ahead.terms import Terms
    from wearplan.site.records import Section, Site, Window

PLANNING_ESTIMATE = Caution(
    code="planning-estimate",
    text="Planning estimate. Not a safety decision and not an entry permit: local law, the site's approved procedure "
    "and "
    "the licensed people decide on every entry.",
)

_EVERY_STOP = (
    Caution(code="ground-fall", text="Falls of ground: face and crown are to be judged by a competent person before "
            "and "
            "during every entry, in free air too."),
    Caution(code="gas", text="Gas and air: test and ventilate before people enter and while they are in."),
    Caution(code="isolation", text="Isolate and lock out the wheel drive. Nobody in the chamber while the wheel "
            "turns."),
    Caution(code="confined", text="Confined space with lifting: way out, lighting, rescue and lifting gear are to be "
            "ready."),
    Caution(code="count", text="Count tools and parts in and out, and note every place that was not seen."),
)  # fmt: skip

_COMPRESSED_AIR = (
    Caution(code="air-procedure", text="Work in compressed air kills when it goes wrong. Pressure, times and locking "
            "out come "
            "from the approved procedure and the licensed hyperbaric supervisor, never from this program."),
    Caution(code="air-loss", text="The pressure to work at comes from the approved face-stability calculation and is "
            "confirmed "
            "by an air-loss test before people enter."),
    Caution(code="fire", text="Compressed air raises the risk of fire: hot work needs its own approval."),
    Caution(code="repeat", text="Repeated entries, first days, absence, flying and altitude afterwards: ask the "
            "medical "
            "adviser beforehand."),
)  # fmt: skip


def _check(jurisdiction: Jurisdiction) -> str:
    return f"Check the text in force ({jurisdiction.title})."


def _notice(found: Jurisdiction, first_on: date | None) -> Caution:
    """The notice a text asks for, with the day it falls on where a clause that was read gives the days."""
    clause = f", {found.notice_clause}" if found.notice_clause else ""
    address = f" ({found.notice_address})" if found.notice_address else ""
    when = ""
    if first_on is not None and found.notice_days is not None and found.notice_clause:
        by = first_on - timedelta(days=found.notice_days)
        when = (
            f" No entry under pressure is on record yet and the first planned one is about {first_on}: counted back "
            f"{found.notice_days} days that is {by}."
        )
    return Caution(
        code="law-notice",
        text=f"Notice: {found.notice}.{when} Is it given, and in time? {_check(found)}",
        source=f"{found.title}{clause}{address}",
        as_read=found.read_on,
    )


def jurisdiction_cautions(
    code: str | None, *, pressure_bar: float, first_on: date | None = None
) -> tuple[Caution, ...]:
    """What the published rules of a jurisdiction add for a stop in compressed air at that gauge pressure.

    ``first_on`` is the day of the stop where it is the first under pressure of the drive.
    """
    found = jurisdiction_of(code)
    if found is None:
        who = "The site names no jurisdiction" if not code else f"Nothing was read of the rules of {code!r}"
        return (
            Caution(
                code="jurisdiction-unknown",
                text=f"{who}: which rules on compressed air hold here is unknown to this program. Look them up.",
            ),
        )
    cautions = []
    for what, over, under in (
        (
            "applies",
            "the rules on work in compressed air apply",
            "is under the pressure from which the rules apply, as read",
        ),
        ("medical lock", "a medical lock is called for", ""),
        ("ceiling", "special approval is called for, and specialists", ""),
    ):
        threshold = found.threshold(what)
        if threshold is None:
            continue
        source = f"{found.title}, {threshold.clause} ({threshold.address})"
        if pressure_bar >= threshold.bar - 1e-9:
            text = f"At {pressure_bar:g} bar gauge {over}: threshold as read {threshold.as_written}. {_check(found)}"
        elif under:
            text = f"{pressure_bar:g} bar gauge {under} ({threshold.as_written}). {_check(found)}"
        else:
            continue
        cautions.append(Caution(code=f"law-{what.replace(' ', '-')}", text=text, source=source, as_read=found.read_on))
    for unread in found.unread:
        cautions.append(
            Caution(
                code="law-unread",
                text=f"{found.name}: your code may set {unread}; its number was not read here and is unknown. Look it "
                f"up.",
                source=found.title,
                as_read=None,
            )
        )
    if not cautions:
        cautions.append(
            Caution(
                code="law-text",
                text=f"{found.name}: at {pressure_bar:g} bar gauge no threshold that was read is reached. "
                f"{_check(found)}",
                source=found.title,
                as_read=found.read_on,
            )
        )
    if found.notice:
        cautions.append(_notice(found, first_on))
    if found.remark:
        cautions.append(
            Caution(code="law-remark", text=f"{found.name}: {found.remark}.", source=found.title, as_read=found.read_on)
        )
    return tuple(cautions)


def water_estimate(section: Section | None) -> Caution | None:
    """An estimate of the water pressure at the axis, labelled so; None where the site gives no head.

    It fills no field and chooses no mode.
    """
    bar = None if section is None else head_bar(section)
    if section is None or bar is None:
        return None
    return Caution(
        code="water-estimate",
        text=f"Estimate only, not a pressure to work at: the water head of {section.water_head_m:g} m above the axis "
        f"stands for about {bar:.1f} bar gauge at the axis. It leaves out ground pressure, "
        "artesian, tidal and salt water, air loss, cover and old boreholes.",
    )


def _water_cautions(site: Site, window: Window, section: Section | None) -> list[Caution]:
    estimate, asked = water_estimate(section), doubt(site, window)
    said = [] if estimate is None else [estimate]
    if asked is not None:
        said.append(Caution(code="pressure-asked", text=asked.sentence))
    return said


def _window_cautions(window: Window, terms: Terms | None) -> list[Caution]:
    said = []
    if not window.pressure_source:
        said.append(
            Caution(
                code="pressure-not-approved",
                text=f"{window.name}: no source is recorded for its pressure of {window.pressure_bar:g} bar gauge: "
                "not approved, planning only.",
            )
        )
    row = terms.row if terms else None
    if row is not None and not (row.approved_by and row.document):
        said.append(
            Caution(
                code="row-not-approved",
                text=f"The entry row up to {row.up_to_pressure_bar:g} bar ({row.mode}) names no "
                f"{'approver' if row.document else 'document'}: planning only.",
            )
        )
    if terms is not None and terms.inside_only:
        said.append(
            Caution(
                code="inside-only",
                text="Only tools reached from inside are changed here. Nobody enters the chamber; the wheel drive is "
                "isolated and "
                "locked out all the same.",
            )
        )
    elif row is None and window.mode == "free air":
        said.append(
            Caution(
                code="no-free-air-row",
                text="No [[entry]] row for free air: one work place is assumed and hours are not counted in entries.",
            )
        )
    return said


def cautions_for(
    site: Site,
    window: Window,
    *,
    terms: Terms | None = None,
    section: Section | None = None,
    first_air_on: date | None = None,
    never_seen: int = 0,
    not_seen: int = 0,
) -> tuple[Caution, ...]:
    """The cautions of a stop in a window.

    ``section`` is the ground there; its water head is set beside the pressure only where people meet one.
    ``first_air_on`` is the day of the stop where it is the drive's first under pressure.
    """
    cautions = [PLANNING_ESTIMATE, *_window_cautions(window, terms), *_EVERY_STOP]
    if terms is not None and terms.inside_only:
        pass
    elif window.mode == "compressed air":
        cautions += _COMPRESSED_AIR
        cautions += jurisdiction_cautions(site.jurisdiction, pressure_bar=window.pressure_bar, first_on=first_air_on)
        cautions += _water_cautions(site, window, section)
    elif window.mode != "free air":
        cautions.append(
            Caution(code="specialist", text=f"{window.mode} is recorded, never planned: a matter for specialists.")
        )
    elif window.pressure_bar > 0:
        cautions.append(
            Caution(
                code="free-air-pressure",
                text=f"{window.name} says free air and {window.pressure_bar:g} bar gauge: these do not go together. "
                f"Correct "
                "the window before anything is planned on it.",
            )
        )
    if not_seen:
        cautions.append(
            Caution(
                code="not-seen",
                text=f"{not_seen} place{'s' if not_seen != 1 else ''} {'were' if not_seen != 1 else 'was'} not seen "
                f"at the last "
                f"stop{f', {never_seen} never' if never_seen else ''}: absent never means fine.",
            )
        )
    return tuple(cautions)
