"""wishes.toml: what is kept of the wishes for the plan. A faulty file forbids the plan: it would be another one."""

from __future__ import annotations

from wearplan.site.forms.model import made, model_of
from wearplan.site.parse.document import Document, parse
from wearplan.site.parse.faults import PLAN_ON
from wearplan.site.parse.text import did_you_mean, shown
from wearplan.site.records import Drive, Stops
from wearplan.site.records.wishes import KeptWishes


def read_wishes(doc: Document, drive: Drive | None, stops: Stops | None) -> KeptWishes | None:
    """The wishes; None where any of it is wrong."""
    before = doc.log.forbidding("plan")
    parsed = parse(doc, model_of(KeptWishes), lambda loc: PLAN_ON)
    if parsed is None:
        return None
    names = {window.name for window in stops.windows} if stops else set()
    for key in ("stop_in", "not_in"):
        for index, name in enumerate(getattr(parsed.model, key)):
            if stops and name not in names:
                parsed.fault(
                    (key, index), f"no [[window]] {shown(name)} in stops.toml; {did_you_mean(name, names)}",
                    code="unknown-window", forbids=PLAN_ON,
                )  # fmt: skip
    for key in ("stop_at_m", "not_at_m"):
        for index, chainage_m in enumerate(getattr(parsed.model, key)):
            if drive and not -1e-6 <= drive.driven_m(chainage_m) <= drive.length_m + 1e-6:
                parsed.fault((key, index), f"{chainage_m:g} is not on this drive", code="off-drive", forbids=PLAN_ON)
    return made(KeptWishes, parsed.model) if doc.log.forbidding("plan") == before else None
