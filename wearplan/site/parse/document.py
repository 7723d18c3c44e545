"""One TOML file of the folder: its values, where they stand, and what is wrong with them.

A file is checked by its pydantic model as a whole. What is wrong is noted with its line; wrong items of arrays and
wrong optional keys are then left out, so that the rest can still be read and checked further.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from pydantic import BaseModel, ValidationError

from wearplan.site.parse.faults import ALL, NOTHING, PLAN_ON, FaultLog
from wearplan.site.parse.lines import Path, header_lines, index_lines
from wearplan.site.parse.text import CONTROL, clean, shown
from wearplan.site.parse.wording import TO_FILL, place_text, wording
from wearplan.site.records import Origin

Loc = tuple[str | int, ...]
Forbids = Callable[[Loc], Iterable[str]]
Open = Mapping[tuple[str, str], float | None]
"""(array of tables, key): what holds the key's place while it is still to be filled in; None: nothing does."""
NONE_OPEN: Open = MappingProxyType({})

_STEERING_ESCAPE = re.compile(r"\\(?:[bfre]|[uU]|x)")
_DEEPEST = 12
_MOST_WORDED = 300
"""So many faults of one file are put into words; a file with more is no slip of the pen."""


def forbidden_by(name: str) -> tuple[str, ...]:
    """The answers that fall when a file of this name cannot be read."""
    if name.startswith("stops"):
        return PLAN_ON
    if name.startswith("stores"):
        return ("demand",)
    if name.startswith("events"):
        return NOTHING
    return ALL


class Document:
    """A TOML text with its values and a (lazily made) index of lines."""

    def __init__(self, file: str, text: str, data: dict[str, Any], log: FaultLog) -> None:
        self.file = file
        self.data = data
        self.log = log
        self._text = text
        self._headers = header_lines(text)
        self._index: dict[Path, int] | None = None

    def line(self, loc: Loc) -> int:
        """The line of a key, or of the nearest thing around it that has one."""
        if len(loc) == 2 and isinstance(loc[1], int):
            headers = self._headers.get(str(loc[0]), [])
            if len(headers) == len(self.data.get(str(loc[0]), ())):
                return headers[loc[1]]
        if self._index is None:
            self._index = index_lines(self._text)
        loc = tuple(loc)
        while loc:
            if loc in self._index:
                return self._index[loc]
            loc = loc[:-1]
        return 1

    def origin(self, *loc: str | int) -> Origin:
        return Origin(self.file, self.line(loc))

    def fault(self, loc: Loc, what: str, *, code: str, forbids: Iterable[str] = ALL) -> None:
        """Note a fault at a key."""
        self.log.add(self.file, self.line(loc), place_text(loc), what, code=code, forbids=forbids)


@dataclass
class Parsed:
    """What could be read of a document."""

    doc: Document
    model: Any
    kept: dict[str, list[int]] = field(default_factory=dict)
    """By array of tables: the place in the file of each item that was kept."""
    bad: dict[str, dict[int, str]] = field(default_factory=dict)
    """By array of tables: the items left out, with what was wrong."""

    def loc(self, table: str, index: int, *rest: str | int) -> Loc:
        """Where the kept item ``index`` of a table stands in the file."""
        kept = self.kept.get(table)
        return (table, kept[index] if kept is not None else index, *rest)

    def origin(self, table: str, index: int) -> Origin:
        return Origin(self.doc.file, self.doc.line(self.loc(table, index)))

    def fault(self, loc: Loc, what: str, *, code: str, forbids: Iterable[str] = ALL) -> None:
        self.doc.fault(loc, what, code=code, forbids=forbids)


def open_document(file: str, text: str, log: FaultLog, forbids: Iterable[str]) -> Document | None:
    """Read a text as TOML; None with a fault where it is not."""
    try:
        data = tomllib.loads(text)
    except RecursionError:
        log.add(file, 1, "", "is nested too deeply to be a site file; it is not read", code="not-toml", forbids=forbids)
        return None
    except ValueError as error:
        line, what = _syntax(str(error), text)
        log.add(file, line, "", what, code="not-toml", forbids=forbids)
        return None
    doc = Document(file, text, data, log)
    if CONTROL.search(text) or _STEERING_ESCAPE.search(text):
        doc.data = _cleaned(doc, data, (), 0)
    return doc


def _syntax(message: str, text: str) -> tuple[int, str]:
    """The line and the wording of a fault in TOML's own grammar."""
    found = re.search(r"\(at (?:line (\d+), column (\d+)|end of document)\)", message)
    what = shown(message[: found.start()].strip() if found else message).strip('"')
    if found and found.group(1):
        return int(found.group(1)), f"is not TOML at column {found.group(2)}: {what}; mend this line"
    return text.count("\n") + 1, f"is not TOML: {what}; the file may have been cut off"


def _cleaned(doc: Document, value: Any, loc: Loc, depth: int) -> Any:
    """The same values with steering characters replaced, each named."""
    if depth > _DEEPEST:
        return value
    if isinstance(value, dict):
        return {clean(key): _cleaned(doc, item, (*loc, key), depth + 1) for key, item in value.items()}
    if isinstance(value, list):
        return [_cleaned(doc, item, (*loc, at), depth + 1) for at, item in enumerate(value)]
    if isinstance(value, str) and CONTROL.search(value):
        doc.fault(
            loc,
            "holds control characters (they could steer a terminal); they are shown as \ufffd, write it without them",
            code="control-characters",
            forbids=NOTHING,
        )
        return clean(value)
    return value


