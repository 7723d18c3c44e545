"""Layouts drawn at random: the small invented office of the tests written in some way an office might, then taken in.

    python -m tests.studies.take_layouts [FIRST [LAST]]

A seed is a layout: language and words of the heads, how inspections lie, what a wear figure means, how numbers and
dates are written, what stands above and below the tables. What is asked is answered as the office would. Told by seed:
readings and changes that came out wrong or went missing without a word, and the questions. Exit code 1 where there is
any such.
"""

from __future__ import annotations

import csv
import random
import sys
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Any

from tests.take import office
from wearplan.take.engine import take

HEADS = {
    "en": {
        "place": ["Tool", "Tool no.", "Cutter #", "Position", "Pos."],
        "type": ["Type", "Tool type", "Cutter type"],
        "radius": ["Radius [mm]", "Track radius (mm)", "R mm"],
        "angle": ["Angle [°]", "Angle (deg)", "Ang."],
        "zone": ["Zone", "Area"],
        "limit": ["Wear limit [mm]", "Limit (mm)", "Max. wear [mm]"],
        "wear": ["Wear [mm]", "Measured wear (mm)", "Wear used [mm]"],
        "left": ["Remaining [mm]", "Height left (mm)", "Residual height [mm]"],
        "date": ["Date", "Inspection date", "Day"],
        "ring": ["Ring", "Ring no.", "Ring #"],
        "start": ["Start chainage [m]", "From ch. (m)", "Chainage start"],
        "end": ["End chainage [m]", "To ch. (m)", "Chainage end"],
        "done": ["Finished", "End of boring", "Date/time end"],
        "turns": ["Revolutions", "Revs", "Cutterhead revolutions"],
        "thrust": ["Thrust [kN]", "Total thrust (kN)"],
        "types": ("disc 17", "scraper"),
        "zones": ("centre", "face", "gauge"),
        "view": "Angles: seen from the machine, 0 at 12 o'clock, clockwise",
        "total": "Total", "note": "Note: measured by the day shift", "unread": ["not read", "n/a", "-"],
        "air": "free air", "mode": "Mode", "over": "Measurement",
        "old": ["Old serial no.", "Serial removed", "S/N out"], "new": ["New serial no.", "Serial fitted", "S/N in"],
        "why": ["Reason", "Reason for change"], "worn": "worn",
    },
    "de": {
        "place": ["Werkzeug", "Werkzeug-Nr.", "Position", "Pos.-Nr."],
        "type": ["Typ", "Werkzeugtyp", "Bauart"],
        "radius": ["Radius [mm]", "Spurradius (mm)", "Bahnradius [mm]"],
        "angle": ["Winkel [°]", "Winkel (Grad)"],
        "zone": ["Zone", "Bereich"],
        "limit": ["Verschleißgrenze [mm]", "Grenzverschleiß (mm)", "zul. Verschleiß [mm]"],
        "wear": ["Verschleiß [mm]", "gemessener Verschleiß (mm)", "Abnutzung [mm]"],
        "left": ["Restmaß [mm]", "Resthöhe (mm)", "Rest [mm]"],
        "date": ["Datum", "Tag", "Kontrolldatum"],
        "ring": ["Ring", "Ring-Nr.", "Tübbingring"],
        "start": ["Station von [m]", "Anfangsstation [m]", "von Stat. (m)"],
        "end": ["Station bis [m]", "Endstation [m]", "bis Stat. (m)"],
        "done": ["Ende", "Vortriebsende", "fertig am"],
        "turns": ["Umdrehungen", "Umdrehungen Schneidrad", "Schneidradumdrehungen"],
        "thrust": ["Vortriebskraft [kN]", "Vorschubkraft (kN)"],
        "types": ("Schneidrolle 17", "Schälmesser"),
        "zones": ("Zentrum", "Fläche", "Kaliber"),
        "view": "Winkel: Blick aus der Maschine, 0 bei 12 Uhr, im Uhrzeigersinn",
        "total": "Summe", "note": "Anmerkung: gemessen von der Tagschicht", "unread": ["nicht gemessen", "n.g.", "-"],
        "air": "atmosphärisch", "mode": "Einstieg", "over": "Messung",
        "old": ["Ausbau Nr.", "Seriennr. alt", "Nr. ausgebaut"],
        "new": ["Einbau Nr.", "Seriennr. neu", "Nr. eingebaut"],
        "why": ["Grund", "Wechselgrund"], "worn": "Verschleiß",
    },
    "fr": {
        "place": ["Outil", "N° outil", "Repère", "Position"],
        "type": ["Type", "Type d'outil"],
        "radius": ["Rayon [mm]", "Rayon de coupe (mm)"],
        "angle": ["Angle [°]", "Angle (deg)"],
        "zone": ["Zone"],
        "limit": ["Usure admissible [mm]", "Limite d'usure (mm)", "Usure max. [mm]"],
        "wear": ["Usure [mm]", "Usure mesurée (mm)", "Usure relevée [mm]"],
        "left": ["Hauteur restante [mm]", "Reste (mm)", "Hauteur résiduelle [mm]"],
        "date": ["Date", "Date de visite", "Jour"],
        "ring": ["Anneau", "N° anneau", "Anneau n°"],
        "start": ["PK début [m]", "PK initial", "PM début (m)"],
        "end": ["PK fin [m]", "PK final", "PM fin (m)"],
        "done": ["Fin", "Fin de creusement", "Date de fin"],
        "turns": ["Tours", "Nombre de tours", "Tours de roue"],
        "thrust": ["Poussée [kN]", "Poussée totale (kN)"],
        "types": ("molette 17", "racleur"),
        "zones": ("centre", "front", "calibre"),
        "view": "Angles : vus depuis la machine, 0 à 12 h, sens horaire",
        "total": "Total", "note": "Remarque : relevé par le poste de jour", "unread": ["non relevé", "n.m.", "-"],
        "air": "air libre", "mode": "Mode", "over": "Mesures",
        "old": ["N° série déposé", "N° ancien", "Série déposée"], "new": ["N° série posé", "N° nouveau", "Série posée"],
        "why": ["Motif", "Cause"], "worn": "usure",
    },
    "es": {
        "place": ["Herramienta", "Herramienta nº", "Posición", "N.º útil"],
        "type": ["Tipo", "Tipo de herramienta"],
        "radius": ["Radio [mm]", "Radio de corte (mm)"],
        "angle": ["Ángulo [°]", "Ángulo (grados)"],
        "zone": ["Zona"],
        "limit": ["Desgaste admisible [mm]", "Límite de desgaste (mm)", "Desgaste máx. [mm]"],
        "wear": ["Desgaste [mm]", "Desgaste medido (mm)"],
        "left": ["Altura restante [mm]", "Resto (mm)", "Altura residual [mm]"],
        "date": ["Fecha", "Fecha de inspección", "Día"],
        "ring": ["Anillo", "Nº anillo", "Anillo nº"],
        "start": ["PK inicial [m]", "PK inicio", "Desde PK (m)"],
        "end": ["PK final [m]", "PK fin", "Hasta PK (m)"],
        "done": ["Fin", "Fin de excavación", "Fecha fin"],
        "turns": ["Vueltas", "Revoluciones", "Vueltas de la rueda"],
        "thrust": ["Empuje [kN]", "Empuje total (kN)"],
        "types": ("disco 17", "rascador"),
        "zones": ("centro", "frente", "galga"),
        "view": "Ángulos: vistos desde la máquina, 0 a las 12, sentido horario",
        "total": "Total", "note": "Nota: medido por el turno de día", "unread": ["no medido", "n.m.", "-"],
        "air": "aire libre", "mode": "Modo", "over": "Medición",
        "old": ["N.º retirado", "Serie retirada", "Nº serie saliente"],
        "new": ["N.º colocado", "Serie colocada", "Nº serie entrante"],
        "why": ["Motivo", "Causa del cambio"], "worn": "desgaste",
    },
}  # fmt: skip
NEW_MM = {True: 40.0, False: 60.0}
"""Height of a new tool, where what remains is written."""


