"""Models of the files, made from the descriptions beside the records (`wearplan.site.records.key`).

Nothing here knows any key: what stands in a file is told in `records` and nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import is_dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any, Literal, TypeVar, cast, get_args, get_origin

from pydantic import BaseModel, ConfigDict, Field, create_model

from wearplan.site.records.key import Described, Key, described, one_way, unwrapped

Record = TypeVar("Record")
_NO_KEY = Key()


class Strict(BaseModel):
    """A table whose keys are all known and whose values need no guessing: no number as text, none endless."""

    model_config = ConfigDict(extra="forbid", strict=True, allow_inf_nan=False, defer_build=True)


@cache
def model_of(record: type) -> type[Strict]:
    """The model of a file, or of a table in it, that holds one such record.

    Parameters
    ----------
    record : type
        A dataclass whose fields carry a `Key`.
    """
    own, top = _split(record)
    return _made(record.__name__, record, {**own, **top})


def made(record: type[Record], item: Any, **more: Any) -> Record:
    """The record of what a model holds: lists as tuples, tables as records of their own.

    Parameters
    ----------
    more
        What is worked out while reading (``driven_m``, ``origin``), and keys that take another value than the file's.
    """
    said = {name: change(item) for name, change in _readers(cast(Any, record)) if name not in more}
    return record(**said, **more)


@cache
def _readers(record: Any) -> tuple[tuple[str, Callable[[Any], Any]], ...]:
    """How each key is had from the model; what stands on top of the file is for the caller to give."""
    return tuple((key.name, _reader(key)) for key in described(record) if not key.on_top)


def _reader(key: Described) -> Callable[[Any], Any]:
    name, table, turn = key.in_file, key.in_table, _turned(key.type)
    if table:
        return lambda item: turn(getattr(getattr(item, table), name))
    if key.key.by:
        inner, by = get_args(key.type)[0], key.key.by
        return lambda item: tuple(made(inner, one, **{by: called}) for called, one in getattr(item, name).items())
    return lambda item: turn(getattr(item, name))


def _turned(bare: Any) -> Callable[[Any], Any]:
    """From what pydantic holds to what a record holds."""
    if is_dataclass(bare):
        return lambda value: None if value is None else made(cast(type, bare), value)
    if get_origin(bare) is tuple:
        inner = _turned(unwrapped(get_args(bare)[0])[0])
        return lambda value: tuple(inner(one) for one in value or ())
    if _is_mapping(bare):
        return lambda value: MappingProxyType(dict(value or {}))
    return lambda value: value


def _is_mapping(bare: Any) -> bool:
    origin = get_origin(bare)
    return isinstance(origin, type) and issubclass(origin, Mapping)


def _split(record: type, but: str = "") -> tuple[dict[str, Any], dict[str, Any]]:
    """The fields of the record's own table, and those of it that stand on top of the file."""
    own: dict[str, Any] = {}
    top: dict[str, Any] = {}
    tables: dict[str, dict[str, Any]] = {}
    for key in described(record):
        if key.name == but:
            continue
        if key.in_table:
            own[key.in_table] = None  # its place among the others; filled below
        home = top if key.on_top else tables.setdefault(key.in_table, {}) if key.in_table else own
        home[key.in_file] = _field(key)
        if is_dataclass(key.type):
            top |= _split(cast(type, key.type))[1]
    for name, keys in tables.items():
        own[name] = (_made(name.capitalize() + "Table", None, keys), Field())
    return own, top


def _bounds(key: Key) -> dict[str, Any]:
    """What pydantic holds a value to."""
    said = {name: getattr(key, name) for name in ("ge", "gt", "le", "lt", "pattern")}
    said |= {"min_length": key.least, "max_length": key.most}
    return {name: value for name, value in said.items() if value is not None}


def _field(key: Described) -> tuple[Any, Any]:
    """One field as pydantic wants it: its type, and its default with what is said of it."""
    said = key.key
    many = get_origin(key.type) is tuple or _is_mapping(key.type)
    if many:
        bare, about = _type(key.type, said), _bounds(said)
    else:
        bare, about = _plain(key.type, replace(said, about="")), {}
    if said.about:
        about["description"] = said.about
    if said.needed or not key.has_default:
        return bare, Field(**about)
    if key.optional or (many and said.least is not None):  # a list that cannot be empty is not there
        return bare | None, Field(None, **about)
    if many:
        empty = {} if said.by or _is_mapping(key.type) else list(key.default)
        return bare, Field(default=empty, **about)
    return bare, Field(key.default, **about)


def _type(bare: Any, said: Key = _NO_KEY) -> Any:
    """A type of a record as pydantic's: tuples are lists, records are models."""
    if is_dataclass(bare):
        return table_of(cast(type, bare))
    if get_origin(bare) is tuple:
        inner, key, _ = unwrapped(get_args(bare)[0])
        if said.by:
            named = next(one for one in described(inner) if one.name == said.by)
            return dict[_plain(named.type, named.key), table_of(inner, said.by)]  # type: ignore[misc]
        return list[_plain(inner, key)]  # type: ignore[misc]
    if _is_mapping(bare):
        (name, name_key, _), (value, value_key, _) = (unwrapped(part) for part in get_args(bare))
        return dict[_plain(name, name_key), _plain(value, value_key)]  # type: ignore[misc]
    return bare


@cache
def table_of(record: type, but: str = "") -> type[Strict]:
    """The model of a table within a file."""
    return _made(record.__name__, record, _split(record, but)[0])


def _plain(bare: Any, key: Key | None) -> Any:
    """One value, or an item of a list or of a table."""
    if key is None or is_dataclass(bare):
        return _type(bare)
    if key.words:
        return Literal[key.words]
    bounds = _bounds(key)
    if key.about:
        bounds["description"] = key.about
    return Annotated[bare, Field(**bounds)] if bounds else bare


def _made(name: str, record: type | None, keys: dict[str, Any]) -> type[Strict]:
    base: Any = Strict
    ways = one_way(record, "reading") if record is not None else ()
    if ways:
        extra: Any = {"oneOf": [{"required": [way]} for way in ways]}
        base = type(name, (Strict,), {"model_config": ConfigDict(json_schema_extra=extra), "__module__": __name__})
    return cast(
        type[Strict], create_model(name, __base__=base, __doc__=record.__doc__ if record is not None else None, **keys)
    )
