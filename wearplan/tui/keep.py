"""What the app keeps for the user outside any site folder: settings, recent sites, last looks, and log files."""

from __future__ import annotations

import json
import os
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from wearplan.site.write.state_home import settings_folder, state_folder, write_fault_log

SETTINGS = "terminal.toml"


def settings_file() -> Path:
    """The file a user may write: ``display``, ``theme``, ``plain_signs`` and a table ``[keys]``."""
    return settings_folder() / SETTINGS


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """The user's settings; ``faults`` are sentences about what could not be used."""

    us: bool = False
    theme: str = "wearplan"
    plain_signs: bool = False
    keys: dict[str, str] = field(default_factory=dict)
    faults: tuple[str, ...] = ()


def read_settings(known_keys: frozenset[str]) -> Settings:
    """Settings from the user's file; a fault in it is named and the default holds."""
    path = settings_file()
    try:
        data: dict[str, Any] = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        return Settings()
    except (OSError, ValueError) as error:
        return Settings(faults=(f"{path} is not used: {error}",))
    faults = [
        f"{path}: [{key}] is not a setting; display, theme, plain_signs and [keys] are"
        for key in data
        if key not in ("display", "theme", "plain_signs", "keys")
    ]
    keys = data.get("keys", {})
    if not isinstance(keys, dict):
        keys = {}
        faults.append(f'{path}: keys is a table: [keys] then lines such as wheel.next = "n"')
    flat = {str(name): str(value) for name, value in _flat(keys)}
    faults += [f"{path}: [keys] {name}: no action of that name" for name in flat if name not in known_keys]
    display = data.get("display", "metric")
    if display not in ("metric", "US"):
        faults.append(f'{path}: display is "metric" or "US", not {display!r}')
    return Settings(
        us=display == "US",
        theme=str(data.get("theme", "wearplan")),
        plain_signs=bool(data.get("plain_signs", False)),
        keys={name: value for name, value in flat.items() if name in known_keys},
        faults=tuple(faults),
    )


def _flat(table: dict[str, Any], before: str = "") -> list[tuple[str, Any]]:
    """Dotted names of a table, since ``wheel.next = "n"`` is a table in TOML."""
    rows: list[tuple[str, Any]] = []
    for key, value in table.items():
        rows += _flat(value, f"{before}{key}.") if isinstance(value, dict) else [(f"{before}{key}", value)]
    return rows


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """What stood in a folder when the user last looked."""

    folder: str
    name: str
    at: str
    face_m: float = 0.0
    rings: int = 0
    inspections: int = 0
    inputs_sha256: str = ""
    stop_m: float | None = None
    """Where the first stop was proposed."""
    places: tuple[int, ...] | list[int] | None = None
    """What was to be changed there."""
    cost: float | None = None
    task: str = "start"
    """The screen it was left at, and the place pointed at there."""
    place: str | None = None


def read_looks() -> list[Look]:
    """Recent sites, the newest first."""
    try:
        rows = json.loads((state_folder() / "looks.json").read_text(encoding="utf-8"))
        return [Look(**row) for row in rows]
    except (OSError, ValueError, TypeError):
        return []


def write_look(look: Look) -> None:
    """Remember a look; failing to is no reason to stop."""
    looks = [look, *(old for old in read_looks() if old.folder != look.folder)][:12]
    rows = [{name: getattr(one, name) for name in Look.__slots__} for one in looks]
    path = state_folder() / "looks.json"
    part = path.with_suffix(f".{os.getpid()}")
    try:
        part.write_text(json.dumps(rows, indent=1), encoding="utf-8")
        part.replace(path)
    except OSError:
        return


def write_log(trace: str, *, what: str) -> str:
    """Write a trace to a log file; returns its path, or where it cannot be written a word on that."""
    return str(write_fault_log(trace, what=f"while {what}") or "no log could be written")
