"""What people have decided the plan must do, kept in the folder until it is let go of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from wearplan.site.records.key import Chainage, Key, Line, Name

KEPT_MARGINS = ("half", "1.1", "1.2")


FILE = "wishes.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptWishes:
    """wishes.toml: every plan of the folder follows it, and with it demand, pack, sheet and page."""

    margin: Annotated[
        str | None, Key("Half of every cap, or the caps kept in ground so many times as hard.", words=KEPT_MARGINS)
    ] = None
    stop_in: Annotated[tuple[Name, ...], Key("Windows in which a stop must be made; the plan chooses the ring.")] = ()
    stop_at_m: Annotated[tuple[Chainage, ...], Key("Chainages at which a stop must be made.")] = ()
    not_in: Annotated[tuple[Name, ...], Key("Windows in which no stop may be.")] = ()
    not_at_m: Annotated[tuple[Chainage, ...], Key("Chainages of rings at which no stop may be.")] = ()
    max_entries: Annotated[int | None, Key("Most entries under pressure ahead.", ge=0, le=100_000)] = None
    because: Annotated[Line | None, Key("Who decided it, and why.")] = None
