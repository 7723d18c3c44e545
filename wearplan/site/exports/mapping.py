"""The small TOML file that says which column of a machine's export is what.

For a row a ring::

    [time]
    form = "%d.%m.%Y %H:%M:%S"          # absent: ISO 8601
    offset = "+01:00"

    [columns]                           # our name = their head
    ring = "Ring No."
    end_chainage_m = { head = "Chainage shield tail", add = 9.5 }   # ours is the face's
    advance_m = { head = "Stroke", unit = "mm" }
    finished_at = "End of ring"
    revolutions_total = "Revolutions"
    revolutions_idle = "Revolutions idle"
    thrust_kn = "Thrust [MN]"           # a known unit in brackets is taken from the head

    [extra]                             # columns to keep beside
    slurry_flow_m3_h = "Q feed"

    [regimes]                           # their word = ours
    "closed" = "full chamber"

For a row a second, ``[samples]`` with ``time``, ``rotation_rpm``, ``chainage_m`` or ``stroke_m``, and ``ring`` where
the export has it; ``[sampling]`` says the rest. Separator, decimal sign and encoding are found by looking; ``[file]``
may say them.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from wearplan.site.forms.model import Strict
from wearplan.site.parse.delimited import zone
from wearplan.site.parse.document import open_document, parse
from wearplan.site.parse.faults import FaultLog
from wearplan.site.parse.text import clean
from wearplan.site.records import Fault
from wearplan.site.records.key import NAME

Name = Annotated[str, Field(max_length=120, pattern=NAME)]
UNITS: dict[str, dict[str, float]] = {
    "_m": {"m": 1.0, "mm": 1e-3, "cm": 1e-2, "km": 1e3, "ft": 0.3048, "in": 0.0254},
    "_kn": {"kn": 1.0, "n": 1e-3, "mn": 1e3, "t": 9.80665, "tf": 9.80665},
    "_knm": {"knm": 1.0, "nm": 1e-3, "mnm": 1e3},
    "_bar": {"bar": 1.0, "mbar": 1e-3, "kpa": 1e-2, "mpa": 10.0, "pa": 1e-5, "psi": 0.0689475729},
    "_rpm": {"rpm": 1.0, "1/min": 1.0, "min-1": 1.0, "u/min": 1.0, "rad/s": 9.549296585513721, "1/s": 60.0, "hz": 60.0},
    "_minutes": {"min": 1.0, "s": 1 / 60, "h": 60.0},
    "_share": {"": 1.0, "%": 0.01, "1": 1.0},
}
"""What one of a unit is in the unit at the end of our key. 1 tf = 9.80665 kN, 1 in = 25.4 mm, 1 ft = 0.3048 m,
1 psi = 6.89475729 kPa: exact or as in ISO 80000 and NIST SP 811."""


class Column(Strict):
    """A column by its head, its unit where that is not ours, and what to add (in our unit) after converting.

    An ``optional`` one may be absent from a file.
    """

    head: Name
    unit: Annotated[str, Field(max_length=20)] | None = None
    factor: float = 1.0
    add: float = 0.0
    optional: bool = False


Source = Name | Column


class FileTable(Strict):
    """How the file is written; what is left out is found by looking."""

    separator: Literal[";", ",", "|", "\t", "tab"] | None = None
    decimal: Literal[".", ","] | None = None
    encoding: Annotated[str, Field(max_length=30)] | None = None
    header_line: int | None = Field(None, ge=1, le=1000)


class TimeTable(Strict):
    """How times are written."""

    form: Annotated[str, Field(max_length=60)] | None = Field(
        None, description='Such as "%d.%m.%Y %H:%M:%S"; absent: ISO 8601.'
    )
    offset: str | None = Field(None, description='Such as "+01:00", for times that carry none.')

    @field_validator("offset")
    @classmethod
    def _is_offset(cls, value: str | None) -> str | None:
        if value is not None:
            zone(value)
        return value


class RingColumns(Strict):
    """Ring rows: our name = theirs.

    Where a ring lies comes from two of start, end and advance, or from start or end and the ring length.
    """

    ring: Source
    start_chainage_m: Source | None = None
    end_chainage_m: Source | None = None
    advance_m: Source | None = None
    finished_at: Source | None = None
    finished_on: Source | None = Field(None, description="A date, where the time of day stands in finished_at.")
    revolutions_boring: Source | None = None
    revolutions_idle: Source | None = None
    revolutions_total: Source | None = Field(None, description="Boring and idle together.")
    revolutions_ccw: Source | None = None
    revolutions_ccw_share: Source | None = None
    rotation_rpm: Source | None = None
    boring_minutes: Source | None = None
    idle_minutes: Source | None = None
    regime: Source | None = None
    thrust_kn: Source | None = None
    torque_knm: Source | None = None
    face_pressure_bar: Source | None = None

    @model_validator(mode="after")
    def _says_where(self) -> RingColumns:
        if self.start_chainage_m is None and self.end_chainage_m is None:
            raise ValueError("start_chainage_m or end_chainage_m must be given: without it no ring has a place")
        return self


class SampleColumns(Strict):
    """Raw samples: our name = theirs. Rings come from ring, else from the chainage, else from the stroke's returns."""

    time: Source
    date: Source | None = Field(None, description="Where the date stands in a column beside the time of day.")
    ring: Source | None = None
    chainage_m: Source | None = None
    stroke_m: Source | None = None
    rotation_rpm: Source
    thrust_kn: Source | None = None
    torque_knm: Source | None = None
    face_pressure_bar: Source | None = None

    @model_validator(mode="after")
    def _says_where(self) -> SampleColumns:
        if self.chainage_m is None and self.stroke_m is None:
            raise ValueError("chainage_m or stroke_m must be given: without it no advance is known")
        return self


