"""What a sheet says once in words: its legend, its colours, how angles are counted, how wear is measured."""

# ruff: noqa: E501 (tables of words: one meaning a line)
from __future__ import annotations

import re

from wearplan.take.find.words import CHANGED, CONDITIONS, NOT_READ, holds, is_word, plain_word, word_for

_EMPTY = ("empty", "leer", "vide", "vacio", "blank", "en blanco", "case vide", "celda vacia")
_COLOURS = (
    ("red", ("red", "rot", "rouge", "rojo", "pink", "rosa", "rose")),
    ("yellow", ("yellow", "gelb", "jaune", "amarillo")),
    ("green", ("green", "grun", "vert", "verde")),
    ("blue", ("blue", "blau", "bleu", "azul")),
    ("orange", ("orange", "naranja")),
    ("grey", ("grey", "gray", "grau", "gris")),
)
_DISC = ("disc", "disk", "rolle", "schneidrolle", "molette", "cortador", "cutter", "disco")
_OTHER = ("other", "ander", "ubrig", "autre", "otr", "demas", "resto", "scraper", "schalmesser", "racleur", "rascador")
_MEASURES = (
    (
        "remaining",
        ("remaining", "restmass", "resthohe", "restant", "residuel", "restante", "remanente", "residual", "rest "),
    ),
    ("diameter", ("diameter", "durchmesser", "diametre", "diametro")),
    (
        "share of the limit",
        ("% of limit", "share of", "percent of", "prozent", "% der", "% de la limite", "% del limite"),
    ),
    ("used", ("wear", "verschleiss", "usure", "desgaste", "abnutzung", "radial", "hauteur", "height lost")),
)


def legend(text: str) -> dict[str, tuple[str, str]]:
    """Plain written word -> (what it is, our word), from pairs such as ``n.r. = not reached``."""
    found: dict[str, tuple[str, str]] = {}
    for part in re.split(r"[,;\n]|\.\s+(?=[A-Z])|\s\|\s", text):
        match = re.match(r"\s*(?:[\w ]{0,12}:\s*)?(.{1,24}?)\s*(?:=|:|→|–>)\s*(.+)\Z", part)
        if not match:
            continue
        key, said = plain_word(match[1]), match[2]
        key = re.sub(r"^(legend|legende|leyenda|key)\s+", "", key)
        why = word_for(said, NOT_READ)
        condition = word_for(said, CONDITIONS)
        if is_word(key, _EMPTY):
            found["(empty)"] = ("empty", why or "not looked at")
        elif why:
            found[key] = ("not_read", why)
        elif is_word(said, CHANGED) or any(holds(plain_word(said), c) for c in CHANGED if len(c) > 3):
            found[key] = ("changed", "changed")
        elif condition:
            found[key] = ("condition", condition)
    return found


def colour_name(rgb: str) -> str:
    """The plain name of a colour written RRGGBB."""
    try:
        red, green, blue = (int(rgb[at : at + 2], 16) for at in (0, 2, 4))
    except ValueError:
        return ""
    high, low = max(red, green, blue), min(red, green, blue)
    if high - low < 24:
        return "grey"
    if red == high:
        if green > 0.85 * red and blue < green - 20:
            return "yellow"
        return "orange" if green > blue + 60 and green > 0.55 * red else "red"
    return "green" if green == high else "blue"


def colour_said(text: str, rgb: str) -> bool | None:
    """Whether the sheet's words call this colour changed; None where they do not speak of it."""
    name = colour_name(rgb)
    stems = next((stems for ours, stems in _COLOURS if ours == name), ())
    for part in re.split(r"[,;\n.]", text):
        plain = plain_word(part)
        if any(f" {stem} " in f" {plain} " for stem in stems):
            return any(holds(plain, word) for word in CHANGED if len(word) > 3)
    return None


def measures_said(text: str) -> dict[str, str]:
    """How wear is measured, for ``disc`` and ``other``, where a title says so."""
    found: dict[str, str] = {}
    for line in text.split("\n"):
        for part in re.split(r"[,;]", line.split(":", 1)[1] if ":" in line and "=" in line else line):
            plain = plain_word(part)
            what = next((ours for ours, stems in _MEASURES if any(holds(plain, s) for s in stems)), None)
            if what is None or len(plain) > 90:
                continue
            disc, other = any(holds(plain, s) for s in _DISC), any(holds(plain, s) for s in _OTHER)
            if what == "diameter" and not disc and other:
                continue
            if disc and not other:
                found.setdefault("disc", what)
            elif other and not disc:
                found.setdefault("other", what)
            elif what != "diameter":
                found.setdefault("all", what)
    return found


def methods_said(text: str) -> str | None:
    """``gauge``, ``caliper`` and ``by eye`` by group, where a legend says so."""
    words = (
        ("gauge", ("gauge", "lehre", "gabarit", "galga", "calibre")),
        ("caliper", ("caliper", "schieblehre", "pied a coulisse", "pie de rey")),
        ("by eye", ("by eye", "auge", "a l oeil", "visuel", "a ojo", "visual", "optisch")),
    )
    groups: dict[str, str] = {}
    for part in re.split(r"[,;\n.]", text):
        plain = plain_word(part)
        method = next((ours for ours, stems in words if any(holds(plain, s) for s in stems)), None)
        if method is None or len(plain) > 60:
            continue
        if any(holds(plain, s) for s in _OTHER):
            groups["other"] = method
        elif any(holds(plain, s) for s in _DISC):
            groups["disc"] = method
    if len(groups) == 2:
        return f"discs {groups['disc']}, other tools {groups['other']}"
    return None


_ZERO = re.compile(
    r"\b(12|3|6|9)\s*(?:o clock|uhr|h00|h\b|heures|heure|horas|en punto)|\ba las (12|3|6|9)\b|\b(?:las|les) (12|3|6|9)\b"
)


def angles_said(text: str) -> tuple[int | None, str | None, str | None]:
    """(Hour angles start at, ``clockwise`` or ``counter-clockwise``, seen from ``machine`` or ``face``)."""
    plain = plain_word(text.replace("'", " ").replace("’", " "))
    zero = _ZERO.search(plain)
    hour = int(next(part for part in zero.groups() if part)) if zero else None
    if hour is None and re.search(r"\b(top|oben|crown|firste|haut|arriba|clave|from the top)\b", plain):
        hour = 12
    sense = None
    if re.search(
        r"counter ?clockwise|anti ?clockwise|gegen (den )?uhrzeiger|entgegen|anti ?horaire|sens inverse|anti ?horario|contrario a las agujas",
        plain,
    ):
        sense = "counter-clockwise"
    elif re.search(
        r"clockwise|im uhrzeiger|uhrzeigersinn|sens horaire|aiguilles d une montre|sentido horario|agujas del reloj",
        plain,
    ):
        sense = "clockwise"
    side = None
    if re.search(
        r"(from|aus|depuis|de|von|desde|in) (the |der |dem |la |le |l )?(machine|maschine|behind|hinten|arriere|maquina|tbm|tuneladora|back|shield|schild|vortriebsrichtung|detras|tunnelier)",
        plain,
    ):
        side = "machine"
    elif re.search(
        r"(from|aus|depuis|von|desde|auf) (the |der |dem |die |el |le |l )?(face|front|ortsbrust|vorn|frente|avant|terrain|ground|boden)",
        plain,
    ):
        side = "face"
    return hour, sense, side