def parse(doc: Document, model: type[BaseModel], forbids: Forbids, open_as: Open = NONE_OPEN) -> Parsed | None:
    """Check a document by its model.

    Parameters
    ----------
    forbids
        The answers that fall with a fault at a place in the file.
    open_as
        Keys that only plan and demand rest on: while one is missing or still to be filled in, its item is kept, and
        those two are not answered.

    Returns
    -------
    Parsed or None
        None where too much is wrong to go on; all that is wrong has been noted either way.
    """
    data = doc.data
    parsed = Parsed(doc, None)
    for round_ in range(3):
        try:
            parsed.model = model.model_validate(data)
        except ValidationError as error:
            faults = error.errors(include_url=False, include_context=True)
        except RecursionError:
            doc.fault((), "is nested too deeply to be a site file", code="not-toml", forbids=forbids(()))
            return None
        else:
            return parsed
        drop: set[Loc] = set()
        still_open: list[Loc] = []
        for number, fault in enumerate(faults):
            loc = tuple(part for part in fault["loc"] if part != "[key]")
            held = _held(fault, loc, open_as)
            if held:
                still_open.append(loc)
            else:
                drop.add(_cut(loc, data))
            if round_ and fault["type"] == "missing":
                continue  # what is missing now was wrong before, and has been named
            if number == _MOST_WORDED:
                left = f"and {len(faults) - number} more faults in this file: mend the others and check again"
                doc.log.add(doc.file, 1, "", left, code="more", forbids=ALL if forbids(()) else forbids(loc))
            if number < _MOST_WORDED:
                _put_into_words(parsed, model, fault, loc, PLAN_ON if held else forbids(loc), None if held else data)
        data = _held_open(data, still_open, open_as)
        remaining = data if still_open and not drop else _without(data, drop, parsed)
        if remaining is None:
            return None
        data = remaining
    return None


def _put_into_words(
    parsed: Parsed, model: type[BaseModel], fault: Any, loc: Loc, forbids: Iterable[str], data: dict[str, Any] | None
) -> None:
    """Note a fault, and where something of ``data`` is left out for it, the item that is."""
    code, what = wording(model, fault, loc)
    at = loc[:-1] if fault["type"] == "missing" else loc
    doc = parsed.doc
    doc.log.add(doc.file, doc.line(_original(parsed, at)), place_text(loc), what, code=code, forbids=forbids)
    cut = () if data is None else _cut(loc, data)
    if len(cut) == 2 and isinstance(cut[1], int):
        original = _original(parsed, cut)[1]
        assert isinstance(original, int)
        parsed.bad.setdefault(str(cut[0]), {}).setdefault(original, f"{place_text(loc)}: {what}")


def _held(fault: Any, loc: Loc, open_as: Open) -> bool:
    """Whether a key is one that may stay open, and does."""
    to_fill = fault["type"] == "missing" or fault["input"] == TO_FILL
    return to_fill and len(loc) > 2 and (loc[0], loc[2]) in open_as


def _held_open(data: dict[str, Any], locs: Iterable[Loc], open_as: Open) -> dict[str, Any]:
    """The same data with what holds the place of keys that are still to be filled in."""
    for loc in locs:
        table, at, key, *inner = loc
        items = list(data[str(table)])
        item = dict(items[int(at)])
        value = open_as[str(table), str(key)]
        if value is not None:
            item[str(key)] = value
        elif inner:
            item[str(key)] = {name: said for name, said in item[str(key)].items() if name != inner[0]}
        else:
            item.pop(str(key), None)
        items[int(at)] = item
        data = {**data, str(table): items}
    return data


def _cut(loc: Loc, data: dict[str, Any]) -> Loc:
    """What to leave out for a fault at ``loc``: the item of an array of tables, or the key of a table."""
    if len(loc) >= 2 and isinstance(data.get(str(loc[0])), list | dict):
        return loc[:2]
    return loc[:1]


def _original(parsed: Parsed, loc: Loc) -> Loc:
    if len(loc) >= 2 and isinstance(loc[1], int) and str(loc[0]) in parsed.kept:
        return (loc[0], parsed.kept[str(loc[0])][loc[1]], *loc[2:])
    return loc


def _without(data: dict[str, Any], drop: set[Loc], parsed: Parsed) -> dict[str, Any] | None:
    """A copy of the data without what is to be dropped; None if that changes nothing."""
    items: dict[str, set[int]] = {}
    keys: dict[str, set[str]] = {}
    whole: set[str] = set()
    changed = False
    for loc in drop:
        if len(loc) == 2 and isinstance(loc[1], int):
            items.setdefault(str(loc[0]), set()).add(loc[1])
        elif len(loc) == 2:
            keys.setdefault(str(loc[0]), set()).add(str(loc[1]))
        elif loc:
            whole.add(str(loc[0]))
    result: dict[str, Any] = {}
    for key, value in data.items():
        if key in whole:
            changed = True
        elif key in items and isinstance(value, list):
            kept = parsed.kept.get(key, list(range(len(value))))
            left = [at for at in range(len(value)) if at not in items[key]]
            parsed.kept[key] = [kept[at] for at in left]
            result[key] = [value[at] for at in left]
            changed = True
        elif key in keys and isinstance(value, dict):
            result[key] = {name: item for name, item in value.items() if name not in keys[key]}
            changed = changed or len(result[key]) != len(value)
        else:
            result[key] = value
    return result if changed else None


__all__ = ["TO_FILL", "Document", "Forbids", "Loc", "Parsed", "forbidden_by", "open_document", "parse"]
