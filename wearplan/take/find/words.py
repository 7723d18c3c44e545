"""Trade words of four languages (English, German, French, Spanish), by their beginnings, without accents."""

# ruff: noqa: E501 (tables of words: one meaning a line)
from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

Groups = tuple[tuple[str, ...], ...]

STOP_HEADS = {
    "ring": "ring",
    "date": "date",
    "finished": "date",
    "end_chainage": "chainage",
    "start_chainage": "chainage",
    "stop": "number",
    "mode": "mode",
    "pressure_air": "pressure",
    "face_pressure": "pressure",
}
"""Meanings of heads that say something of a stop, and what it is."""
TELLS_THE_STOP = frozenset(("ring", "date", "stop", "end_chainage", "finished"))
"""Those by which a row says which stop it is of."""
WEARS = ("wear", "remaining", "measured_diameter", "limit_share")
"""Meanings of heads that stand over readings."""

_PLACE = ("chainage", "station", "stationierung", "tunnelmeter", "sta", "ch", "pk", "pm", "p k", "p m", "kp", "kilometr",
          "progresiva", "abscisa", "point kilometrique", "point metrique", "tm", "metrierung", "stat")  # fmt: skip
_START = ("start", "from", "begin", "von", "anfang", "debut", "de", "desde", "inicio", "inicial", "origine")
_END = ("end", "endstation", "to", "bis", "ende", "fin", "a", "au", "hasta", "final")
_TURNS = ("revolution", "turns", "rotations", "umdrehung", "tours", "vueltas", "revoluciones", "giros", "revs")
_NUMBER = ("s/n", "serial", "serie", "seriennr", "nr", "no", "n", "num", "ident")
_OUT = ("removed", "out", "old", "ausbau", "ausgebaut", "alt", "depose", "enleve", "retirad", "saliente", "sale", "off", "quitad", "desmontad", "ancien", "viej", "antigu")  # fmt: skip
_IN = ("fitted", "installed", "in", "new", "einbau", "eingebaut", "neu", "pose", "monte", "instalad", "entrante", "entra", "colocad", "montad", "nouveau", "nuev", "on")  # fmt: skip

