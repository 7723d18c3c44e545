"""What pydantic found wrong, said in words a site engineer can act on."""

from __future__ import annotations

import re
from typing import Any, get_args, get_origin

from pydantic import BaseModel

from wearplan.site.parse.text import did_you_mean, nearest, shown

TO_FILL = "?"
"""What a new folder writes where only the site can say."""


def place_text(loc: tuple[str | int, ...]) -> str:
    """A place in a file as people write it: ``[table] key`` or ``[[table]] key``."""
    if not loc:
        return ""
    head, rest = str(loc[0]), list(loc[1:])
    if not rest:
        return head
    if isinstance(rest[0], int):
        head, rest = f"[[{head}]]", rest[1:]
    else:
        head = f"[{head}]"
    tail = ""
    for part in rest:
        if isinstance(part, int):
            tail += f"[{part + 1}]"
        else:
            tail += f".{part}" if tail else str(part)[:80]
    return f"{head} {tail}" if tail else head


def _model_at(annotation: Any) -> type[BaseModel] | None:
    """The model inside ``list[Model]``, ``Model | None`` and the like."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    if get_origin(annotation) is None:
        return None
    for inner in get_args(annotation):
        found = _model_at(inner)
        if found is not None:
            return found
    return None


def keys_at(model: type[BaseModel], loc: tuple[str | int, ...]) -> list[str]:
    """The known keys of the table at a place."""
    here: type[BaseModel] | None = model
    for part in loc:
        if isinstance(part, int):
            continue
        if here is None or part not in here.model_fields:
            return []
        here = _model_at(here.model_fields[part].annotation)
    return list(here.model_fields) if here is not None else []


def about(model: type[BaseModel], loc: tuple[str | int, ...]) -> str:
    """What a key is, in brackets, where its form says so; else nothing."""
    here: type[BaseModel] | None = model
    text = ""
    for part in loc:
        if isinstance(part, int):
            continue
        if here is None or part not in here.model_fields:
            break
        field = here.model_fields[part]
        text = field.description or ""
        here = _model_at(field.annotation)
    return f" ({text[0].lower()}{text[1:].rstrip('.')})" if text else ""


def _tables_with(model: type[BaseModel], key: str) -> list[str]:
    return [name for name in model.model_fields if key in keys_at(model, (name,))]


def wording(model: type[BaseModel], fault: Any, loc: tuple[str | int, ...]) -> tuple[str, str]:
    """A stable code and a sentence for one of pydantic's error records."""
    kind, value = fault["type"], fault.get("input")
    context = fault.get("ctx") or {}
    key = str(loc[-1]) if loc else ""
    if kind != "missing" and value == TO_FILL:
        return "to-fill", f"stands open: only the site can say it{about(model, loc)}; fill it in"
    if kind == "missing":
        return "missing-key", f"{key} is missing; add it{about(model, loc)}"
    if kind == "extra_forbidden":
        return "unknown-key", _unknown(model, key, loc[:-1])
    if kind == "literal_error":
        words = re.findall(r"'([^']*)'", str(context.get("expected", "")))
        return "unknown-word", f"{shown(value)} is none of the words known here; {did_you_mean(str(value), words)}"
    if kind == "value_error":
        return "contradiction", str(context.get("error", "cannot be"))
    limits = _limits(kind, context)
    if limits:
        return "out-of-range", f"{shown(value)} cannot be: {limits}"
    return "wrong-type", f"{shown(value)} cannot stand here: {_wanted(kind, context)}"


def _unknown(model: type[BaseModel], key: str, table: tuple[str | int, ...]) -> str:
    known = keys_at(model, table)
    near = nearest(key, known)
    if near is None:
        elsewhere = _tables_with(model, key)
        if elsewhere:
            return f"{shown(key)} does not belong here but under [{elsewhere[0]}]; move it there"
        if table and key in model.model_fields:
            return f"{shown(key)} does not belong here but at the top of the file, before the first [table]; move it"
    return f"unknown key; {did_you_mean(key, known)}"


def _limits(kind: str, context: dict[str, Any]) -> str:
    bound = {
        "greater_than": ("it must be above", "gt"),
        "greater_than_equal": ("it must be at least", "ge"),
        "less_than": ("it must be below", "lt"),
        "less_than_equal": ("it must be at most", "le"),
    }.get(kind)
    if bound:
        limit = context.get(bound[1])
        return f"{bound[0]} {limit:g}" if isinstance(limit, int | float) else f"{bound[0]} {limit}"
    return {
        "finite_number": "it must be a finite number",
        "int_parsing_size": "the number is too large",
    }.get(kind, "")


def _wanted(kind: str, context: dict[str, Any]) -> str:
    if kind == "string_pattern_mismatch":
        return "write a name on one line, with no blanks around it"
    if kind in ("string_too_long", "too_long"):
        most = context.get("max_length")
        return f"at most {most} {'is' if most == 1 else 'are'} allowed"
    if kind in ("string_too_short", "too_short"):
        return f"at least {context.get('min_length', 1)} must be given"
    if kind.startswith(("float", "decimal")):
        return "write a number, without quotes or unit"
    if kind.startswith("int"):
        return "write a whole number, without quotes or unit"
    if kind.startswith("bool"):
        return "write true or false"
    if kind.startswith("datetime"):
        return "write date and time with the offset, such as 2025-11-17T22:10:00+01:00, without quotes"
    if kind.startswith("date"):
        return "write a date such as 2025-11-17, without quotes"
    if kind.startswith("string"):
        return "write text in quotes"
    if kind.startswith("list"):
        return "write a list in [ ], or [[tables]] of this name"
    if kind.startswith(("dict", "model")):
        return "write a table"
    return "it has the wrong form"
