"""Layout and tool types out of tables: what stands where, turned to our way of telling it."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence

from wearplan.site.records import KINDS as OUR_KINDS
from wearplan.site.records import Site
from wearplan.take.asking import Answers, example_of
from wearplan.take.find.tables import Table, heading_words
from wearplan.take.find.values import chainage_of, clock_minutes, comma_decimals, number_of
from wearplan.take.find.words import ACTIONS, KINDS, TOTALS, ZONES, is_word, plain_word, word_for
from wearplan.take.records.legend import angles_said
from wearplan.take.records.wheel import LayoutChangeTaken, Place, Tool, WheelTaken, of_site


def wheel_from(tables: Sequence[Table], answers: Answers, site: Site | None) -> WheelTaken:
    """Layout and tool types; from the folder where the files hold no layout."""
    taken = WheelTaken()
    for table in tables:
        if "tool types" in table.kinds or "stock" in table.kinds:
            _tools(table, taken, answers, only_names="tool types" not in table.kinds)
    for table in tables:
        if "layout" in table.kinds:
            _places(table, taken, answers)
    if not taken.places:
        if site is None:
            return taken
        standing = of_site(site)
        names = answers.given.get("place numbers")
        if isinstance(names, dict):
            numbers = {place.number: place for place in standing.places}
            for name, number in names.items():
                if number in numbers:
                    numbers[number].name = str(name)
        standing.tools |= {code: tool for code, tool in taken.tools.items() if code not in standing.tools}
        return standing
    taken.from_files = True
    _numbers(taken, answers, site)
    _twins(taken, answers)
    _fill_tools(taken, answers)
    for table in tables:
        if "layout changes" in table.kinds:
            _layout_changes(table, taken, answers)
    return taken


def _number(table: Table, row: int, meaning: str, comma: bool, answers: Answers) -> float | None:
    column, cell = table.column(meaning), table.cell(row, meaning)
    if column is None or cell is None or (cell.value is None and not cell.trouble) or cell.text in ("-", "–", "—"):
        return None
    try:
        return round(number_of(cell, comma) * column.factor, 6)
    except ValueError as error:
        answers.note("refused", table.sheet, row, column.at, f"{column.head}: {error}; left open")
        return None


def _tools(table: Table, taken: WheelTaken, answers: Answers, *, only_names: bool) -> None:
    comma = comma_decimals(table.sheet.cells.values())
    for row, code in table.of_types():
        tool = taken.tools.setdefault(code, Tool(code=code))
        if only_names:
            continue
        tool.source = f"{table.sheet.name}!{table.sheet.address(row, table.left)}"
        tool.make = " ".join(table.text(row, "make").split()) or None
        tool.kind = word_for(table.text(row, "kind"), KINDS) or word_for(code, KINDS)
        for meaning, key in (
            ("diameter_new", "diameter_mm"),
            ("new_height", "new_height_mm"),
            ("wear_limit", "wear_limit_mm"),
            ("damage_limit", "damage_limit_mm"),
            ("price", "price"),
            ("rebuild_price", "rebuild_price"),
            ("lead_time", "lead_time_days"),
            ("hours_fa", "hours_fa"),
            ("hours_ca", "hours_ca"),
        ):
            value = _number(table, row, meaning, comma, answers)
            if value is not None:
                setattr(tool, key, value)
        table.used += 1


def _places(table: Table, taken: WheelTaken, answers: Answers) -> None:
    sheet = table.sheet
    comma = comma_decimals(sheet.cells.values())
    words = heading_words(sheet)
    double = _is_diameter(table, answers, comma)
    turn = _angle_turn(table, answers, words)
    rows = [row for row in table.rows if _names_a_place(table, row)]
    letters = _zones_by_letter(table, rows, answers)
    for row in rows:
        name = table.text(row, "place")
        if any(place.name == name for place in taken.places):
            answers.note(
                "refused", sheet, row, table.left, f"place {name} stands in the layout twice; the first counts"
            )
            continue
        radii = (_number(table, row, meaning, comma, answers) for meaning in ("radius", "track", "track_diameter"))
        radius = next((value for value in radii if value is not None), None)
        zone_word = table.text(row, "zone")
        place = Place(
            name=name,
            tool_type=" ".join(table.text(row, "type").split()),
            track_radius_mm=None if radius is None else round(radius / 2 if double else radius, 3),
            angle_deg=_angle(table, row, comma, turn, answers),
            tilt_deg=_number(table, row, "tilt", comma, answers),
            zone=word_for(zone_word, ZONES) or letters.get(_letters(name)),
            wear_limit_mm=_number(table, row, "wear_limit", comma, answers),
            housing=table.text(row, "housing") or None,
            row=table.text(row, "row") or None,
            arm=table.text(row, "arm") or None,
            cuts=_cuts(table.text(row, "cuts")),
            source=f"{sheet.name}!{table.address(row, 'place')}",
        )
        place.sensor_mm = _sensors(table.text(row, "remark"))
        taken.places.append(place)
        table.used += 1


def _names_a_place(table: Table, row: int) -> bool:
    name = table.text(row, "place")
    told = any(table.text(row, meaning) for meaning in ("type", "radius", "track_diameter"))
    return bool(name) and told and not is_word(name, TOTALS)


def _sensors(remark: str) -> tuple[float, ...]:
    """Wear at which a sensor reports, where a remark tells of one."""
    plain = plain_word(remark)
    if not any(word in plain for word in ("sensor", "fuhler", "capteur")):
        return ()
    return tuple(float(value) for value in re.findall(r"\d+(?:\.\d+)?", plain.replace(",", ".")))


def _layout_changes(table: Table, taken: WheelTaken, answers: Answers) -> None:
    """Changes of the wheel in mid-drive: a type that is not known is refused, never guessed."""
    comma = comma_decimals(table.sheet.cells.values())
    for row in table.rows:
        name, code = table.text(row, "place"), " ".join(table.text(row, "new_type").split())
        column = table.column("start_chainage") or table.column("end_chainage")
        cell = table.sheet.at(row, column.at) if column is not None else None
        blank = word_for(code, ACTIONS) == "blank" or code in ("-", "–")
        if taken.find(name) is None or (code not in taken.tools and not blank):
            what = f"place {name} or tool type {code!r} is not known; the change of the layout is not taken"
            answers.note("refused", table.sheet, row, table.left, what)
            continue
        rings = re.findall(r"\d+", table.text(row, "ring"))
        from_m = None
        if cell is not None and column is not None:
            value, base = chainage_of(cell, comma)
            from_m = round(value * (0.3048 if base == 100 else column.factor), 4)
        taken.changes.append(
            LayoutChangeTaken(
                place=name, from_m=from_m, ring=int(rings[0]) if rings else None, tool_type=None if blank else code,
                source=f"{table.sheet.name}!{table.sheet.address(row, table.left)}",
            )
        )  # fmt: skip
        table.used += 1


def _cuts(text: str) -> str | None:
    plain = plain_word(text)
    if plain in ("ccw", "links", "gauche", "izquierda", "left", "gegen", "antihorario", "antihoraire"):
        return "ccw"
    return "cw" if plain in ("cw", "rechts", "droite", "derecha", "right", "horario", "horaire") else None


def _is_diameter(table: Table, answers: Answers, comma: bool) -> bool:
    if table.column("track_diameter") is not None:
        return True
    column = table.column("track")
    if table.column("radius") is not None or column is None:
        return False
    answer = answers.ask(
        "track is",
        f"Is '{column.head}' the radius of a track or its diameter?",
        ("radius", "diameter"),
        about="meaning",
        count=len(table.rows),
        example=example_of(table.sheet, table.rows[0], column.at),
        holds=("layout",),
    )
    return bool(answer == "diameter")


def _angle_turn(table: Table, answers: Answers, words: str) -> tuple[int, str, str] | None:
    """How angles are counted: settled by the sheet's own words, else asked."""
    column = table.column("angle")
    if column is None:
        return None
    hour, sense, side = angles_said(f"{words}\n{column.head}")
    if any(clock_minutes(cell) is not None for row in table.rows[:5] if (cell := table.cell(row, "angle")) is not None):
        hour, sense = 12, "clockwise"  # a clock position
    if hour is not None and sense is not None and side is not None:
        answers.settle(
            "angles", f"from {hour} o'clock {sense}, seen from the {side}", f"the words on {table.sheet.name}"
        )
        return hour, sense, side
    choices = [
        f"from {h} o'clock {s}, seen from the {d}"
        for d in ("machine", "face")
        for h in (12, 3, 6, 9)
        for s in ("clockwise", "counter-clockwise")
    ]
    fits = [
        c
        for c in choices
        if (hour is None or f"from {hour} " in c)
        and (sense is None or f" {sense}," in c)
        and (side is None or c.endswith(side))
    ]
    answer = answers.ask(
        "angles",
        "Where do the angles of the layout start, which way do they turn, and from which side is the face seen?",
        choices,
        about="meaning",
        count=len(table.rows),
        example=example_of(table.sheet, table.rows[0], column.at),
        suggested=fits[0],
        holds=("layout",),
    )
    found = re.match(r"from (\d+) o'clock ([a-z-]+), seen from the (\w+)", str(answer or fits[0]))
    return (int(found[1]), found[2], found[3]) if found else None


