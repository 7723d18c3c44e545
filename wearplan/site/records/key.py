"""What a key of the folder is, told once: beside the field that carries it.

A field of a record that stands in a file is typed ``Annotated[type, Key(...)]``. From that follow the model that
checks a file, its JSON Schema (`wearplan.site.forms`), the reader, the writer (`wearplan.site.write.record_toml`) and
the columns of the sheets (`wearplan.site.sheets`). Only the standard library is needed here: a record costs nothing
to import.
"""

from __future__ import annotations

import math
from dataclasses import MISSING, dataclass, fields, replace
from functools import cache
from typing import Annotated, Any, NamedTuple, get_args, get_origin, get_type_hints


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a file: what it means, and what may stand there."""

    about: str = ""
    """In words for people; its first letter is a capital, its unit is in the key's own name."""
    words: tuple[str, ...] = ()
    """The words allowed; empty where any text will do."""
    ge: float | None = None
    gt: float | None = None
    le: float | None = None
    lt: float | None = None
    most: int | None = None
    """Characters of a text, items of a list."""
    least: int | None = None
    """Items of a list that is there at all."""
    pattern: str | None = None
    station: bool = False
    """A number that people also write as ``2+345.6``."""
    lines: bool = False
    """A text that may run over several lines."""
    at: str = ""
    """Where it stands in the file: ``name`` under another name; ``[table]`` in that table; ``[[table]]`` as an array of
    tables of the whole file, wherever the record keeps it."""
    by: str = ""
    """A table by name: the field of the item that holds the name."""
    needed: bool = False
    """Must stand in the file though the record has a default."""
    one_of: str = ""
    """Of the keys with this word just one is set."""
    head: str = ""
    """What a sheet that people fill in calls it; empty: it stands on no sheet."""
    also: tuple[str, ...] = ()
    """Other heads it is known by on a sheet."""

    def over(self, inner: Key) -> Key:
        """This key with what it does not say taken from the key of its bare type."""
        blank = Key()
        unsaid = {
            f.name: getattr(inner, f.name) for f in fields(self) if getattr(self, f.name) == getattr(blank, f.name)
        }
        return replace(self, **unsaid)

    def wrong(self, value: float) -> str:
        """Why a number cannot stand here; empty where it can."""
        if not math.isfinite(value):
            return f"{value} is no number"
        low, high = self.ge if self.ge is not None else self.gt, self.le if self.le is not None else self.lt
        below = (self.ge is not None and value < self.ge) or (self.gt is not None and value <= self.gt)
        above = (self.le is not None and value > self.le) or (self.lt is not None and value >= self.lt)
        if not below and not above:
            return ""
        if low is not None and high is not None:
            return f"{value:g} cannot be: it must be from {low:g} to {high:g}"
        return f"{value:g} cannot be: it must be {'at least' if below else 'at most'} {low if below else high:g}"


NAME = r"^([^\s?]|\S[^\r\n]*\S)$"
"""One line, no blanks around it, not the mark of a thing to fill in."""
Name = Annotated[str, Key(most=120, pattern=NAME)]
Line = Annotated[str, Key(most=400, pattern=r"^([^\r\n?]|[^\r\n]{2,})?$")]
Note = Annotated[str, Key(most=10_000, lines=True)]
# numbers are held to a range that no shield on earth leaves, so that a slip of the decimal point is noticed
Chainage = Annotated[float, Key(ge=-1e6, le=1e6, station=True)]
Share = Annotated[float, Key(ge=0, le=1)]
Money = Annotated[float, Key(ge=0, le=1e12)]
Hours = Annotated[float, Key(ge=0, le=20_000)]
Days = Annotated[float, Key(ge=0, le=3650)]
PressureBar = Annotated[float, Key("bar gauge at the tunnel axis", ge=0, le=30)]
WearMm = Annotated[float, Key("mm, radial or of height", ge=0, le=1000)]
PositionNumber = Annotated[int, Key(ge=0, le=99_999)]
Radius = Annotated[float, Key(ge=0, le=15_000)]
RingNumber = Annotated[int, Key(ge=-1000, le=1_000_000)]
Angle = Annotated[float, Key(ge=-360, le=360)]


class Described(NamedTuple):
    """One key of a record as its description says."""

    name: str
    """The field."""
    key: Key
    type: Any
    """Bare: without ``Annotated`` and without None."""
    optional: bool
    """May be None."""
    default: Any
    """Of the record; `MISSING` where it must be given."""

    @property
    def has_default(self) -> bool:
        """Whether the record does without it."""
        return self.default is not MISSING

    @property
    def in_file(self) -> str:
        """What the key is called in the file."""
        return self.key.at.strip("[]") if self.key.at and not self.in_table else self.name

    @property
    def in_table(self) -> str:
        """The table of the file it stands in beside others; empty: in the record's own."""
        at = self.key.at
        return at[1:-1] if at.startswith("[") and not at.startswith("[[") else ""

    @property
    def on_top(self) -> bool:
        """Whether it is an array of tables of the whole file."""
        return self.key.at.startswith("[[")


def unwrapped(annotation: Any) -> tuple[Any, Key | None, bool]:
    """The bare type, its key and whether it may be None, of ``Annotated[X | None, Key]`` and the like."""
    key, optional = None, False
    while True:
        if get_origin(annotation) is Annotated:
            inner, *extras = get_args(annotation)
            for extra in reversed(extras):
                if isinstance(extra, Key):
                    key = extra if key is None else key.over(extra)
            annotation = inner
            continue
        arms = [arm for arm in get_args(annotation) if arm is not type(None)]
        if len(arms) == 1 and len(get_args(annotation)) == 2 and get_origin(annotation) not in (tuple, dict, list):
            annotation, optional = arms[0], True
            continue
        return annotation, key, optional


@cache
def described(record: Any) -> tuple[Described, ...]:
    """The keys of a record in its order. A field without a key stands in no file: it is worked out while reading."""
    hints = get_type_hints(record, include_extras=True)
    found = []
    for field in fields(record):
        bare, key, optional = unwrapped(hints[field.name])
        if key is not None:
            made = field.default_factory
            default = field.default if made is MISSING else made()
            found.append(Described(field.name, key, bare, optional, default))
    return tuple(found)


def one_way(record: type, word: str) -> tuple[str, ...]:
    """The keys of which just one is set."""
    return tuple(found.name for found in described(record) if found.key.one_of == word)


def columns(record: Any) -> tuple[str, ...]:
    """The columns of a CSV file of such records, in their order."""
    return tuple(found.in_file for found in described(record))


def needed(record: Any) -> tuple[str, ...]:
    """The columns without which such a file cannot be read."""
    return tuple(found.in_file for found in described(record) if found.key.needed)


def limits(record: Any) -> dict[str, tuple[float, float]]:
    """Lowest and highest number of each column that holds numbers."""
    keys = {found.in_file: found.key for found in described(record)}
    return {name: (key.ge, key.le) for name, key in keys.items() if key.ge is not None and key.le is not None}
