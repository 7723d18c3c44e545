"""Edits of the files that people write: wheel, ground, stops, stores and the site itself.

Comments and order survive. Whoever edits says what they saw; if the file says something else by now, nothing is written
and the difference is told.
"""

from __future__ import annotations

import contextlib
import copy
import difflib
import os
import tomllib
from collections.abc import Callable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

from wearplan.site.parse.conforming import faults_in
from wearplan.site.records import Fault
from wearplan.site.records.clock import zone_of
from wearplan.site.write.durable import NotWritten, replace_whole, sha256_of, told, within

Step = str | int | Mapping[str, Any]
"""A key, the place in a list, or what the one meant in a list of tables holds (``{"number": 12}``)."""
_DIFFERENCES_SHOWN = 40


@dataclass(frozen=True, slots=True)
class Put:
    """Set the value at a place; a key that is not there is added."""

    where: tuple[Step, ...]
    value: Any


@dataclass(frozen=True, slots=True)
class Drop:
    """Take out what is at a place; nothing there is no error."""

    where: tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Add:
    """Append a table to a list of tables; the list is begun if need be."""

    where: tuple[Step, ...]
    table: Mapping[str, Any]


Edit = Put | Drop | Add


@dataclass(frozen=True, slots=True)
class Seen:
    """A file as it was seen before an edit."""

    path: Path
    content: bytes

    @property
    def sha256(self) -> str:
        return sha256_of(self.content)

    @property
    def data(self) -> dict[str, Any]:
        """What it says; `ValueError` if it is no TOML."""
        return tomllib.loads(self.content.decode("utf-8-sig"))


@dataclass(frozen=True, slots=True)
class Edited:
    """What an edit did: the file as it is now (to be handed to the next edit) and the lines that changed."""

    seen: Seen
    diff: str


def see(path: Path) -> Seen:
    """Read a file for an edit to come."""
    with told(path):
        return Seen(path, path.read_bytes())


def edit_toml(
    path: Path,
    edits: Sequence[Edit],
    seen: Seen | str,
    *,
    check: Callable[[dict[str, Any]], Sequence[Fault]] | None = None,
) -> Edited:
    """Change values in a TOML file of a site folder and nothing else in it.

    Parameters
    ----------
    path : Path
        A TOML file of the site folder, or of its ``ground`` folder.
    edits : sequence of Put, Drop, Add
        Done in order, all or none.
    seen : Seen or str
        What the caller saw (from `see`), or its SHA-256. With `Seen` a refusal can tell what differs.
    check : callable, optional
        Gets what the file would say; any fault it returns refuses the edit. The format is held to in any case: an edit
        may leave faults that were there, and may not bring new ones.

    Raises
    ------
    NotWritten
        ``changed-meanwhile`` if the file is not what was seen, with the difference as a short unified diff;
        ``unknown-record`` if a place is not there; ``not-writable-value``; or why the disk refused.

    Notes
    -----
    Between the last look at the file and its replacement a few microseconds remain in which another program could
    write. Programs of this package on one machine take turns there; an editor elsewhere would have to hit that gap.
    """
    path = _inside_site(path)
    with _turn(path.parent):
        now = see(path)
        _refuse_if_changed(now, seen)
        text = _edited_text(now, edits)
        name = path.name if (path.parent / "site.toml").is_file() else f"{path.parent.name}/{path.name}"
        before = {(fault.place, fault.what) for fault in faults_in(name, now.content.decode("utf-8-sig"))}
        faults = [fault for fault in faults_in(name, text) if (fault.place, fault.what) not in before]
        faults += list(check(tomllib.loads(text))) if check else []
        if faults:
            raise NotWritten(
                path,
                "not-writable-value",
                f"{faults[0].what}. Nothing was changed.",
                place=faults[0].place,
                line=faults[0].line,
            )
        content = _in_the_style_of(now.content, text)
        if content != now.content:
            _refuse_if_changed(see(path), now)
            replace_whole(path, content)
    return Edited(Seen(path, content), difference(now.content, content, "before", "after"))


def keep_time_zone(folder: Path, text: str) -> Edited:
    """Write the site's time zone into site.toml.

    Raises
    ------
    ValueError
        If it is none.
    NotWritten
        As `edit_toml`.
    """
    zone_of(text)
    path = folder / "site.toml"
    return edit_toml(path, [Put(("time_zone",), text.strip())], see(path))


def difference(before: bytes, after: bytes, before_name: str, after_name: str) -> str:
    """A short unified diff of two texts."""
    lines = list(
        difflib.unified_diff(
            before.decode("utf-8", "replace").splitlines(),
            after.decode("utf-8", "replace").splitlines(),
            before_name,
            after_name,
            n=1,
            lineterm="",
        )
    )
    more = len(lines) - _DIFFERENCES_SHOWN
    return "\n".join([*lines[:_DIFFERENCES_SHOWN], *([f"… and {more} more lines"] if more > 0 else [])])


def _inside_site(path: Path) -> Path:
    if path.suffix != ".toml":
        raise NotWritten(path, "not-writable-value", "only TOML files are edited.")
    if (path.parent / "site.toml").is_file():
        return within(path.parent, path.name)
    return within(path.parent.parent, path.parent.name, path.name)


def _refuse_if_changed(now: Seen, seen: Seen | str) -> None:
    if now.sha256 == (seen if isinstance(seen, str) else seen.sha256):
        return
    what = "was changed by someone else since you opened it; nothing was written. Look at it again, then edit anew."
    if isinstance(seen, Seen):
        what += "\n" + difference(seen.content, now.content, "as you saw it", "as it is now")
    raise NotWritten(now.path, "changed-meanwhile", what)


