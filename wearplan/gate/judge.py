"""The folder plus one inspection: place and time first, then the tools after all fittings of the record."""

from __future__ import annotations

from datetime import datetime

from wearplan.gate.finding import Finding
from wearplan.gate.tools import judge_tools
from wearplan.gate.when import judge_where_and_when
from wearplan.site.records import Inspection, Site


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
        *judge_where_and_when(site, inspection, others, now),
        *judge_tools(site, inspection, others),
    )
