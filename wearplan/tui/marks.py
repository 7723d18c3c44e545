"""What the marks on the wheel say, by the way of showing chosen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from wearplan.report.drawing.face import Mark, age_texts, chance_texts, wear_texts
from wearplan.tui.display import Display

if TYPE_CHECKING:
    from wearplan.history import Life, Reading
    from wearplan.tui.state import Snapshot

SHOWS = {
    "wear": "wear now",
    "chance": "chance of passing the limit",
    "seen": "when last read",
    "zone": "zone and arm",
    "number": "place numbers",
}
"""Way of showing: its words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceNow:
    """What is known of one place at the face."""

    number: int
    serial: str | None
    tool_type: str
    kind: str
    zone: str
    arm: str | None
    limit_mm: float
    read_mm: float | None
    """The last sound reading of the tool in place."""
    read_at_m: float | None
    stops_ago: int | None
    """Inspections since this place was last read; None: never."""
    wear_mm: float | None
    """Median of the outlook at the face; the last reading while there is no outlook."""
    band_mm: tuple[float | None, float | None]
    """The range it lies in nine times out of ten."""
    unknown: bool
    """True while nothing was read of the tool in place."""


def places_now(snapshot: Snapshot) -> dict[int, PlaceNow]:
    """Every place of the wheel as it stands, by number."""
    site, history = snapshot.site, snapshot.history
    if site is None or history is None:
        return {}
    layout = history.layout
    tools = snapshot.tools
    visits = [inspection.driven_m for inspection in site.inspections]
    rows = {}
    for index, position in enumerate(layout.positions):
        life = history.current.get(position.number)
        read = _last_sound(life)
        seen = history.last_seen.get(position.number)
        tool = tools.get(position.number)
        wear = tool.wear_now_mm.p50 if tool else (read.wear_mm if read else None)
        band = (tool.wear_now_mm.p05, tool.wear_now_mm.p95) if tool else (None, None)
        fresh = life is not None and life.fitted_by is not None
        rows[position.number] = PlaceNow(
            number=position.number,
            serial=life.serial if life else None,
            tool_type=position.tool_type,
            kind=layout.kinds[index],
            zone=position.zone,
            arm=position.arm,
            limit_mm=float(layout.limit_mm[index]),
            read_mm=read.wear_mm if read else None,
            read_at_m=read.driven_m if read else None,
            stops_ago=None if seen is None else sum(1 for at in visits if at > seen[0] + 1e-6),
            wear_mm=wear,
            band_mm=band,
            unknown=bool(getattr(tool, "unknown", False)) or (read is None and not fresh),
        )
    return rows


def _last_sound(life: Life | None) -> Reading | None:
    """The last reading of a tool that says how worn it was."""
    told = life.readings if life else ()
    return next((reading for reading in reversed(told) if reading.sound and reading.wear_mm is not None), None)


def marks_of(
    snapshot: Snapshot, rows: dict[int, PlaceNow], show: str, at_m: float | None, display: Display
) -> list[Mark]:
    """The marks for a way of showing; ``at_m`` is the place the chance is for."""
    site, history, outlook = snapshot.site, snapshot.history, snapshot.outlook
    if site is None or history is None:
        return []
    chances: dict[int, float] = {}
    if show == "chance" and outlook is not None and at_m is not None:
        chances = dict(zip(outlook.numbers.tolist(), outlook.over_limit_probability(at_m).tolist(), strict=True))
    arms = sorted({position.arm for position in history.layout.positions if position.arm})
    marks = []
    for position in history.layout.positions:
        row = rows[position.number]
        if show == "wear":
            share = None if row.wear_mm is None or row.unknown else row.wear_mm / row.limit_mm
            texts = wear_texts(share, display.wear_short(row.wear_mm or 0.0))
        elif show == "chance":
            cap = site.wheel.max_over_limit_probability.get(position.zone)
            texts = chance_texts(chances.get(position.number), cap)
        elif show == "seen":
            texts = age_texts(row.stops_ago)
        elif show == "zone":
            both = position.zone[0] + (position.arm or "")[:1]
            level = ("light", "worn", "near", "plain")[arms.index(position.arm) % 4] if position.arm else "plain"
            texts = {"short": both[0], "middle": both, "long": both, "level": level}
        else:
            name = str(position.number)
            texts = {"short": name[-1], "middle": name[-2:], "long": f"{name:>3}", "level": "plain"}
        marks.append(
            Mark(
                number=position.number,
                track_radius_mm=position.track_radius_mm,
                angle_deg=position.angle_deg,
                **texts,
            )
        )
    return marks