RULES: tuple[tuple[str, Groups, tuple[str, ...]], ...] = (
    # meaning, one word out of each group, words that forbid it
    ("batch", (("batch", "charge nr", "charge no", "chargennr", "chargennummer", "lot no", "no lot", "de lot", "n lot", "numero de lot", "no de coulee", "lote", "heat no", "delivery no", "lieferung nr"),), ()),
    ("boundary", (("boundary", "grenze", "cote", "limite geol", "interface", "cota", "contacto", "trennflache", "limites /"),), ("wear", "verschleiss", "usure", "desgaste")),
    ("boundary", (("top",), ("axis", "stratum", "layer")), ()),
    ("water", (("water", "wasser", "eau", "agua", "nappe", "groundwater"),), ()),
    ("penetration", (("penetration", "penetracion", "eindringung", "mm/rev", "mm/u", "mm/tr", "mm/vuelta"),), ()),
    ("overcut", (("overcut", "uberschnitt", "surcoupe", "sobrecorte"),), ()),
    ("start_chainage", (_PLACE, _START), ()),
    ("end_chainage", (_PLACE, _END), ()),
    ("old_serial", (_NUMBER, _OUT), ("pos", "type", "typ")),
    ("new_serial", (_NUMBER, _IN), ("pos", "type", "typ", "diameter")),
    ("old_serial", (("ausbau", "depose", "removed", "retirad", "desmontad"),), ("datum", "date", "fecha")),
    ("new_serial", (("einbau", "pose", "fitted", "instalad", "montad"),), ("datum", "date", "fecha", "position", "posicion")),
    ("wear_after", (("wear", "verschleiss", "usure", "desgaste"), ("new tool", "fitted", "after", "nachher", "apres", "despues")), ()),
    ("wear_limit", (("limit", "grenz", "admissible", "maximal", "max", "zulassig", "admisible", "permis", "verschleissgrenze", "limite", "allowed", "seuil", "umbral", "tope"), ("wear", "verschleiss", "usure", "desgaste", "verschleissgrenze", "limit", "change")), ("damage", "schaden", "dano", "dommage")),
    ("wear_limit", (("verschleissgrenze", "wechselgrenze", "verschleissmass"),), ("schaden",)),
    ("damage_limit", (("damage", "schaden", "dommage", "endommagement", "dano", "rotura"), ("limit", "ab", "wear", "verschleiss", "usure", "desgaste", "a partir", "seuil")), ()),
    ("rebuild_price", (("rebuild", "aufarbeit", "refection", "reparation", "reconstruc", "reacondic", "refurb", "reparac"), ("price", "preis", "prix", "precio", "cost", "kosten", "cout", "coste", "eur", "usd", "€", "$", "chf", "gbp")), ()),
    ("price", (("price", "preis", "prix", "precio", "unit cost", "stuckkosten", "cout", "coste"),), ()),
    ("lead_time", (("lead time", "lieferzeit", "lieferfrist", "delai", "plazo", "delivery time", "livraison", "entrega"),), ("date", "datum", "fecha")),
    ("hours_ca", (("hours", "change", "wechsel", "stunden", "heures", "remplacement", "horas", "cambio", "duree", "dauer", "tiempo"), ("compressed", "druckluft", "air comprime", "comprimido", "hyperbar", "uberdruck")), ()),
    ("hours_fa", (("hours", "change", "wechsel", "stunden", "heures", "remplacement", "horas", "cambio", "duree", "dauer", "tiempo"), ("free air", "atmosph", "frei", "libre", "normal")), ()),
    ("new_height", (("neumass", "new height", "height new", "hauteur neuve", "hauteur initiale", "altura nueva", "altura inicial", "neuhohe", "nominal height", "original height"),), ()),
    ("diameter_new", (("diameter", "durchmesser", "diametre", "diametro", "dia"), ("new", "neu", "neuf", "initial", "nuev", "nominal", "tool", "disc", "cutter", "outil")), ("track", "spur")),
    ("track_diameter", (("diameter", "durchmesser", "diametre", "diametro", "dia"), ("track", "spur", "trace", "traza", "path", "piste", "kinematic", "bahn", "trayectoria", "pista", "rodadura")), ()),
    ("radius", (("radius", "rayon", "radio", "halbmesser", "laufradius", "r mm", "r m"),), ("tip",)),
    ("track", (("track", "spur", "bahn", "piste", "pista", "trace", "trayectoria", "schneidspur"),), ()),
    ("tilt", (("tilt", "neigung", "inclinaison", "inclinacion", "cant", "kippwinkel"),), ()),
    ("angle", (("angle", "winkel", "angulo", "position horaire", "uhrposition", "clock", "posicion horaria", "azimut", "hora", "polar", "uhrzeit"),), ()),
    ("zone", (("zone", "zona", "bereich", "area", "region"),), ("time",)),
    ("housing", (("housing", "gehause", "boitier", "carcasa", "twin", "saddle", "alojamiento", "logement", "holder", "portaherr"),), ()),
    ("row", (("row", "reihe", "rangee", "fila", "hilera"),), ()),
    ("arm", (("arm", "bras", "brazo", "speiche", "spoke", "radial arm"),), ()),
    ("cuts", (("cuts", "schneidrichtung", "drehsinn", "sens de coupe", "corta", "sentido"),), ()),
    ("make", (("make", "manufacturer", "hersteller", "fabrica"),), ("date", "datum", "fecha", "year", "jahr")),
    ("new_type", (("new", "neu", "nouveau", "nuev"), ("type", "typ", "bauart", "tipo")), ()),
    ("kind", (("kind", "art", "famille", "clase", "gattung", "category", "categorie", "familia", "genre"),), ("artik",)),
    ("part_worn", (("part worn", "teilverschl", "gebraucht", "used tools", "partiellement", "usados", "occasion", "semi"),), ()),
    ("in_rebuild", (("rebuild", "aufarbeit", "reparation", "reparac", "taller", "werkstatt", "refurb", "revision", "reacondic", "workshop"),), ("price", "preis", "prix", "precio", "eur")),
    ("on_order", (("on order", "ordered", "bestellt", "bestell", "commande", "pedid", "en pedido", "offen", "in transit"),), ("date", "datum", "fecha")),
    ("due", (("expected", "due", "liefertermin", "termin", "eta", "prevu", "prevista", "arrival", "llegada", "livraison prevue", "erwartet"),), ()),
    ("on_hand", (("on hand", "on shelf", "shelf", "stock", "bestand", "en stock", "existencia", "lager", "lagerbestand", "magasin", "disponible", "almacen", "qty", "in store"),), ("code",)),
    ("quantity", (("quantity", "menge", "quantite", "cantidad", "qte", "stuckzahl", "anzahl", "pcs"),), ()),
    ("boulders", (("boulder", "blocke", "steine", "blocs", "bolos", "bloques", "findling"),), ()),
    ("cai", (("cai", "cerchar"),), ()),
    ("lac", (("lac", "lak", "lcpc", "abr"),), ()),
    ("ucs", (("ucs", "einaxial", "uniaxial", "druckfestigkeit", "rcs", "compressive", "simple", "rc mpa"),), ("unit",)),
    ("eqc", (("quartz", "quarz", "eqc", "cuarzo"),), ()),
    ("d60", (("d60",),), ()),
    ("shear", (("shear", "scher", "cisaillement", "cortante", "cohesion undrained"),), ()),
    ("idle", (_TURNS, ("idle", "leer", "vide", "vacio")), ()),
    ("total_turns", (_TURNS, ("total", "gesamt", "all", "totales", "totaux")), ()),
    ("turns", (_TURNS,), ("rpm", "min", "idle", "leer")),
    ("rpm", (("rpm", "drehzahl", "speed", "vitesse de rotation", "velocidad", "u/min", "tr/min"),), ()),
    ("boring_minutes", (("boring time", "bohrzeit", "vortriebszeit", "mining time", "temps de creusement", "duree de creusement", "tiempo de excavacion", "excavation time"),), ()),
    ("thrust", (("thrust", "vorschub", "vortriebskraft", "anpress", "poussee", "empuje"),), ("weg", "rate")),
    ("torque", (("torque", "drehmoment", "couple", "par", "momento"),), ()),
    ("pressure_air", (("druckluft", "luftdruck", "air pressure", "air comprime", "aire comprimido", "entry pressure", "hyperbar", "arbeitsdruck"),), ("hour", "change", "wechsel")),
    ("face_pressure", (("face pressure", "stutzdruck", "pression", "presion", "pressure", "support pressure", "druck", "earth pressure"),), ()),
    ("regime", (("regime", "betriebsart", "operating mode"),), ()),
    ("mode", (("mode", "modus", "entry", "einstieg", "acces", "modalidad", "modo", "zutritt", "access"),), ()),
    ("not_read", (("not read", "nicht gemessen", "non mesure", "no medid", "why not"),), ()),
    ("limit_share", (("% of limit", "% limit", "share of limit", "percent", "prozent", "pourcent", "porcent"),), ()),
    ("remaining", (("remaining", "restmass", "resthohe", "rest", "restant", "residuel", "restante", "reste", "remanente", "residual", "resto", "height left", "mm left", "thickness left"),), ("restart",)),
    ("measured_diameter", (("measured diameter", "diametre mesure", "diameter measured", "gemessener durchmesser", "diametro medido", "diameter", "diametre", "durchmesser", "diametro"),), ()),
    ("wear", (("wear", "verschleiss", "usure", "desgaste", "reading", "messung", "mesure", "medida", "lectura", "found", "messwert", "abnutzung", "medicion", "lecture"),), ("type", "tool")),
    ("condition", (("condition", "zustand", "etat", "estado", "befund", "damage", "schaden", "finding"),), ()),
    ("method", (("method", "methode", "metodo", "verfahren", "gauge used", "lehre"),), ()),
    ("old_to", (("old tool to", "goes to", "verbleib", "destination", "destino", "devenir", "disposition", "sent to"),), ()),
    ("action", (("action", "massnahme", "intervention", "accion", "operation", "tatigkeit", "work done", "changed", "gewechselt", "change ", "remplace", "cambiad", "operacion", "cambio"),), ("hour", "date")),
    ("reason", (("reason", "grund", "motif", "motivo", "ursache", "causa", "cause"),), ()),
    ("serial", (("s/n", "serial", "seriennr", "seriennummer", "n serie", "no serie", "numero de serie", "n de serie"),), ()),
    ("finished", (("finished", "fertig", "ring end", "end of ring", "fin de creusement", "fin d", "hora fin", "fecha fin", "ende", "end time", "built at", "completed", "zeitstempel", "timestamp", "fin excav", "fecha y hora", "date/time"),), ("chainage", "station", "pm", "pk")),
    ("date", (("date", "datum", "fecha", "day", "tag ", "jour", "dia "),), ()),
    ("stop", (("stop", "halt", "arret", "parada", "inspection", "kontrolle", "controle", "inspeccion", "intervention no", "visit", "entry no", "einstieg nr"),), ()),
    ("ring", (("ring", "anneau", "anillo", "ringnr", "ringnummer", "tubbing", "dovela"),), ("chainage", "station", "length", "damage")),
    ("advance", (("advance", "vortrieb", "avance", "avancement", "stroke", "hub", "ring length", "longueur"),), ("rate", "/h", "mm/min")),
    ("end_chainage_only", (_PLACE,), ()),
    ("face_kind", (("face", "ortsbrust", "front", "frente"),), ()),
    ("units", (("units", "schichten", "terrains", "unidades"),), ()),
    ("mix", (("mix", "gemischt", "melange", "mezcla"),), ()),
    ("unit", (("unit", "schicht", "terrain", "unidad", "boden", "geol code", "stratum", "formation", "facies"),), ()),
    ("unit_name", (("ground", "nature", "description", "beschreibung", "naturaleza", "lithology", "lithologie", "descripcion", "bezeichnung", "terreno", "material"),), ()),
    ("sample", (("sample", "probe", "echantillon", "muestra", "specimen"),), ()),
    ("test", (("test", "versuch", "essai", "ensayo", "parameter"),), ()),
    ("value", (("value", "wert", "valeur", "valor", "result", "resultat", "ergebnis", "resultado"),), ()),
    ("remark", (("remark", "bemerkung", "observ", "note", "comment", "anmerkung", "nota", "comentario"),), ()),
    ("sequence", (("lfd", "laufende", "item no", "seq", "line no", "id"),), ()),
    ("place", (("pos", "position", "place", "platz", "repere", "emplacement", "posicion", "puesto", "cutter no", "tool no", "werkzeug nr", "werkzeugnr", "werkzeug", "cutter", "meissel nr", "n outil", "outil", "herramienta", "tool", "schneidrolle", "no outil", "cortador", "ubicacion", "werkzeugplatz", "util", "n util", "no util"),), ("type", "typ", "tipo", "horaire", "werkzeugtyp", "werkzeugart")),
    ("type", (("type", "typ", "bauart", "tipo", "modele", "model", "modelo", "werkzeugtyp", "item", "article", "artikel", "articulo", "designation"),), ()),
    ("code", (("code", "codigo", "kurzel", "cle", "clave", "symbol"),), ()),
    ("name", (("name", "nom", "nombre"),), ()),
    ("end_chainage", (_END,), ()),
    ("start_chainage", (_START,), ()),
)  # fmt: skip
"""The first rule that fits a head gives its meaning."""