class Office:
    """One layout; every choice is drawn once and kept."""

    def __init__(self, seed: int) -> None:
        self.draw = random.Random(seed)
        self.language = self.draw.choice(list(HEADS))
        said = HEADS[self.language]
        self.head = {key: self.draw.choice(value) for key, value in said.items() if isinstance(value, list)}
        self.said = said
        self.lies = self.draw.choice(["down", "across", "list", "sheets", "beside"])
        self.means = self.draw.choice(["wear", "wear", "left"])
        self.file = self.draw.choice(["xlsx", "xlsx", "csv"])
        self.separator = self.draw.choice([";", "\t"])
        self.encoding = self.draw.choice(["utf-8-sig", "cp1252"])
        comma = self.language != "en"
        styles = ["number", "text", "unit"] if self.file == "xlsx" else ["text", "text", "unit"]
        self.numbers = self.draw.choice(styles)
        self.mark = "," if comma else "."
        dates = ["%d.%m.%Y", "%d/%m/%Y", "%Y-%m-%d"] if comma else ["%Y-%m-%d", "%d-%b-%Y", "%d %b %Y"]
        self.dates = self.draw.choice(dates if self.file == "csv" else ["cell", *dates])
        self.names = self.draw.choice([office.NAMES, [f"{self.draw.choice('TWDC')}{n:02d}" for n in range(1, 13)]])
        self.titles = self.draw.randint(0, 2)
        self.below = self.draw.choice([[], [[], [said["note"]]]])
        self.unit_row = self.draw.random() < 0.3
        self.two_heads = self.draw.random() < 0.3
        self.total = self.draw.random() < 0.3
        self.listed = self.draw.random() < 0.5
        """Changes stand in a list of their own."""

    def value(self, place: int, stop: int) -> Any:
        mm = office.wear(place, stop)
        if mm is None:
            return self.head["unread"] if self.draw.random() < 0.5 else None
        return self.number(NEW_MM[office.is_disc(place)] - mm if self.means == "left" else mm, "mm")

    def number(self, value: float, unit: str = "") -> Any:
        if self.numbers == "number":
            return value
        text = f"{value:g}".replace(".", self.mark)
        return f"{text} {unit}" if unit and self.numbers == "unit" else text

    def day(self, ring: int) -> Any:
        when = office.ring_time(ring)
        return when if self.dates == "cell" else when.strftime(self.dates)

    def measured(self) -> str:
        return self.head["left" if self.means == "left" else "wear"]

    def titled(self, words: str, rows: list[list[Any]]) -> list[list[Any]]:
        return [*[[words], []][: self.titles], *rows, *self.below]

    def plan(self) -> list[list[Any]]:
        keys = ("place", "type", "radius", "angle", "zone", "limit")
        rows = office.layout(
            [self.head[key] if key in self.head else self.said[key] for key in keys],
            names=self.names, types=self.said["types"], zones=self.said["zones"],
        )  # fmt: skip
        rows = [rows[0], *[[*row[:2], *map(self.number, row[2:4]), row[4], self.number(row[5])] for row in rows[1:]]]
        return [[self.said["view"]], [], *rows]

    def log(self) -> list[list[Any]]:
        heads = [self.head[key] for key in ("ring", "start", "end", "done", "turns", "thrust")]

        def stamp(when: datetime) -> Any:
            return when if self.dates == "cell" else when.strftime(f"{self.dates} %H:%M")

        return office.ring_log(heads, when=stamp, number=self.number)

    def changes(self) -> dict[str, list[list[Any]]]:
        """The list of changes, where there is one."""
        rows = [[self.head[key] for key in ("date", "ring", "place", "old", "new", "why")]]
        for (place, stop), (old, new) in office.CHANGED.items():
            ring = office.RINGS[stop]
            rows.append([self.day(ring), ring, self.names[place - 1], old, new, self.said["worn"]])
        return {"changes": rows} if self.listed else {}

    def stops(self) -> dict[str, list[list[Any]]]:
        """The inspections' sheets."""
        values = {(p, s): self.value(p, s) for s in range(4) for p in range(1, 13)}
        ring, date, place, mode = self.head["ring"], self.head["date"], self.head["place"], self.said["mode"]
        measured, air = self.measured(), self.said["air"]
        if self.lies == "list":
            rows = [[date, ring, mode, place, measured]]
            if self.two_heads:
                rows = [["", "", "", "", self.said["over"]], *rows]
            rows += [
                [self.day(r), r, air, self.names[p - 1], values[p, s]]
                for s, r in enumerate(office.RINGS) for p in range(1, 13)
            ]  # fmt: skip
            return {"list": self.titled(measured, rows)}
        if self.lies == "across":
            rows = [[date, ring, mode, *self.names]]
            if self.unit_row:
                rows.append(["", "", "", *["mm"] * 12])
            rows += [[self.day(r), r, air, *[values[p, s] for p in range(1, 13)]] for s, r in enumerate(office.RINGS)]
            return {"across": [[measured], [], *rows, *self.below]}
        if self.lies == "down":
            rows = [[date, *map(self.day, office.RINGS)], [ring, *office.RINGS], [mode, *[air] * 4], [place]]
            rows += [[self.names[p - 1], *[values[p, s] for s in range(4)]] for p in range(1, 13)]
            if self.total:
                rows.append([self.said["total"], *[self.number(20.0 + s, "mm") for s in range(4)]])
            return {"down": [[measured], [], *rows, *self.below]}
        sheets = {}
        for s, r in enumerate(office.RINGS):
            head = [[f"{date}:", self.day(r)], [f"{ring}:", r], [f"{mode}:", air], []]
            if self.lies == "sheets":
                rows = [[place, measured], *[[self.names[p - 1], values[p, s]] for p in range(1, 13)]]
            else:
                rows = [[place, measured, None, place, measured]]
                for p in range(1, 7):
                    rows.append([self.names[p - 1], values[p, s], None, self.names[p + 5], values[p + 6, s]])
            sheets[f"stop {s + 1}"] = [*head, *rows, *self.below]
        return sheets

    def files(self, folder: Path) -> list[Path]:
        sheets = {"plan": self.plan(), "rings": self.log(), **self.stops(), **self.changes()}
        if self.file == "xlsx":
            return [office.save(folder / "office.xlsx", sheets)]
        paths = []
        for name, rows in sheets.items():
            path = folder / f"{name}.csv"
            with path.open("w", encoding=self.encoding, newline="", errors="replace") as out:
                csv.writer(out, delimiter=self.separator).writerows(rows)
            paths.append(path)
        return paths

    def __str__(self) -> str:
        return (
            f"{self.language} {self.lies} {self.means} {self.file} {self.numbers} {self.dates} "
            f"names {self.names[0]} titles {self.titles} {'units' if self.unit_row else ''} "
            f"{self.measured()!r} {self.head['place']!r} {self.head['ring']!r} {self.head['date']!r}"
        )


