"""One small invented office written in several layouts and languages: each must mean the same."""

from __future__ import annotations

from datetime import datetime

import pytest

from tests.take import office
from wearplan.take.engine import take
from wearplan.take.find.words import meaning_of

pytest.importorskip("openpyxl")

ENGLISH = office.layout(["No.", "Cutter type", "Track radius [mm]", "Angle [deg]", "Zone", "Wear limit [mm]"])
ENGLISH[0][0] = "Pos."
SAID = [["Seen from the machine, 12 o'clock = 0, clockwise"], []]
LOG = office.ring_log(["Ring", "Start Sta.", "End Sta.", "Finished", "Revolutions", "Thrust [kN]"])
ANSWERS = {
    "time zone": "+00:00",
    "chainage of rings": "face",
    "method": "gauge",
    "mode": "free air",
    "empty cell": "no record",
}


def taken(tmp_path, sheets, answers=None, **options):
    path = office.save(tmp_path / "office.xlsx", sheets, **options)
    return take([path], None, {**ANSWERS, **(answers or {})}, accept=True)


def matrix_down(value=lambda place, stop, mm: mm):
    rows = [["Pos."], ["Ring", *office.RINGS], ["Date", *[office.ring_time(r) for r in office.RINGS]]]
    for place in range(1, 13):
        rows.append(
            [
                office.NAMES[place - 1],
                *[None if (mm := office.wear(place, s)) is None else value(place, s, mm) for s in range(4)],
            ]
        )
    return rows


