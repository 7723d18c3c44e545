"""Ground along the drive, its units, and laboratory tests by unit."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from statistics import mean, stdev
from typing import Any

from wearplan.take.asking import Answers
from wearplan.take.files.ags import AgsTest, ags_tests
from wearplan.take.files.book import Sheet
from wearplan.take.find.tables import Table
from wearplan.take.find.values import chainage_of, comma_decimals, number_of
from wearplan.take.find.words import NO_CUT, YES, holds, plain_word

TESTS = {
    "cai": "cai",
    "lac": "lac_g_per_t",
    "ucs": "ucs_mpa",
    "eqc": "eqc_pct",
    "shear": "shear_strength_kpa",
    "d60": "d60_mm",
}


@dataclass(slots=True, kw_only=True)
class UnitTaken:
    code: str
    name: str = ""
    boulders: bool = False
    tests: dict[str, list[float]] = field(default_factory=dict)
    spread: dict[str, list[float]] = field(default_factory=dict)
    source: str = ""

    def value(self, key: str) -> tuple[float, str]:
        """The mean of a test, and a comment with its spread and number."""
        values = self.tests[key]
        said = f"{len(values)} test{'s' if len(values) > 1 else ''}"
        if len(values) > 1:
            said += f", {min(values):g} to {max(values):g}, sd {stdev(values):.2g}"
        return float(f"{mean(values):.6g}"), said


@dataclass(slots=True, kw_only=True)
class SectionTaken:
    from_m: float
    to_m: float
    mix: dict[str, float] = field(default_factory=dict)
    strata: list[tuple[str, float | None]] = field(default_factory=list)
    cut: bool = True
    penetration: float | None = None
    water: float | None = None
    overcut: float | None = None
    source: str = ""


@dataclass(slots=True)
class GroundTaken:
    units: dict[str, UnitTaken] = field(default_factory=dict)
    sections: list[SectionTaken] = field(default_factory=list)
    holes: list[dict[str, Any]] = field(default_factory=list)
    """Strata and chainage of holes: evidence beside the ground, no sections."""


def ground_from(tables: Sequence[Table], ags: Sequence[tuple[str, str]], answers: Answers) -> GroundTaken:
    """Units, sections and tests; what a stratum's unit is, is confirmed once where names differ."""
    out = GroundTaken()
    for table in tables:
        if "units" in table.kinds:
            _units(table, out)
        elif "tests" in table.kinds:
            _named_units(table, out)
    for table in tables:
        if "tests" in table.kinds:
            _tests(table, out, answers)
    for table in tables:
        if "ground" in table.kinds:
            _sections(table, out, answers)
    for file, text in ags:
        tests, holes, faults = ags_tests(text)
        for line, what in faults:
            answers.note("refused", None, 0, 0, f"{file}, line {line}: {what}", f"line {line}")
        out.holes += holes
        _ags(file, tests, out, answers)
    return out


def _unit(out: GroundTaken, code: str, name: str = "", source: str = "") -> UnitTaken:
    unit = out.units.setdefault(code, UnitTaken(code=code, source=source))
    unit.name = unit.name or name
    return unit


def _units(table: Table, out: GroundTaken) -> None:
    code_at = table.column("code") or table.column("unit")
    name_at = table.column("unit_name") or table.column("name")
    if code_at is None:
        return
    for row in table.rows:
        code = table.sheet.text(row, code_at.at)
        if not code or " " in code.strip() or len(code) > 12:
            continue
        unit = _unit(
            out,
            code,
            table.sheet.text(row, name_at.at) if name_at else "",
            f"{table.sheet.name}!{table.sheet.address(row, code_at.at)}",
        )
        unit.boulders = unit.boulders or plain_word(table.text(row, "boulders")) in YES
        table.used += 1


def _named_units(table: Table, out: GroundTaken) -> None:
    if table.column("unit") is None or table.column("unit_name") is None:
        return
    for row in table.rows:
        if table.text(row, "unit"):
            _unit(
                out,
                table.text(row, "unit"),
                table.text(row, "unit_name"),
                f"{table.sheet.name}!{table.address(row, 'unit')}",
            )


