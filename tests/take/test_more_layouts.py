"""Harder layouts: feet, months first, lists by date, twins by letter, two points, stations alone, text files."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.take import office
from tests.take.test_layouts import ANSWERS, ENGLISH, LOG, SAID, matrix_down, taken
from wearplan.take.engine import take

pytest.importorskip("openpyxl")


def station(metres: float) -> str:
    feet = metres / 0.3048
    return f"{int(feet // 100)}+{feet % 100:05.2f}"


def test_stations_in_feet_dates_with_the_month_first_and_inches(tmp_path):
    heads = ["Cutter No.", "Cutter Type", "Radius (in)", "Angle (deg)", "Zone", "Wear limit (in)"]
    plan = office.layout(heads, scale=1 / 25.4, types=("disc 17 inch", "scraper"), zones=("center", "face", "gauge"))
    plan = [plan[0], *[[*row[:5], row[5] / 25.4] for row in plan[1:]]]
    log = [["Ring", "Start Sta.", "End Sta.", "Date/Time", "Revs", "Thrust (kip)"]]
    for ring in range(1, 85):
        when = office.ring_time(ring).strftime("%m/%d/%Y %H:%M")
        log.append([ring, station(office.ring_end(ring - 1)), station(office.ring_end(ring)), when, 50, 2000])
    rows = [["Date", "Ring", "Cutter No.", "Wear (in)"]]
    for stop, ring in enumerate(office.RINGS):
        for place in range(1, 13):
            if (mm := office.wear(place, stop)) is not None:
                rows.append([office.ring_time(ring).strftime("%m/%d/%Y"), ring, office.NAMES[place - 1], mm / 25.4])
    found = taken(tmp_path, {"Layout": [*SAID, *plan], "Rings": log, "Measurements": rows})
    got, true = office.readings(found), office.true_readings()
    assert got.keys() == true.keys()
    assert all(abs(got[key] - mm) < 0.01 for key, mm in true.items())
    assert found.stops[0].chainage_m == pytest.approx(office.ring_end(20), abs=0.02)
    assert [s.day.date() for s in found.stops] == [office.ring_time(r).date() for r in office.RINGS]
    assert found.log.by_ring[1].values["thrust_kn"] == pytest.approx(8896.44, rel=1e-4)
    assert found.wheel.places[3].wear_limit_mm is None
    assert not [f for f in found.findings if f.duty == "refused"]


def test_stops_by_date_alone_find_their_ring(tmp_path):
    rows = [["Datum", "Werkzeug", "Verschleiß [mm]"]]
    for stop, ring in enumerate(office.RINGS):
        for place in range(1, 13):
            if (mm := office.wear(place, stop)) is not None:
                rows.append(
                    [
                        (office.ring_time(ring) + timedelta(hours=1)).replace(hour=0, minute=0),
                        office.NAMES[place - 1],
                        mm,
                    ]
                )
    found = taken(tmp_path, {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Liste": rows})
    assert len(found.stops) == 4
    assert all(abs(stop.ring - ring) <= 4 for stop, ring in zip(found.stops, office.RINGS, strict=True))
    assert sum(len(stop.readings) for stop in found.stops) == len(office.true_readings())


def test_stops_by_chainage_alone(tmp_path):
    rows = [["Pos.", *[f"{office.ring_end(r):.1f}" for r in office.RINGS]]]
    rows[0] = ["Pos.", *[f"0+{office.ring_end(r):05.1f}" for r in office.RINGS]]
    rows += [[n, *[office.wear(p, s) for s in range(4)]] for p, n in enumerate(office.NAMES, start=1)]
    found = taken(tmp_path, {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Wear used mm": rows})
    assert office.readings(found) == office.true_readings()


def test_twins_by_letter_and_numbers_are_asked_once(tmp_path):
    names = ["1a", "1b", "2a", "2b", *[str(n) for n in range(3, 11)]]
    plan = office.layout(["Cutter", "Type", "Radius [mm]", "Angle", "Zone", "Wear limit [mm]"], names=names)
    path = office.save(tmp_path / "o.xlsx", {"Layout": [*SAID, *plan], "Log": LOG})
    found = take([path], None, {})
    assert {"place numbers", "twins"} <= {q.name for q in found.questions}
    found = take([path], None, {"place numbers": "order of the layout", "twins": "one tool"})
    assert [p.number for p in found.wheel.places] == list(range(1, 13))
    assert [p.housing for p in found.wheel.places[:5]] == ["1", "1", "2", "2", None]
    table = {name: 100 + at for at, name in enumerate(names)}
    found = take([path], None, {"place numbers": table, "twins": "tools of their own"})
    assert found.wheel.places[0].number == 100
    assert found.wheel.places[0].housing is None


def test_two_values_mean_what_is_answered(tmp_path):
    rows = matrix_down(lambda p, s, mm: f"{mm} / {mm + 1}" if p == 2 else mm)
    sheets = {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Wear used mm": rows}
    found = taken(tmp_path, sheets, {"two values": "two points"})
    assert all(len(s.readings[2].wear) == 2 for s in found.stops)
    found = taken(tmp_path, sheets, {"two values": "old and new tool"})
    assert all(2 in s.changes for s in found.stops)
    path = tmp_path / "office.xlsx"
    assert "two values" in {q.name for q in take([path], None, ANSWERS).questions}


def test_a_colour_is_asked_and_counts_as_answered(tmp_path):
    sheets = {"Layout": [*SAID, *ENGLISH], "Log": LOG, "Wear": [["Wear used, mm"], *matrix_down()]}
    fills = {("Wear", "C8"): "FF9900"}
    found = taken(tmp_path, sheets, {"colour orange": "changed", "value beside a change": "old tool"}, fills=fills)
    assert [(s.ring, list(s.changes)) for s in found.stops if s.changes] == [(40, [4])]
    found = taken(tmp_path, sheets, {"colour orange": "no meaning"}, fills=fills)
    assert not any(s.changes for s in found.stops)


@pytest.mark.parametrize(("separator", "encoding"), [(";", "cp1252"), ("\t", "utf-16"), (",", "utf-8")])
def test_text_files_of_any_separator_and_encoding(tmp_path, separator, encoding):
    comma = separator != ","

    def text(value) -> str:
        if value is None:
            return ""
        if hasattr(value, "strftime"):
            return value.strftime("%d.%m.%Y %H:%M")
        said = f"{value:.2f}" if isinstance(value, float) else str(value)
        return said.replace(".", ",") if comma and isinstance(value, float) else said

    heads = ["Werkzeug", "Bauart", "Spur-Ø [mm]", "Winkel [°]", "Bereich", "Verschleißgrenze [mm]"]
    plan = office.layout(
        heads, scale=2.0, types=("Schneidrolle", "Schälmesser"), zones=("Zentrum", "Fläche", "Kaliber")
    )
    words = ["Blick aus der Maschine von 12 Uhr im Uhrzeigersinn"]
    log = office.ring_log(["Ring", "Station von [m]", "Station bis [m]", "Ende", "Umdrehungen", "Vorschub [kN]"])
    wear = [["Verschleiß [mm]"], *matrix_down()]
    paths = []
    for name, rows in (("plan", [words, *plan]), ("ringe", log), ("verschleiss", wear)):
        path = tmp_path / f"{name}.csv"
        path.write_bytes("\n".join(separator.join(map(text, row)) for row in rows).encode(encoding))
        paths.append(path)
    found = take(paths, None, ANSWERS, accept=True)
    assert office.readings(found) == pytest.approx(office.true_readings())
    assert found.wheel.places[11].track_radius_mm == pytest.approx(2400.0)
    assert found.wheel.tools["Schälmesser"].kind == "scraper"


def test_ground_by_columns_of_shares_orders_and_changes_of_the_layout(tmp_path):
    ground = [["From [m]", "To [m]", "CL [%]", "GR [%]"], [100.0, 160.0, 70, 30], [160.0, 300.0, None, 100]]
    orders = [["Article", "Quantity", "Due"], ["disc 17", 8, office.BEGAN]]
    changes = [["Pos.", "From chainage [m]", "New type"], ["3", 150.0, "scraper"], ["4", 150.0, "saw"]]
    plan = [["No.", *ENGLISH[0][1:]], *ENGLISH[1:]]
    sheets = {"Layout": [*SAID, *plan], "Log": LOG, "Ground": ground, "Orders": orders, "Wheel changes": changes}
    found = taken(tmp_path, sheets)
    assert [(s.from_m, s.to_m, s.mix) for s in found.ground.sections] == [
        (100.0, 160.0, {"CL": 0.7, "GR": 0.3}),
        (160.0, 300.0, {"GR": 1.0}),
    ]
    assert [(s.tool_type, s.on_order) for s in found.stock] == [("disc 17", [(8, office.BEGAN.date())])]
    assert [(c.place, c.from_m, c.tool_type) for c in found.wheel.changes] == [("3", 150.0, "scraper")]
    assert any(f.duty == "refused" and "saw" in f.what for f in found.findings)


def test_a_time_of_day_takes_its_date_from_the_column_beside_it(tmp_path):
    log = [["Ring", "Ch. start", "Ch. end", "Date", "Ring end", "Revolutions", "Thrust [kN]"]]
    for ring in range(1, 85):
        when = office.ring_time(ring)
        log.append(
            [
                ring,
                office.ring_end(ring - 1),
                office.ring_end(ring),
                when.replace(hour=0, minute=0),
                when.time(),
                50,
                9000,
            ]
        )
    found = taken(tmp_path, {"Layout": [*SAID, *ENGLISH], "Log": log})
    assert found.log.by_ring[10].at == office.ring_time(10)


def test_stops_as_blocks_below_each_other_with_facts_in_their_titles(tmp_path):
    rows = []
    for stop, ring in enumerate(office.RINGS):
        title = [[f"Inspección n.º {stop + 1}, anillo {ring}, {office.ring_time(ring):%d.%m.%Y}"]]
        facts = [["Ring:", ring], ["Date:", office.ring_time(ring)]]
        rows += [*(title if stop % 2 else facts), ["Pos.", "Wear used [mm]", "Condition"]]
        rows += [[office.NAMES[p - 1], office.wear(p, stop), None] for p in range(1, 13)]
        rows += [[], []]
    found = taken(tmp_path, {"Layout": [*SAID, *ENGLISH], "Log": LOG, "All stops": rows})
    assert office.readings(found) == office.true_readings()
    assert [s.day.date() for s in found.stops] == [office.ring_time(r).date() for r in office.RINGS]
    assert not [f for f in found.findings if f.duty == "refused"]


def test_a_yes_under_changed_is_a_change_and_an_unknown_condition_is_asked(tmp_path):
    rows = [["Ring", "Pos.", "Wear [mm]", "Condition", "Changed"]]
    for stop, ring in enumerate(office.RINGS):
        for place in range(1, 13):
            hit = (place, stop) in office.CHANGED
            rows.append(
                [
                    ring,
                    office.NAMES[place - 1],
                    office.wear(place, stop),
                    "glazed" if hit else None,
                    "yes" if hit else "no",
                ]
            )
    path = office.save(tmp_path / "o.xlsx", {"Layout": [*SAID, *ENGLISH], "Log": LOG, "List": rows})
    found = take([path], None, ANSWERS)
    assert {q.name for q in found.questions} == {"condition glazed"}
    assert [(s.ring, list(s.changes)) for s in found.stops if s.changes] == [(40, [4])]
    found = take([path], None, {**ANSWERS, "condition glazed": "flat"})
    assert found.stops[1].readings[4].condition == "flat"
