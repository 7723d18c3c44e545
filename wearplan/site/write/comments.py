"""Comments beside the keys of a new folder, from what is told of them beside the records."""

from __future__ import annotations

import re
from dataclasses import is_dataclass
from typing import Any, cast, get_args

from wearplan.site.records.key import Described, described, unwrapped

_LINE = re.compile(r"(?:# )?(?P<open>\[\[?)?(?P<key>\w+)(?:\]\]?| =[^#]*?)\s*(?P<told>#.*)?\Z")
_AT, _WIDEST = 32, 120
"""Where comments begin; what would run past the edge stands on the line above."""


def commented(text: str, record: type) -> str:
    """The text of a new file with, on each line that has no comment of its own, what its key or table is."""
    tables = _tables(record)
    here: dict[str, str] = tables[""][1]
    lines = []
    for line in text.split("\n"):
        found = _LINE.match(line)
        about = ""
        if found and found["open"]:
            about, here = tables.get(found["key"], ("", {}))
        elif found:
            about = here.get(found["key"], "")
        if not about or (found and found["told"]):
            lines.append(line)
            continue
        beside = f"{line:<{_AT}} # {about}"
        lines.extend([beside] if len(beside) <= _WIDEST else [f"# {about}:", line])
    return "\n".join(lines)


def _tables(record: type) -> dict[str, tuple[str, dict[str, str]]]:
    """By table of a file: what it is, and its keys with what they are; the file's own keys under an empty name."""
    found: dict[str, tuple[str, dict[str, str]]] = {"": ("", {})}
    for key in described(record):
        home = found.setdefault(key.in_table, ("", {}))[1]
        home[key.in_file] = _about(key)
        inner = _record_in(key.type)
        if inner is None:
            found.setdefault(key.in_file, (_about(key), {}))
            continue
        below = _tables(inner)
        found[key.in_file] = (_about(key) or _small((inner.__doc__ or "").split("\n")[0]), below.pop("")[1])
        found |= {name: table for name, table in below.items() if name not in found}
    return found


def _record_in(bare: Any) -> type | None:
    if is_dataclass(bare):
        return cast(type, bare)
    inner = unwrapped(get_args(bare)[0])[0] if get_args(bare) else None
    return cast(type, inner) if is_dataclass(inner) else None


def _about(key: Described) -> str:
    return _small(key.key.about) or " | ".join(key.key.words)


def _small(text: str) -> str:
    text = text if text.endswith("...") else text.rstrip(".")
    return text[:1].lower() + text[1:] if text[1:2].islower() or text[1:2] == " " else text