_LAST = frozenset(
    ("radius", "durchmesser", "winkel", "datum", "station", "umdrehung", "drehzahl", "moment", "kraft", "druck", "nummer",
     "bestand", "gehause", "zustand", "messung", "messwert")
)  # fmt: skip
"""Words that German writes at the end of a compound, which they then name: Spurradius, Kontrolldatum."""


@lru_cache(maxsize=1 << 16)
def plain_word(text: str) -> str:
    """Small letters without accents and signs, units in brackets taken off; ø reads as diameter."""
    bare = re.sub(r"[\[(][^\])]*[\])]", " ", text)
    bare = bare.replace("Ø", " diameter ").replace("ø", " diameter ").replace("⌀", " diameter ").replace("°", " ")
    bare = bare.replace("ß", "ss").replace("№", "no")
    bare = unicodedata.normalize("NFKD", bare).casefold()
    bare = "".join(c for c in bare if not unicodedata.combining(c))
    return " ".join(re.sub(r"[^a-z0-9%/$€]+", " ", bare).split())


def holds(plain: str, stem: str) -> bool:
    """Whether a plain text has a word that begins so; stems of one or two letters are whole words."""
    if len(stem.strip()) <= 3 or stem in ("rest", "resto", "dia ", "tag ", "area", "hora", "item", "final", "stat"):
        return f" {stem.strip()} " in f" {plain} " or (stem.strip() == "pos" and f" {plain}".startswith(" pos"))
    return f" {stem}" in f" {plain}" or (stem in _LAST and re.search(rf"{stem}(?:en|er|e|s|n)?\b", plain) is not None)


