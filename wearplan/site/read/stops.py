"""stops.toml: what stops cost and where they may be."""

from __future__ import annotations

from wearplan.site.forms.model import made, model_of
from wearplan.site.parse.document import Document, Parsed, parse
from wearplan.site.parse.faults import NOTHING, PLAN_ON
from wearplan.site.parse.stretches import stretch
from wearplan.site.parse.text import shown
from wearplan.site.records import Drive, EntryRow, ForcedStop, KeepOut, Stops, Window


def read_stops(doc: Document, drive: Drive | None) -> Stops | None:
    """The stops; None where a part is missing whose want would let a plan look better than it is."""
    before = doc.log.forbidding("plan")
    parsed = parse(doc, model_of(Stops), lambda loc: PLAN_ON)
    if parsed is None or drive is None:
        return None
    stops = made(
        Stops,
        parsed.model,
        forced_stops=_forced_stops(parsed, drive),
        entry_rows=_entry_rows(parsed),
        windows=_windows(parsed, drive),
        keep_outs=_keep_outs(parsed, drive),
    )
    _check_windows(parsed, stops)
    return stops if doc.log.forbidding("plan") == before else None


def _forced_stops(parsed: Parsed, drive: Drive) -> tuple[ForcedStop, ...]:
    found: list[ForcedStop] = []
    for index, item in enumerate(parsed.model.forced_stop):
        ends = stretch(parsed, "forced_stop", index, drive, forbids=PLAN_ON)
        if ends is None:
            continue
        row = made(ForcedStop, item, from_m=ends[0], to_m=ends[1], origin=parsed.origin("forced_stop", index))
        for other in found:
            if row.from_m < other.to_m - 1e-9 and other.from_m < row.to_m - 1e-9:
                parsed.fault(
                    parsed.loc("forced_stop", index, "from_chainage_m"),
                    f"overlaps the row in line {other.origin.line}: one stretch, one cost; shorten one of them",
                    code="overlap", forbids=PLAN_ON,
                )  # fmt: skip
                break
        found.append(row)
    return tuple(sorted(found, key=lambda row: row.from_m))


def _entry_rows(parsed: Parsed) -> tuple[EntryRow, ...]:
    found: dict[tuple[str, float], EntryRow] = {}
    for index, item in enumerate(parsed.model.entry):
        key = (item.mode, item.up_to_pressure_bar)
        if key in found:
            parsed.fault(
                parsed.loc("entry", index, "up_to_pressure_bar"),
                f"there is a row for {item.mode} up to {item.up_to_pressure_bar:g} bar already in line "
                f"{found[key].origin.line}; which one is approved?",
                code="doubled", forbids=PLAN_ON,
            )  # fmt: skip
            continue
        found[key] = made(EntryRow, item, origin=parsed.origin("entry", index))
    return tuple(sorted(found.values(), key=lambda row: (row.mode, row.up_to_pressure_bar)))


def _windows(parsed: Parsed, drive: Drive) -> tuple[Window, ...]:
    found = []
    names: dict[str, int] = {}
    for index, item in enumerate(parsed.model.window):
        who = f"window {shown(item.name)}"
        if item.name in names:
            parsed.fault(
                parsed.loc("window", index, "name"),
                f"{who} is there already in line {names[item.name]}; give each its own name",
                code="doubled", forbids=PLAN_ON,
            )  # fmt: skip
        names.setdefault(item.name, parsed.origin("window", index).line)
        pressurised = item.mode not in ("free air", "divers")
        if pressurised != (item.pressure_bar > 0) and item.mode != "divers":
            parsed.fault(
                parsed.loc("window", index, "pressure_bar"),
                f"{who}: {item.mode} at {item.pressure_bar:g} bar contradicts itself; correct the mode or the pressure",
                code="contradiction", forbids=PLAN_ON,
            )  # fmt: skip
        ends = stretch(parsed, "window", index, drive, forbids=PLAN_ON)
        if ends is not None:
            found.append(made(Window, item, from_m=ends[0], to_m=ends[1], origin=parsed.origin("window", index)))
    return tuple(sorted(found, key=lambda window: (window.from_m, window.to_m)))


def _keep_outs(parsed: Parsed, drive: Drive) -> tuple[KeepOut, ...]:
    found = []
    for index, item in enumerate(parsed.model.keep_out):
        ends = stretch(parsed, "keep_out", index, drive, forbids=PLAN_ON)
        if ends is not None:
            found.append(made(KeepOut, item, from_m=ends[0], to_m=ends[1], origin=parsed.origin("keep_out", index)))
    return tuple(sorted(found, key=lambda keep_out: keep_out.from_m))


def _check_windows(parsed: Parsed, stops: Stops) -> None:
    log = parsed.doc.log
    for window in stops.windows:
        who = f"window {shown(window.name)}"
        for keep_out in stops.keep_outs:
            if window.from_m >= keep_out.to_m or keep_out.from_m >= window.to_m:
                continue
            inside = keep_out.from_m <= window.from_m and window.to_m <= keep_out.to_m
            log.add(
                window.origin.file, window.origin.line, "[[window]] from_chainage_m",
                f"{who} lies {'inside' if inside else 'partly inside'} the keep-out of line {keep_out.origin.line} "
                f"({shown(keep_out.reason)}): the keep-out holds, no stop is planned there; correct one of them",
                code="window-in-keep-out", forbids=NOTHING,
            )  # fmt: skip
        if window.mode not in ("free air", "compressed air"):
            continue
        highest = max((row.up_to_pressure_bar for row in stops.entry_rows if row.mode == window.mode), default=None)
        if highest is None or highest < window.pressure_bar:
            log.add(
                window.origin.file, window.origin.line, "[[window]] pressure_bar",
                f"{who}: no [[entry]] row for {window.mode} reaches {window.pressure_bar:g} bar, so the window cannot "
                "be used; add the row of the approved procedure",
                code="no-entry-row", forbids=NOTHING,
            )  # fmt: skip