class SampleTable(Strict):
    """How samples become rings."""

    first_ring: int | None = Field(None, description="Number of the ring bored first, where no column says it.")
    first_start_chainage_m: float | None = Field(None, description="Chainage of the face where that ring began.")
    longest_gap_s: float = Field(10.0, gt=0, le=3600, description="Nothing is assumed across a longer gap.")
    least_thrust_kn: float | None = Field(None, ge=0, description="Boring only at this thrust or more.")
    least_advance_mm_per_min: float = Field(2.0, ge=0, le=100, description="Boring only at this advance or more.")
    least_rotation_rpm: float = Field(0.05, ge=0, le=10, description="Below it the wheel counts as standing.")
    ccw: Literal["negative", "positive", "not told"] = Field(
        "negative", description="Sign of counter-clockwise rotation."
    )


class MappingFile(Strict):
    """The whole mapping."""

    file: FileTable = Field(default_factory=lambda: FileTable.model_validate({}))
    time: TimeTable = Field(default_factory=lambda: TimeTable.model_validate({}))
    columns: RingColumns | None = None
    samples: SampleColumns | None = None
    sampling: SampleTable = Field(default_factory=lambda: SampleTable.model_validate({}))
    extra: dict[Name, Name] = Field(default={}, max_length=60, description="Further columns: our name = theirs.")
    regimes: dict[str, Name] = Field(default={}, max_length=60, description="Their word for the regime = ours.")

    @model_validator(mode="after")
    def _has_columns(self) -> MappingFile:
        if self.columns is None and self.samples is None:
            raise ValueError("[columns] (a row a ring) or [samples] (a row a second) is missing")
        return self


def read_mapping(path: Path) -> tuple[MappingFile | None, tuple[Fault, ...]]:
    """A mapping from its TOML file; None with the faults where it cannot be used."""
    log = FaultLog()
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        log.add(path.name, 1, "", f"cannot be read ({clean(str(error))[:200]})", code="unreadable")
        return None, log.faults()
    document = open_document(path.name, text, log, ())
    parsed = parse(document, MappingFile, lambda place: ()) if document is not None else None
    faults = log.faults()
    return (parsed.model if parsed is not None and not faults else None), faults


def as_column(source: str | Column | None) -> Column | None:
    """A column however it was given."""
    return Column(head=source) if isinstance(source, str) else source


def factor_of(key: str, column: Column, head: str) -> float:
    """What one of the column's unit is in ours; the unit is the mapping's word, else what stands in the head.

    Raises
    ------
    ValueError
        If the mapping names a unit that cannot be one of this key.
    """
    units = next((units for end, units in UNITS.items() if key.endswith(end)), {})
    if column.unit is not None:
        unit = column.unit.strip().casefold()
        if unit not in units:
            known = ", ".join(name for name in units if name) or "none"
            raise ValueError(f"{column.unit!r} is no unit of {key}; known: {known}")
        return units[unit] * column.factor
    found = re.search(r"[\[(]([^\])]*)[\])]\s*\Z", head)
    return units.get(found[1].strip().casefold(), 1.0) * column.factor if found else column.factor