def meaning_of(head: str) -> str:
    """What a column's head says it holds; empty where it is not known."""
    plain = plain_word(head)
    if not plain:
        return ""
    for meaning, groups, forbidden in RULES:
        if all(any(holds(plain, stem) for stem in group) for group in groups) and not any(
            holds(plain, stem) for stem in forbidden
        ):
            return "end_chainage" if meaning == "end_chainage_only" else meaning
    return ""


_UNITS: dict[str, dict[str, float]] = {
    "mm": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "inch": 25.4, "zoll": 25.4, "pouces": 25.4, "ft": 304.8, "um": 1e-3},
    "m": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "ft": 0.3048},
    "kn": {"kn": 1.0, "mn": 1e3, "n": 1e-3, "t": 9.80665, "kip": 4.4482216, "tonf": 8.896443},
    "knm": {"knm": 1.0, "mnm": 1e3, "nm": 1e-3, "kip ft": 1.35581795, "kip-ft": 1.35581795},
    "bar": {"bar": 1.0, "kpa": 0.01, "mpa": 10.0, "psi": 0.0689475729, "mbar": 1e-3},
    "days": {"days": 1.0, "day": 1.0, "d": 1.0, "tage": 1.0, "jours": 1.0, "dias": 1.0, "weeks": 7.0, "wochen": 7.0, "semaines": 7.0, "semanas": 7.0, "wk": 7.0, "months": 30.4, "monate": 30.4, "mois": 30.4, "meses": 30.4},
    "min": {"min": 1.0, "h": 60.0, "s": 1 / 60},
    "h": {"h": 1.0, "min": 1 / 60},
    "deg": {"deg": 1.0, "°": 1.0, "grad": 1.0, "gon": 0.9, "rad": 57.29577951308232},
    "mpa": {"mpa": 1.0, "kpa": 1e-3, "n/mm2": 1.0, "n/mm²": 1.0, "psi": 0.0068947573},
}  # fmt: skip
"""What one of a written unit is in ours. 1 in = 25.4 mm, 1 ft = 0.3048 m, 1 psi = 6.89475729 kPa, 1 kip = 4.4482216 kN."""
UNIT_OF = {
    "radius": "mm", "track": "mm", "track_diameter": "mm", "wear": "mm", "remaining": "mm", "measured_diameter": "mm",
    "wear_limit": "mm", "damage_limit": "mm", "diameter_new": "mm", "new_height": "mm", "start_chainage": "m",
    "end_chainage": "m", "advance": "m", "thrust": "kn", "torque": "knm", "face_pressure": "bar", "pressure_air": "bar",
    "lead_time": "days", "hours_fa": "h", "hours_ca": "h", "tilt": "deg", "angle": "deg", "boring_minutes": "min",
    "boundary": "m", "water": "m", "penetration": "mm", "ucs": "mpa", "wear_after": "mm", "d60": "mm", "overcut": "mm",
}  # fmt: skip