def _angle(table: Table, row: int, comma: bool, turn: tuple[int, str, str] | None, answers: Answers) -> float | None:
    cell = table.cell(row, "angle")
    if cell is None or turn is None:
        return None
    minutes = clock_minutes(cell)
    value = minutes / 2 if minutes is not None else _number(table, row, "angle", comma, answers)
    if value is None:
        return None
    hour, sense, side = turn
    start = hour % 12 * 30.0
    ours = start + value if sense == "clockwise" else start - value
    ours = -ours if side == "face" else ours
    return round(ours % 360.0, 4)


def _letters(name: str) -> str:
    found = re.match(r"[A-Za-z]+", name)
    return found[0].upper() if found else ""


def _zones_by_letter(table: Table, rows: Sequence[int], answers: Answers) -> dict[str, str]:
    if table.column("zone") is not None or not rows:
        return {}
    letters = list(dict.fromkeys(_letters(table.text(row, "place")) for row in rows))
    if not all(letters):
        letters = []
    likely = {letter: zone for letter in letters if (zone := word_for(letter, ZONES))}
    suggested = ", ".join(f"{k} = {v}" for k, v in likely.items()) if len(likely) == len(letters) and letters else None
    answer = answers.ask(
        "zones",
        "No column says which places are centre, face or gauge. Does the letter of the name? (such as C = centre, "
        "F = face, G = gauge; or: no)",
        (),
        form="text",
        about="meaning",
        count=len(rows),
        example=example_of(table.sheet, rows[0], table.left),
        suggested=suggested,
        holds=("layout",),
    )
    said = re.findall(r"([A-Za-z]+)\s*=\s*(centre|face|gauge)", str(answer or suggested or ""))
    return {letter.upper(): zone for letter, zone in said}