ANSWERS = {"time zone": "+00:00", "chainage of rings": "face", "date order": "day first"}


def judge(seed: int) -> int:
    """Readings of a layout that are wrong, or missing without a word."""
    kept = Office(seed)
    with tempfile.TemporaryDirectory() as home:
        files = kept.files(Path(home))
        blind = take(files, None, {})
        asked = [(q.name, q.suggested) for q in blind.questions if q.about != "cell"]
        kinds = zip(kept.said["types"], (True, False), strict=True)
        heights = {f"new height of {kind}": NEW_MM[disc] for kind, disc in kinds}
        taken = take(files, None, {**ANSWERS, **heights}, accept=True)
    got, true = office.readings(taken), office.true_readings()
    wrong = {key: (got[key], mm) for key, mm in true.items() if key in got and abs(got[key] - mm) > 0.051}
    lost, made = true.keys() - got.keys(), got.keys() - true.keys()
    said = [f"{f.duty}: {f.what}" for f in taken.findings if f.duty in ("refused", "asked")][:3]
    changed = {
        (office.RINGS.index(stop.ring), change.place): (change.old_serial, change.new_serial)
        for stop in taken.stops for change in stop.changes.values() if stop.ring in office.RINGS
    }  # fmt: skip
    known = {(stop, place): serials for (place, stop), serials in office.CHANGED.items()} if kept.listed else {}
    bad = len(wrong) + len(lost) + len(made) + (changed != known)
    print(f"{seed:>4} {'ok ' if not bad else 'BAD'} {len(asked)} questions  {kept}")
    if bad:
        print(f"      wrong {len(wrong)} {list(wrong.items())[:2]}, lost {len(lost)}, made {len(made)}; {said}")
        if changed != known:
            print(f"      changes {changed}, heads {[kept.head[key] for key in ('old', 'new', 'why')]}")
        print(f"      asked {asked}; open {[q.name for q in taken.questions]}")
    return bad


if __name__ == "__main__":
    first = int(sys.argv[1]) if len(sys.argv) > 1 else 0
    last = int(sys.argv[2]) if len(sys.argv) > 2 else first + 40
    sys.exit(1 if sum(map(judge, range(first, last))) else 0)