def _find_unit(out: GroundTaken, text: str) -> UnitTaken | None:
    bare = text.strip()
    if bare in out.units:
        return out.units[bare]
    return next(
        (
            u
            for u in out.units.values()
            if plain_word(u.name) == plain_word(bare) or u.code.casefold() == bare.casefold()
        ),
        None,
    )


def _tests(table: Table, out: GroundTaken, answers: Answers) -> None:
    comma = comma_decimals(table.sheet.cells.values())
    columns = [c for c in table.columns if c.meaning in TESTS]
    for row in table.rows:
        text = table.text(row, "unit") or table.text(row, "code") or table.text(row, "unit_name")
        if not text:
            continue
        unit = _find_unit(out, text) or _unit(
            out, text, text, f"{table.sheet.name}!{table.sheet.address(row, table.left)}"
        )
        if columns:
            found = [(c.meaning, table.sheet.at(row, c.at), c.at, c.factor) for c in columns]
        else:
            value_at = table.column("value")
            key = next((m for m in TESTS if _is_test(table.text(row, "test"), m)), "")
            if not key:
                answers.note(
                    "left out",
                    table.sheet,
                    row,
                    table.left,
                    f"test '{table.text(row, 'test')}' is none that is used here",
                )
                continue
            found = [(key, table.cell(row, "value"), value_at.at if value_at else 1, 1.0)]
        for meaning, cell, at, factor in found:
            if cell is None or (cell.value is None and not cell.trouble):
                continue
            try:
                unit.tests.setdefault(meaning, []).append(number_of(cell, comma) * factor)
            except ValueError as error:
                answers.note("refused", table.sheet, row, at, str(error))
        table.used += 1


def _is_test(text: str, meaning: str) -> bool:
    from wearplan.take.find.words import meaning_of

    return meaning_of(text) == meaning


def _sections(table: Table, out: GroundTaken, answers: Answers) -> None:
    sheet = table.sheet
    comma = comma_decimals(sheet.cells.values())
    shares = _share_columns(table, out)
    bounds = [c for c in table.columns if c.meaning == "boundary"]
    skip = {
        c.at
        for c in table.columns
        if c.meaning in ("start_chainage", "end_chainage", "penetration", "water", "overcut", "remark", "boundary")
    }
    for row in table.rows:
        start, end = (_end(table, row, meaning, comma) for meaning in ("start_chainage", "end_chainage"))
        if start is None or end is None:
            continue
        section = SectionTaken(from_m=start, to_m=end, source=f"{sheet.name}!{sheet.address(row, table.left)}")
        texts = [
            sheet.text(row, at) for at in range(table.left, table.right + 1) if at not in skip and at not in shares
        ]
        words = " ".join(texts)
        _face(section, words, out, [v for c in bounds if (v := sheet.at(row, c.at)) is not None])
        _shares(section, sheet, row, shares, comma, answers)
        _numbers(section, table, row, comma, answers)
        if not section.mix and not section.strata and section.cut:
            answers.note("refused", sheet, row, table.left, "the face of this stretch is not understood: left open")
        out.sections.append(section)
        table.used += 1


def _share_columns(table: Table, out: GroundTaken) -> dict[int, UnitTaken]:
    """The columns that give the share of a unit; a share under a name not known yet makes a unit."""
    sheet, shares = table.sheet, {}
    for column in table.columns:
        code = re.sub(r"[%\[\]()]", "", column.head)
        unit = _find_unit(out, code)
        if unit is None and column.meaning == "share":
            code = code.strip()
            unit = _unit(out, code, code, f"{sheet.name}!{sheet.address(table.head_row, column.at)}")
        if unit is not None:
            shares[column.at] = unit
    return shares


def _end(table: Table, row: int, meaning: str, comma: bool) -> float | None:
    """The chainage of one end of a stretch, in metres."""
    column, cell = table.column(meaning), table.cell(row, meaning)
    if column is None or cell is None or cell.value is None:
        return None
    try:
        value, base = chainage_of(cell, comma)
    except ValueError:
        return None
    return round(value * (0.3048 if base == 100 else column.factor), 4)


