"""A mapping proposed from the heads of an export, for a person to check before it is used."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from pathlib import Path

from wearplan.site.parse.delimited import Row, decoded, head_word, is_empty, moment, rows_of, separator_of
from wearplan.site.parse.safe_text import clean_line

_PLACE = ("chainage", "station", "stationierung", "tunnelmeter", "sta", "pk", "pm", "progresiva")
_ENDS = {"start", "from", "begin", "von", "anfang", "debut", "inicio", "end", "to", "bis", "ende", "fin"}
_TURNS = ("revolutions", "turns", "rotations", "umdrehungen", "tours", "vueltas", "revs")
_WORDS: dict[str, tuple[tuple[str, ...], ...]] = {
    "ring": (("ring", "ringnr", "ringnummer", "anneau", "anillo"),),
    "start_chainage_m": (_PLACE, ("start", "from", "begin", "von", "anfang", "debut", "de", "inicio", "desde")),
    "end_chainage_m": (_PLACE, ("end", "to", "bis", "ende", "fin", "a", "hasta")),
    "chainage_m": (_PLACE,),
    "stroke_m": (("stroke", "hub", "vortriebsweg"),),
    "revolutions_idle": (_TURNS, ("idle", "leer", "leerlauf")),
    "revolutions_total": (_TURNS, ("total", "all", "gesamt")),
    "revolutions_boring": (_TURNS,),
    "rotation_rpm": (("rpm", "rotation", "drehzahl", "speed"),),
    "boring_minutes": (("boring", "bohrzeit", "vortriebszeit", "mining"),),
    "thrust_kn": (("thrust", "vorschubkraft", "vorschub", "anpresskraft", "poussee", "empuje"),),
    "torque_knm": (("torque", "drehmoment", "couple", "par"),),
    "face_pressure_bar": (("pressure", "stutzdruck", "druck", "pression", "presion"),),
    "regime": (("regime", "mode", "modus"),),
    "finished_at": (
        (
            "finished",
            "end",
            "time",
            "date",
            "zeit",
            "datum",
            "zeitstempel",
            "timestamp",
            "ende",
            "fin",
            "fecha",
            "heure",
            "hora",
        ),
    ),
}
"""By our name: words of which the head must have one out of each group. The first name that fits takes a head."""
_ROW_A_RING = ("ring", "start_chainage_m", "end_chainage_m", "finished_at", "revolutions_boring", "revolutions_idle",
               "revolutions_total", "rotation_rpm", "boring_minutes", "thrust_kn", "torque_knm", "face_pressure_bar",
               "regime")  # fmt: skip
_ROW_A_SECOND = (
    "time",
    "ring",
    "chainage_m",
    "stroke_m",
    "rotation_rpm",
    "thrust_kn",
    "torque_knm",
    "face_pressure_bar",
)
_FORMS = (
    "%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M", "%d.%m.%y %H:%M", "%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S", "%d/%m/%Y %H:%M",
    "%m/%d/%Y %H:%M", "%Y/%m/%d %H:%M:%S", "%Y%m%d%H%M%S",
)  # fmt: skip


def propose_mapping(path: Path) -> str | None:
    """The text of a mapping for an export, None where its heads tell too little.

    Nothing rests on it before a person has checked it; units are taken from the heads where they stand in brackets.
    """
    try:
        with path.open("rb") as file:
            start = file.read(256 * 1024)
        text = decoded(start[: start.rfind(b"\n") + 1] or start)
    except (OSError, ValueError):
        return None
    rows = rows_of(text, separator_of(text))
    header = max(rows[:200], key=lambda row: len(_named(row.cells)), default=None)
    if header is None:
        return None
    named = _named(header.cells)
    below = [row for row in rows if row.line > header.line]
    if "finished_at" in named and _often_the_same(below, named):
        named["time"] = named["finished_at"]
        return _text("samples", _ROW_A_SECOND, named, header, below)
    if "chainage_m" in named:
        named.setdefault("end_chainage_m", named["chainage_m"])
    if "ring" not in named or not {"start_chainage_m", "end_chainage_m"} & set(named):
        return None
    return _text("columns", _ROW_A_RING, named, header, below)


def _named(cells: Sequence[str]) -> dict[str, int]:
    """Our names for the heads they fit, with their places."""
    named: dict[str, int] = {}
    for place, cell in enumerate(cells):
        words = set(re.sub(r"[^a-z]+", " ", head_word(re.sub(r"[\[(].*", "", cell))).split())
        if words & _ENDS and re.search(r"[\[(]\s*m\s*[\])]", cell):
            words.add("chainage")  # an end in metres is a place, not a time
        for name, groups in _WORDS.items():
            if name not in named and all(words & set(group) for group in groups):
                named[name] = place
                break
    return named


def _often_the_same(rows: Sequence[Row], named: dict[str, int]) -> bool:
    """Whether many rows tell of one ring: then they are samples."""
    place = named.get("ring", named.get("chainage_m", named.get("stroke_m")))
    told = [row.cells[place] for row in rows if place is not None and place < len(row.cells)]
    return len(told) > 20 and len(set(told)) < len(told) / 2


def _text(table: str, names: Sequence[str], named: dict[str, int], header: Row, rows: Sequence[Row]) -> str:
    lines = ["# Proposed from the heads of the export: check every line, above all units and which end a chainage is."]
    time_place = named.get("time", named.get("finished_at"))
    form = _form(rows, time_place) if time_place is not None else None
    if form is not None:
        lines += ["[time]", f"form = {json.dumps(form)}", '# offset = "+01:00"', ""]
    lines.append(f"[{table}]")
    for name in names:
        if name in named:
            lines.append(f"{name} = {json.dumps(clean_line(header.cells[named[name]]), ensure_ascii=False)}")
    if table == "samples" and "ring" not in named:
        lines += ["", "[sampling]", "# first_ring = 1"]
    return "\n".join(lines) + "\n"


def _form(rows: Sequence[Row], place: int) -> str | None:
    """The form that fits every time in the first rows; None for ISO 8601 or where none fits."""
    told = [row.cells[place] for row in rows[:500] if place < len(row.cells) and not is_empty(row.cells[place])]
    told = [text for text in told if any(character.isdigit() for character in text)]
    for forms in ((), *((form,) for form in _FORMS)):
        try:
            for text in told:
                moment(text, forms)
        except ValueError:
            continue
        return forms[0] if forms and told else None
    return None
