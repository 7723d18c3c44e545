"""The folder plus one inspection: place and time first, then the tools after all fittings of the record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime

from wearplan.gate.finding import CONTRADICTED, Finding
from wearplan.gate.tools import judge_tools
from wearplan.gate.when import judge_where_and_when
from wearplan.site.records import Inspection, Site
from wearplan.site.stopbook.alone import faults_of


def _forbidding(site: Site, inspection: Inspection) -> Iterator[Finding]:
    """Faults that the record would bring and that forbid an answer; each code once, with its first sentence."""
    told: set[str] = set()
    for fault in faults_of(site, inspection):
        if fault.forbids and fault.code not in told:
            told.add(fault.code)
            which = ", ".join(fault.forbids[:3]) + (" and more" if len(fault.forbids) > 3 else "")
            sentence = f"once written it would forbid {which}: {fault.what}."
            remedy = "Correct it before it stands."
            yield Finding(name=f"forbids-{fault.code}", kind=CONTRADICTED, sentence=sentence, remedy=remedy)


def undone(site: Site, record_id: str) -> Inspection | None:
    """What would hold once a record is taken back; None where there is no such record, or nothing would."""
    records = {each.id: each for each in (*site.inspections, *site.corrected)}
    record = records.get(record_id)
    earlier = records.get(record.corrects or "") if record is not None else None
    return replace(earlier, id=f"{record_id}-undone", corrects=record_id) if earlier is not None else None


def as_before(site: Site, record: Inspection) -> Site:
    """The folder as far as the stop of a record, without that record: what its readings are held against."""
    here = (record.driven_m, record.started_at)
    upto_m = record.driven_m + 1e-3
    return replace(
        site,
        inspections=tuple(
            one for one in site.inspections if one.id != record.id and (one.driven_m, one.started_at) < here
        ),
        rings=tuple(row for row in site.rings if row.end_m is None or row.end_m <= upto_m),
        sensor_words=tuple(word for word in site.sensor_words if word.driven_m <= upto_m),
        events=tuple(event for event in site.events if event.driven_m <= upto_m),
    )


def with_record(site: Site, record: Inspection) -> Site:
    """The folder as it will stand once a record is written; the one it corrects no longer counts."""
    standing = (one for one in site.inspections if one.id != record.corrects)
    return replace(site, inspections=tuple(sorted((*standing, record), key=lambda one: (one.driven_m, one.started_at))))


def judge(site: Site, inspection: Inspection, *, now: datetime) -> tuple[Finding, ...]:
    """What speaks against a record before it is written.

    Parameters
    ----------
    site : Site
        The folder as it stands; the record that ``inspection`` corrects is left out of account.
    inspection : Inspection
        The record as it would be written.
    now : datetime
        With its offset. A clock that runs behind the ring log is not believed.
    """
    others = tuple(each for each in site.inspections if each.id not in (inspection.corrects, inspection.id))
    return (
        *_forbidding(site, inspection),
        *judge_where_and_when(site, inspection, others, now),
        *judge_tools(site, inspection, others),
    )