def _shares(
    section: SectionTaken, sheet: Sheet, row: int, shares: Mapping[int, UnitTaken], comma: bool, answers: Answers
) -> None:
    for at, unit in shares.items():
        cell = sheet.at(row, at)
        if cell is not None and isinstance(cell.value, float | str) and cell.text:
            try:
                section.mix[unit.code] = number_of(cell, comma)
            except ValueError as error:
                answers.note("refused", sheet, row, at, str(error))
    total = sum(section.mix.values())
    if section.mix and total:
        section.mix = {code: round(v / total, 6) for code, v in section.mix.items() if v}


def _numbers(section: SectionTaken, table: Table, row: int, comma: bool, answers: Answers) -> None:
    for meaning, key in (("penetration", "penetration"), ("water", "water"), ("overcut", "overcut")):
        cell, column = table.cell(row, meaning), table.column(meaning)
        if cell is not None and column is not None and cell.value is not None:
            try:
                setattr(section, key, round(number_of(cell, comma) * column.factor, 4))
            except ValueError as error:
                answers.note("refused", table.sheet, row, column.at, str(error))


def _face(section: SectionTaken, words: str, out: GroundTaken, bounds: Sequence[Any]) -> None:
    plain = plain_word(words)
    if any(holds(plain, stem) for stem in NO_CUT):
        section.cut = False
        return
    if not out.units:
        for token in re.findall(r"\b[A-Z]{1,3}\d{0,2}\b", words):
            _unit(out, token, token)
    pattern = "|".join(re.escape(code) for code in sorted(out.units, key=len, reverse=True)) or "$^"
    shared = re.findall(rf"(?<!\w)({pattern})(?!\w)\s*:?\s*(\d+(?:[.,]\d+)?)\s*%", words)
    if not shared:
        behind = re.findall(rf"(\d+(?:[.,]\d+)?)\s*%\s*({pattern})(?!\w)", words)
        shared = [(code, share) for share, code in behind]
    if shared:
        section.mix = {code: float(share.replace(",", ".")) / 100 for code, share in shared}
        return
    order = re.findall(rf"(?<!\w)({pattern})(?!\w)", words)
    if not order:
        order = [u.code for u in out.units.values() if u.name and plain_word(u.name) in plain]
    tops = [top for cell in bounds for top in _levels(cell)]
    if len(order) == 1:
        section.mix = {order[0]: 1.0}
    elif order and len(tops) >= len(order) - 1:
        section.strata = [(order[0], None), *zip(order[1:], tops, strict=False)]


def _levels(cell: Any) -> list[float]:
    """The levels of boundaries in a cell."""
    if isinstance(cell.value, float):
        return [cell.value]
    return [float(text.replace(",", ".")) for text in re.findall(r"[+-]?\d+(?:[.,]\d+)?", cell.text)]


def _ags(file: str, tests: Sequence[AgsTest], out: GroundTaken, answers: Answers) -> None:
    strata = sorted({t.stratum for t in tests})
    same = [code for code in strata if _find_unit(out, code) is not None]
    other = [code for code in strata if code not in same]
    if same:
        answers.settle("AGS strata", "units of the same code", f"{', '.join(same)} stand among the units")
    described = {test.stratum: test.described for test in reversed(tests)}
    answer = None
    if other:
        listed = ", ".join(f"{code} ({described[code]})" for code in other)
        answer = answers.ask(
            "AGS strata",
            f"Which units of ground are the strata {listed} of {file}? (new units, or a table of stratum = unit)",
            ("new units",),
            about="meaning",
            count=len(tests),
            example={"file": file, "shown": other[0]},
            suggested="new units",
            holds=("ground",),
        )
    named = {code: str(unit) for code, unit in answer.items()} if isinstance(answer, dict) else {}
    meant = {code: unit for code in other if (unit := out.units.get(named.get(code, ""))) is not None}
    for code in other:
        if code not in meant:
            _unit(out, code, described[code], file)
    for test in tests:
        unit = meant.get(test.stratum) or _find_unit(out, test.stratum)
        if unit is not None:
            _add(unit, test)


def _add(unit: UnitTaken, test: AgsTest) -> None:
    unit.tests.setdefault(test.kind, []).append(test.value)
    if test.spread is not None:
        unit.spread.setdefault(test.kind, []).append(test.spread)