@contextlib.contextmanager
def _turn(folder: Path) -> Iterator[None]:
    """Take turns with other edits on this machine where the system offers it; a killed program's turn ends with it."""
    try:
        import fcntl

        handle = os.open(folder, os.O_RDONLY)
    except (ImportError, OSError):
        yield
        return
    try:
        with contextlib.suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _edited_text(now: Seen, edits: Sequence[Edit]) -> str:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        wanted = now.data
        document = tomlkit.parse(now.content.decode("utf-8-sig").replace("\r\n", "\n"))
    except (ValueError, TOMLKitError) as error:
        raise NotWritten(now.path, "not-writable-value", f"cannot be read ({error}); mend it by hand first.") from error
    for edit in edits:
        try:
            _apply(wanted, edit, lambda value: copy.deepcopy(_bare(value)))
            _apply(document, edit, _item)
        except (KeyError, IndexError, TypeError, ValueError, TOMLKitError) as error:
            place = " ".join(_step_text(step) for step in edit.where)
            raise NotWritten(now.path, "unknown-record", f"cannot be edited here: {error}.", place=place) from error
    text = tomlkit.dumps(document)
    try:
        same = tomllib.loads(text) == wanted
    except ValueError:
        same = False
    if not same:
        raise NotWritten(now.path, "write-failed", "cannot be edited without harm to the rest; edit it by hand.")
    return text


def _apply(root: Any, edit: Edit, made: Callable[[Any], Any]) -> None:
    """Do one edit on a plain dict or a tomlkit document; both look like nested mappings and lists."""
    *way, last = edit.where
    at: Any = root
    for step in way:
        if isinstance(edit, Put | Add) and isinstance(step, str) and isinstance(at, MutableMapping) and step not in at:
            at[step] = made({})
        at = at[_index(at, step)]
    if isinstance(edit, Add):
        _append(at, last, edit.table, made)
        return
    if isinstance(edit, Drop):
        if isinstance(last, str) and last not in at:
            return
        del at[_index(at, last)]
        if isinstance(at, list) and not at and way and isinstance(way[-1], str):
            _apply(root, Drop(tuple(way)), made)
        return
    value = made(edit.value)
    if way and type(at) is not dict and isinstance(edit.value, Mapping):
        value = _inline(_bare(edit.value))  # below a table, as the tables beside it are written
    with _before_the_next_heading(at):
        at[_index(at, last)] = value


@contextlib.contextmanager
def _before_the_next_heading(at: Any) -> Iterator[None]:
    """Keep comments after a blank line at the end of a table where they are: they speak of what follows."""
    body = getattr(getattr(at, "value", None), "body", None)
    if not isinstance(body, list):
        yield
        return
    end = len(body)
    while end and body[end - 1][0] is None:
        end -= 1
    while end < len(body) and not body[end][1].as_string().startswith("\n"):
        end += 1
    tail = body[end:]
    del body[end:]
    yield
    body.extend(tail)


def _append(at: Any, key: Step, table: Mapping[str, Any], made: Callable[[Any], Any]) -> None:
    if not isinstance(key, str):
        raise TypeError("a table is added to a named list")
    if key in at:
        if not isinstance(at[key], list):
            raise TypeError(f"{key} is no list")
        at[key].append(made(table))
    elif type(at) is dict:
        at[key] = [made(table)]
    else:
        import tomlkit

        array = tomlkit.aot()
        array.append(_item(table))
        at[key] = array


def _index(at: Any, step: Step) -> Any:
    """The key or index a step means here."""
    if not isinstance(step, Mapping):
        if isinstance(step, str) and not isinstance(at, Mapping):
            raise TypeError(f"{step!r} is looked for in a list")
        return step
    found = [
        index
        for index, row in enumerate(at)
        if isinstance(row, Mapping) and all(row.get(key) == value for key, value in step.items())
    ]
    if len(found) != 1:
        raise KeyError(f"{len(found) or 'no'} rows with {_step_text(step)}")
    return found[0]


def _step_text(step: Step) -> str:
    if isinstance(step, Mapping):
        return ", ".join(f"{key} = {value}" for key, value in step.items())
    return str(step)


def _bare(value: Any) -> Any:
    """A value as TOML has it."""
    if isinstance(value, Mapping):
        return {str(key): _bare(inner) for key, inner in value.items() if inner is not None}
    if isinstance(value, list | tuple):
        return [_bare(inner) for inner in value]
    if isinstance(value, bool | int | float | str | datetime | date):
        return value
    raise TypeError(f"{value!r} has no place in a TOML file")


def _item(value: Any) -> Any:
    """A value as tomlkit writes it: maps of plain values as a table, maps inside lists and tables inline."""
    import tomlkit

    bare = _bare(value)
    if not isinstance(bare, dict):
        return _inline(bare)
    table = tomlkit.table()
    for key, inner in bare.items():
        table.append(key, _inline(inner))
    return table


def _inline(value: Any) -> Any:
    import tomlkit

    if isinstance(value, dict):
        table = tomlkit.inline_table()
        for key, inner in value.items():
            table.append(key, _inline(inner))
        return table
    if isinstance(value, list):
        array = tomlkit.array()
        for inner in value:
            array.append(_inline(inner))
        return array
    return tomlkit.item(value)


def _in_the_style_of(before: bytes, text: str) -> bytes:
    """Line ends and byte order mark as they were."""
    if b"\r\n" in before:
        text = text.replace("\r\n", "\n").replace("\n", "\r\n")
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    return mark + text.encode("utf-8")
