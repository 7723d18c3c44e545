"""inspections/*.toml: one stop each."""

from __future__ import annotations

from datetime import UTC

from wearplan.site.forms.model import made, model_of
from wearplan.site.parse.document import Document, Loc, Parsed, parse
from wearplan.site.parse.faults import ALL, NOTHING
from wearplan.site.parse.stretches import chainage_fault
from wearplan.site.records import Inspection, Origin
from wearplan.site.records.key import described
from wearplan.site.stopbook.fittings import read_fittings
from wearplan.site.stopbook.known import Known
from wearplan.site.stopbook.measurements import read_measurements, read_structure

_PLACES_IT = ("id", "ring", "chainage_m", "started_at", "mode", "corrects")
"""What a record cannot be placed without, or would be taken twice."""
_OPTIONAL = {key.name for key in described(Inspection) if not key.key.at} - {*_PLACES_IT, "structure"}


def _forbids(loc: Loc) -> tuple[str, ...]:
    """What cannot be placed or would be taken twice forbids; a damaged record or a wrong label is only named."""
    head = loc[0] if loc else ""
    if head in ("measurement", "fitting", "structure") and len(loc) > 1:
        return NOTHING
    return NOTHING if head in _OPTIONAL else ALL


def read_inspection(doc: Document, known: Known) -> Inspection | None:
    """One inspection; None where it cannot be placed."""
    parsed = parse(doc, model_of(Inspection), _forbids)
    if parsed is None:
        return None
    model = parsed.model
    near = known.rings.get(model.ring)
    near_m = near.end_m if near is not None and near.end_m is not None else model.ring * known.drive.ring_length_m
    driven_m = known.drive.driven_m(model.chainage_m, near_m=near_m)
    why = chainage_fault(known.drive, model.chainage_m, slack_m=3 * known.drive.ring_length_m)
    if why:
        parsed.fault(("chainage_m",), why, code="outside-drive")
        return None
    _check_head(parsed, known, driven_m)
    started, ended = model.started_at, model.ended_at
    if started.tzinfo is None:
        started = started.replace(tzinfo=UTC)
    if ended is not None and ended.tzinfo is None:
        ended = ended.replace(tzinfo=UTC)
    if ended is not None and ended < started:
        parsed.fault(
            ("ended_at",), "lies before started_at; it is left out", code="ended-before-started", forbids=NOTHING
        )
        ended = None
    return made(
        Inspection,
        model,
        driven_m=driven_m,
        started_at=started,
        ended_at=ended,
        origin=Origin(doc.file, 1),
        measurements=tuple(read_measurements(parsed, known)),
        fittings=tuple(read_fittings(parsed, known)),
        structure=tuple(read_structure(parsed, known)),
    )


def _check_head(parsed: Parsed, known: Known, driven_m: float) -> None:
    model = parsed.model
    for key in ("started_at", "ended_at"):
        value = getattr(model, key)
        if value is not None and value.tzinfo is None:
            parsed.fault((key,), "has no offset from UTC; it is taken as UTC", code="no-offset", forbids=NOTHING)
    if model.mode == "free air" and (model.pressure_bar or 0) > 0:
        parsed.fault(
            ("pressure_bar",), f"free air at {model.pressure_bar:g} bar contradicts itself", code="contradiction",
            forbids=NOTHING,
        )  # fmt: skip
    if model.corrects is not None and not (model.reason or "").strip():
        parsed.fault(
            ("corrects",), "a correction needs its reason; it holds all the same", code="no-reason", forbids=NOTHING
        )
    row = known.rings.get(model.ring)
    slack = 1.5 * known.drive.ring_length_m
    if row is not None and not row.damaged and row.start_m is not None and row.end_m is not None:
        if not row.start_m - slack <= driven_m <= row.end_m + slack:
            parsed.fault(
                ("ring",),
                f"ring {model.ring} runs from {row.start_chainage_m:.3f} to {row.end_chainage_m:.3f} m in advance.csv, "
                f"the stop says {model.chainage_m:.3f} m; the chainage is used",
                code="ring-and-chainage", forbids=NOTHING,
            )  # fmt: skip
    elif known.rings and row is None and model.ring > max(known.rings) + 1:
        parsed.fault(
            ("ring",), f"ring {model.ring} is beyond the last ring of advance.csv ({max(known.rings)})",
            code="ring-beyond-log", forbids=NOTHING,
        )  # fmt: skip