def unit_written(head: str) -> str:
    """The unit in brackets of a head, or as its last word; empty where none stands there."""
    found = re.findall(r"[\[(]\s*([^\])]+?)\s*[\])]", head)
    if found:
        return str(found[-1]).replace("²", "2").replace(".", "").replace("·", "").strip().casefold()
    last = head.split()[-1:] or [""]
    return last[0].casefold().strip(".,") if last[0].casefold() in ("mm", "m", "kn", "knm", "bar", "mn", "mnm", "ft", "in", "psi", "°") else ""  # fmt: skip


def factor(meaning: str, head: str) -> float | None:
    """What one of the written unit is in our unit; 1 where none is written, None where it is not known."""
    ours = UNIT_OF.get(meaning)
    unit = unit_written(head)
    if ours is None or not unit:
        return 1.0
    unit = unit.split("/")[0] if meaning == "penetration" else unit
    return _UNITS[ours].get(unit)


KINDS = (
    ("disc", ("disc", "disk", "schneidrolle", "doppelrolle", "rolle", "molette", "cortador", "cutter ring", "diskenmeissel", "single cutter", "double cutter", "twin")),
    ("bucket tool", ("bucket", "raumer", "godet", "cangilon", "cucharon", "becher")),
    ("scraper", ("scraper", "schalmesser", "schaber", "racleur", "raspador", "rascador", "rasqueta", "couteau", "cuchilla", "messer", "picador", "drag", "knife", "rascleta", "pick")),
    ("ripper", ("ripper", "reisser", "reisszahn", "defonceuse", "dent", "escarificador", "aufreisser", "desgarrador", "ripador", "tooth", "zahn", "diente")),
    ("centre tool", ("centre tool", "center tool", "zentrumswerkzeug", "outil central", "herramienta central", "nose", "fishtail", "zentrumsschneider")),
    ("copy tool", ("copy", "kopier", "overcutter", "copie", "copiador", "uberschneider")),
)  # fmt: skip
CONDITIONS = (
    ("ring lost", ("ring lost", "rl", "ring fehlt", "anneau perdu", "anneau absent", "bague perdue", "anillo perdido", "ring off", "ring missing", "sin anillo", "ring verloren")),
    ("tool lost", ("tool lost", "lost", "missing", "fehlt", "perdu", "absent", "perdid", "falta", "verloren", "tl", "manquant", "perdido")),
    ("chipped", ("chip", "ausbruch", "ausgebrochen", "eclat", "ebreche", "astillad", "desportillad", "mellad", "spall", "abplatz", "descascar")),
    ("cracked", ("crack", "riss", "gerissen", "fissur", "fisur", "grieta", "agrietad")),
    ("flat", ("flat", "flach", "abgeflacht", "plat", "meplat", "plan", "einseitig", "facet", "facette")),
    ("mushroomed", ("mushroom", "pilz", "champignon", "hongo", "aufgepilzt")),
    ("seized", ("seized", "blocked", "blockiert", "bloque", "grippe", "bloquead", "festgefressen", "fest", "agarrotad", "gripad")),
    ("leaking", ("leak", "undicht", "fuite", "fuga", "olverlust", "fuit")),
    ("holder worn", ("holder worn", "halter", "support use", "porte outil use", "soporte gastad")),
    ("even", ("even", "gleichmassig", "regulier", "uniforme", "normal", "ok")),
)  # fmt: skip
NOT_READ = (
    ("not reached", ("not reached", "n r", "nr", "not accessible", "n a", "nicht erreicht", "n e", "ne", "nicht zuganglich", "non accessible", "n acc", "inaccessible", "inacces", "no accesible", "no alcanzad", "sin acceso", "s a", "n ac", "not access")),
    ("seen, not measured", ("not measured", "n m", "nm", "seen", "nicht gemessen", "n g", "ng", "vu", "non mesure", "non releve", "non lu", "no medid", "no leid", "nicht abgelesen", "visto", "n med", "gesehen")),
    ("not looked at", ("not looked", "nicht angesehen", "non controle", "no revisad", "no inspeccionad", "not inspected", "nicht kontrolliert", "non vu")),
)  # fmt: skip
CHANGED = ("changed", "replaced", "renewed", "new", "gew", "gewechselt", "neu", "ersetzt", "remplace", "neuf", "change", "cambiad", "nuev", "sustituid", "renov", "chg", "repl", "reemplaz", "ausgetauscht", "getauscht", "remp", "cambio")  # fmt: skip
TOTALS = ("total", "sum", "summe", "somme", "suma", "mean", "mittel", "mittelwert", "moyenne", "media", "average", "promedio", "count", "anzahl", "nombre", "read", "changed", "gesamt", "totaux", "min", "max", "kleinstes", "grosstes", "schnitt")  # fmt: skip
ZONES = (
    ("centre", ("centre", "center", "zentrum", "centro", "c")),
    ("gauge", ("gauge", "kaliber", "peripher", "calibre", "galga", "gabarit", "g", "rand", "perifer", "cal", "contour")),
    ("face", ("face", "flache", "frente", "front", "f", "ortsbrust", "frontal", "innen", "inner")),
)  # fmt: skip
MODES = (
    ("compressed air", ("compressed air", "ca", "druckluft", "dl", "air comprime", "aire comprimido", "ac", "hyperbaric", "hyperbare", "hiperbar", "dla")),
    ("free air", ("free air", "fa", "freie luft", "atmosph", "atm", "air libre", "al", "aire libre", "atmosfer", "offen", "al aire")),
    ("mixed gas", ("mixed gas", "mischgas", "melange gazeux", "mezcla de gases")),
    ("saturation", ("saturation", "sattigung", "saturacion")),
    ("divers", ("diver", "taucher", "plongeur", "buzo")),
)  # fmt: skip
REASONS = (
    ("limit", ("limit", "wear", "verschleiss", "usure", "desgaste", "worn", "grenz", "limite")),
    ("damage", ("damage", "schaden", "casse", "dano", "rotura", "broken", "bruch", "dommage", "rupture", "averia", "defekt", "dmg")),
    ("neighbour", ("neighbour", "neighbor", "nachbar", "voisin", "vecin")),
    ("preventive", ("prevent", "vorbeug", "vorsorg", "preventif", "preventiv", "planned", "planmassig")),
    ("overcut", ("overcut", "uberschnitt", "surcoupe", "sobrecorte")),
)  # fmt: skip
OLD_TO = (
    ("scrap", ("scrap", "schrott", "rebut", "chatarra", "ferraille", "desecho", "discard", "casse")),
    ("rebuild", ("rebuild", "aufarbeit", "refection", "reparation", "reparac", "refurb", "repair", "werkstatt", "taller", "workshop", "reconstruc", "reacondic", "revision", "atelier", "instandsetz")),
    ("shelf", ("shelf", "lager", "stock", "magasin", "almacen", "store", "regal", "deposito")),
)  # fmt: skip
ACTIONS = (
    ("swap", ("swap", "getauscht mit", "tausch mit", "echange avec", "permut", "intercambi", "vertauscht", "exchanged with", "tausch")),
    ("move", ("moved from", "moved", "umgesetzt", "deplace", "trasladad", "movid", "versetzt")),
    ("turn", ("turned", "gedreht", "gewendet", "retourne", "girad", "reversed", "tourne")),
    ("blank", ("blank", "verschlossen", "obture", "tapad", "stillgelegt", "plugged", "bouche", "blindplatte", "anulad")),
    ("change", CHANGED),
)  # fmt: skip
NO_CUT = ("no cut", "not cut", "kein abbau", "ohne abbau", "pas d excavation", "sans creusement", "sans excavation", "sin excavacion", "sin corte", "pas de creusement", "durchzug", "leerfahrt", "ripage", "no excav")  # fmt: skip
YES = ("yes", "ja", "oui", "si", "x", "y", "j", "o", "1", "true")


def word_for(text: str, table: tuple[tuple[str, tuple[str, ...]], ...]) -> str | None:
    """Our word for a written one, by whole short words or the beginnings of longer ones."""
    plain = plain_word(text)
    if not plain:
        return None
    for ours, stems in table:
        if plain == ours or any((plain == s) if len(s.replace(" ", "")) <= 3 else holds(plain, s) for s in stems):
            return ours
    return None


def is_word(text: str, stems: tuple[str, ...]) -> bool:
    """Whether a text begins with one of these words."""
    plain = plain_word(text)
    return any(plain == s or (len(s) > 3 and plain.startswith(s)) for s in stems)