def _numbers(taken: WheelTaken, answers: Answers, site: Site | None) -> None:
    """Names of places become numbers: their own, their digits, or as answered."""
    names = [place.name for place in taken.places]
    given = answers.given.get("place numbers")
    if isinstance(given, dict):
        for place in taken.places:
            place.number = int(given.get(place.name, 0))
        answers.used["place numbers"] = given
        if all(place.number for place in taken.places):
            return
    digits = [re.findall(r"\d+", name) for name in names]
    own = [
        int("".join(found)) if found and not re.search(r"\d[a-z]\Z", name, re.I) else 0
        for found, name in zip(digits, names, strict=True)
    ]
    order = list(range(1, len(names) + 1))
    if all(name.isdigit() for name in names) or (
        len(set(own)) == len(own) and all(own) and (own == order or all(len(d) == 1 for d in digits))
    ):
        answers.settle("place numbers", "the digits of their names", "no two are alike")
        for place, number in zip(taken.places, own, strict=True):
            place.number = number
        return
    answer = answers.ask(
        "place numbers",
        "The names of places hold no numbers of their own that differ. Number them in the order of the "
        "layout from 1? (or give a table of name = number)",
        ("order of the layout",),
        form="choice",
        about="meaning",
        count=len(names),
        example={"shown": ", ".join(names[:4])},
        suggested="order of the layout",
        holds=("layout", "stops"),
    )
    del answer
    for place, number in zip(taken.places, order, strict=True):
        place.number = number


def _twins(taken: WheelTaken, answers: Answers) -> None:
    """Places named 17a and 17b: edges of one tool only where the site says so."""
    stems: dict[str, list[Place]] = {}
    for place in taken.places:
        if re.search(r"\d[a-dA-D]\Z", place.name) and place.housing is None:
            stems.setdefault(place.name[:-1], []).append(place)
    pairs = {stem: places for stem, places in stems.items() if len(places) > 1}
    if not pairs:
        return
    answer = answers.ask(
        "twins",
        f"{len(pairs)} pairs of places differ by their last letter only ({next(iter(pairs.values()))[0].name} ...): "
        "are they edges of one tool, changed together?",
        ("one tool", "tools of their own"),
        about="meaning",
        count=len(pairs),
        suggested="one tool",
        holds=("layout",),
        example={"shown": ", ".join(p.name for p in next(iter(pairs.values())))},
    )
    if answer == "one tool":
        for stem, places in pairs.items():
            for place in places:
                place.housing = stem.strip("-_ ") or stem


def _fill_tools(taken: WheelTaken, answers: Answers) -> None:
    """Types that only the layout names; limits a type has by its places."""
    for place in taken.places:
        tool = taken.tools.setdefault(place.tool_type, Tool(code=place.tool_type, source=place.source))
        if tool.kind is None:
            tool.kind = word_for(tool.code, KINDS)
    used = {place.tool_type for place in taken.places}
    taken.tools = {code: tool for code, tool in taken.tools.items() if code and (code in used or tool.source)}
    for code, tool in taken.tools.items():
        if tool.kind is None:
            answer = answers.ask(
                f"kind of {code}", f"What kind of tool is '{code}'?", OUR_KINDS, about="meaning", holds=("layout",)
            )
            tool.kind = answer
        if tool.wear_limit_mm is None:
            own = Counter(p.wear_limit_mm for p in taken.places if p.tool_type == code and p.wear_limit_mm is not None)
            if own:
                tool.wear_limit_mm = own.most_common(1)[0][0]
    for place in taken.places:
        if place.wear_limit_mm is not None and place.wear_limit_mm == taken.tool(place).wear_limit_mm:
            place.wear_limit_mm = None