def test_places_down_in_english_radial_wear(tmp_path):
    found = taken(tmp_path, {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Wear, radial, used": matrix_down()})
    assert office.readings(found) == office.true_readings()
    assert not found.questions
    assert [stop.mode for stop in found.stops] == ["free air"] * 4


def test_places_across_in_spanish_what_remains(tmp_path):
    heads = ["Posición", "Tipo", "Radio [mm]", "Ángulo", "Zona", "Límite de desgaste [mm]"]
    plan = office.layout(heads, types=("disco cortador 17", "rascador"), zones=("centro", "frente", "galga"))
    log = office.ring_log(["Anillo", "PK inicio", "PK fin", "Fecha fin", "Vueltas", "Empuje [kN]"])
    new = {True: 40.0, False: 60.0}
    rows = [["Altura restante [mm]"], [], ["Fecha", "Anillo", "Modo", *[int(n) for n in office.NAMES]]]
    for stop, ring in enumerate(office.RINGS):
        cells = [None if (mm := office.wear(p, stop)) is None else new[office.is_disc(p)] - mm for p in range(1, 13)]
        rows.append([office.ring_time(ring).strftime("%d/%m/%Y"), ring, "aire comprimido", *cells])
    words = [["Vista desde la máquina, 0 a las 12, sentido horario"], []]
    answers = {"new height of disco cortador 17": 40.0, "new height of rascador": 60.0}
    found = taken(tmp_path, {"Disposición": [*words, *plan], "Anillos": log, "Inspecciones": rows}, answers)
    assert office.readings(found) == office.true_readings()
    assert {stop.mode for stop in found.stops} == {"compressed air"}
    assert {tool.kind for tool in found.wheel.tools.values()} == {"disc", "scraper"}


def test_a_list_of_readings_and_changes_in_german(tmp_path):
    names = [f"W{n:02d}" for n in range(1, 13)]
    heads = ["Werkzeug", "Bauart", "Spurradius [mm]", "Winkel [°]", "Bereich", "Verschleißgrenze [mm]"]
    plan = office.layout(
        heads, names=names, types=("Schneidrolle 17", "Schälmesser"), zones=("Zentrum", "Fläche", "Kaliber")
    )
    log = office.ring_log(
        ["Ring Nr.", "Station Anfang [m]", "Station Ende [m]", "Ende", "Umdrehungen", "Vorschub [kN]"], back=9.0
    )
    rows = [["Datum", "Ring", "Werkzeug", "Verschleiß [mm]", "Zustand", "Ausbau Nr.", "Einbau Nr.", "Grund"]]
    for stop, ring in enumerate(office.RINGS):
        for place in range(1, 13):
            mm = office.wear(place, stop)
            if mm is not None:
                old, new = office.CHANGED.get((place, stop), (None, None))
                rows.append(
                    [
                        office.ring_time(ring),
                        ring,
                        names[place - 1],
                        mm,
                        "flach" if old else None,
                        old,
                        new,
                        "Verschleiß" if old else None,
                    ]
                )
    words = [["Blick aus der Maschine, von 12 Uhr im Uhrzeigersinn"], []]
    answers = {"chainage of rings": "last ring", "face ahead of ring": 9.0}
    found = taken(tmp_path, {"Plan": [*words, *plan], "Ringe": log, "Messungen": rows}, answers)
    assert office.readings(found) == office.true_readings()
    changes = [
        (stop.ring, c.place, c.old_serial, c.new_serial, c.reason)
        for stop in found.stops
        for c in stop.changes.values()
    ]
    assert changes == [(40, 4, "D-004", "D-104", "limit")]
    assert found.stops[0].chainage_m == pytest.approx(office.ring_end(20))


def test_a_sheet_a_stop_in_french(tmp_path):
    heads = ["Repère", "Type d'outil", "Rayon [m]", "Angle", "Zone", "Usure admissible [mm]"]
    plan = office.layout(
        heads, scale=0.001, types=("molette 17 pouces", "racleur"), zones=("centre", "front", "calibre")
    )
    log = office.ring_log(["Anneau", "PK début", "PK fin", "Fin de creusement", "Tours de roue", "Poussée [kN]"])
    sheets = {"Plan": [["vu depuis la machine, 0 à 12 h, sens horaire"], [], *plan], "Anneaux": log}
    for stop, ring in enumerate(office.RINGS):
        rows = [
            ["Anneau :", ring],
            ["Date :", office.ring_time(ring)],
            ["Mode", "air comprimé"],
            ["Pression [bar]", 1.2],
            [],
            ["Repère", "Usure [mm]", "Observations"],
        ]
        rows += [[office.NAMES[p - 1], office.wear(p, stop)] for p in range(1, 13)]
        sheets[f"Arrêt {stop + 1}"] = rows
    found = taken(tmp_path, sheets)
    assert office.readings(found) == office.true_readings()
    assert [(s.ring, s.mode, s.pressure_bar) for s in found.stops] == [(r, "compressed air", 1.2) for r in office.RINGS]
    assert found.wheel.places[11].track_radius_mm == pytest.approx(2400.0)


def test_diameters_and_shares_of_the_limit(tmp_path):
    def value(place, stop, mm):
        return 432.0 - 2 * mm if office.is_disc(place) else f"{100 * mm / 20.0:.1f} %"

    rows = [["Discs: measured diameter; other tools: % of limit"], *matrix_down(value)]
    answers = {
        "new diameter": 432.0,
        "wear of other tools, Wear": "share of the limit used",
        "wear of discs, Wear": "diameter",
    }
    found = taken(tmp_path, {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Wear": rows}, answers)
    got = office.readings(found)
    assert got.keys() == office.true_readings().keys()
    assert all(abs(got[key] - mm) < 0.02 for key, mm in office.true_readings().items())


def test_angles_and_tracks_are_turned_to_ours(tmp_path):
    plan = office.layout(["Pos.", "Type", "Track diameter [mm]", "Angle [deg]", "Zone", "Wear limit [mm]"], scale=2.0)
    words = [["Seen from the front, 3 o'clock = 0, counter-clockwise"], []]
    found = taken(tmp_path, {"Layout": [*words, *plan], "Log": LOG})
    place = found.wheel.places[
        1
    ]  # 30 degrees counter-clockwise of 3 o'clock from the front is 2 o'clock there, 10 o'clock from behind
    assert place.track_radius_mm == pytest.approx(400.0)
    assert place.angle_deg == pytest.approx(300.0)


def test_what_cannot_be_known_is_asked_with_a_stable_name(tmp_path):
    plan = office.layout(["Pos.", "Type", "Track [mm]", "Angle [deg]", "Zone", "Wear limit [mm]"])
    rows = [["Wear, used, mm"], *matrix_down(lambda p, s, mm: f"{mm} xq" if (p, s) == (2, 1) else mm)]
    path = office.save(tmp_path / "o.xlsx", {"Layout": plan, "Log": LOG, "Wear": rows})
    found = take([path], None, {})
    names = {q.name for q in found.questions}
    assert {"track is", "angles", "time zone", "chainage of rings", "word xq", "mode", "method", "empty cell"} <= names
    assert all(q.sentence and (q.choices or q.form != "choice") for q in found.questions)
    assert found.held("layout")
    assert found.held("stops")


def test_slips_are_asked_or_refused_and_never_block_the_rest(tmp_path):
    rows = [["Wear, used, radial, mm"], *matrix_down()]
    rows[4 + 2][2] = 450.0  # place 3, second stop: a lost point
    rows[4 + 4][1] = datetime(2025, 2, 1)  # place 5, first stop: 1.2 made a date
    rows[4 + 5][3] = "#REF!"
    rows.append(["99", 1.0, 2.0, 3.0, 4.0])
    path = office.save(tmp_path / "o.xlsx", {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Wear": rows})
    found = take([path], None, {**ANSWERS, "Wear!B9": "1.2"}, accept=False)
    cells = {q.name for q in found.questions if q.about == "cell"}
    assert cells == {"Wear!C7"}
    duties = {(f.duty, f.cell) for f in found.findings if f.sheet == "Wear"}
    assert {("asked", "C7"), ("asked", "B9"), ("refused", "D10"), ("refused", "B17")} <= duties
    got = office.readings(found)
    missing = office.true_readings().keys() - got.keys()
    assert missing == {(40, 3), (60, 6)}
    assert got[20, 5] == 1.2


def test_a_hidden_sheet_is_named_and_left(tmp_path):
    sheets = {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Wear used": matrix_down(), "old": matrix_down(lambda *_: 9.0)}
    found = taken(tmp_path, sheets, hidden=("old",))
    assert office.readings(found) == office.true_readings()
    assert any(f.duty == "left out" and f.sheet == "old" for f in found.findings)


def test_two_tables_side_by_side_are_two_tables(tmp_path):
    plan = [*ENGLISH]
    stock = [["Item", "On hand", "On order"], ["disc 17", 12, None], ["scraper", 30, None]]
    rows = [[*row, None, *(stock[at] if at < len(stock) else [])] for at, row in enumerate(plan)]
    found = taken(tmp_path, {"All": [["Seen from the machine, 12 o'clock = 0, clockwise"], [], *rows], "Log": LOG})
    assert [(s.tool_type, s.on_hand) for s in found.stock] == [("disc 17", 12), ("scraper", 30)]
    assert len(found.wheel.places) == 12


def test_letters_for_digits_are_asked_and_a_ring_may_be_mended_by_its_date(tmp_path):
    rows = [["Wear, used, radial, mm"], *matrix_down()]
    rows[4][2] = "4,O"
    rows[2][3] = 16  # ring 60 typed as 16; its date says 60
    path = office.save(tmp_path / "o.xlsx", {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Wear": rows})
    found = take([path], None, ANSWERS)
    asked = {q.name: q for q in found.questions}
    assert asked["Wear!C5"].choices == ("4", "leave out")
    ring = next(choice for choice in asked["Wear!D4"].choices if choice.startswith("ring "))
    found = take([path], None, {**ANSWERS, "Wear!C5": "4", "Wear!D4": ring})
    assert office.readings(found)[40, 1] == 4.0
    assert [abs(s.ring - r) <= 4 for s, r in zip(found.stops, office.RINGS, strict=True)] == [True] * 4


@pytest.mark.parametrize(
    ("head", "meaning"),
    [
        ("Batch", "batch"), ("Charge-Nr.", "batch"), ("N° de lot", "batch"), ("Lote", "batch"), ("Make", "make"),
        ("Hersteller", "make"), ("Fabricante", "make"), ("Date of manufacture", "date"), ("Serial new", "new_serial"),
    ],
)  # fmt: skip
def test_heads_of_batches_and_makes(head, meaning):
    assert meaning_of(head) == meaning
