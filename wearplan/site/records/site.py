"""The site as a whole: all a folder says of one drive of one machine."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, tzinfo
from pathlib import Path
from typing import Annotated

from wearplan.site.records.clock import now_in, zone_of
from wearplan.site.records.drive import Drive, Pace
from wearplan.site.records.ground import Ground
from wearplan.site.records.key import Key, Name
from wearplan.site.records.log import Event, Inspection, RingRow, SensorWord
from wearplan.site.records.places import Fault
from wearplan.site.records.stops import Stops
from wearplan.site.records.stores import Stores
from wearplan.site.records.wheel import Wheel
from wearplan.site.records.wishes import KeptWishes

FORMAT = 1
"""What this program reads and writes; a newer one is refused with a clear word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteHead:
    """site.toml: the drive, and the pace that turns chainage into dates."""

    format: Annotated[int, Key("Version of the folder's format.", ge=1, needed=True)] = FORMAT
    name: Annotated[Name, Key("What the drive is called.")]
    invented: Annotated[bool, Key("True for demo data; said on every output.")] = False
    currency: Annotated[Name, Key("A label only.")] = "EUR"
    jurisdiction: Annotated[
        Name | None,
        Key("Whose published compressed-air rules the cautions point to, such as GB; absent: unknown, and said so."),
    ] = None
    time_zone: Annotated[
        Name | None,
        Key("Of the site's clocks, such as +01:00 or a name of the IANA database; times without an offset are of it."),
    ] = None
    drive: Annotated[Drive, Key()]
    pace: Annotated[Pace, Key()]

    @property
    def zone(self) -> tzinfo | None:
        """The site's time zone; None where the folder does not tell."""
        return zone_of(self.time_zone) if self.time_zone else None

    def now(self) -> datetime:
        """The time now by the site's clock; by this computer's where the folder tells none."""
        return now_in(self.zone)


@dataclass(frozen=True, slots=True, kw_only=True)
class Site(SiteHead):
    """One drive of one machine. Immutable; `wearplan.site.load` makes it from a folder."""

    wheel: Wheel
    grounds: tuple[Ground, ...] = ()
    """By the date they were known, oldest first."""
    stops: Stops | None = None
    stores: Stores | None = None
    wishes: KeptWishes | None = None
    rings: tuple[RingRow, ...] = ()
    """As written, in file order: gaps, doubles and damage included. `wearplan.history.clean_rings` mends them."""
    inspections: tuple[Inspection, ...] = ()
    """Those in force, in the order of the drive."""
    corrected: tuple[Inspection, ...] = ()
    """Those that a later record replaced."""
    sensor_words: tuple[SensorWord, ...] = ()
    events: tuple[Event, ...] = ()
    faults: tuple[Fault, ...] = ()
    folder: Path | None = None
    inputs_sha256: str = ""

    def ground(self, known_on: date | None = None) -> Ground | None:
        """The newest ground known on a date (None: the newest of all); None if nothing was known then."""
        known = [ground for ground in self.grounds if known_on is None or ground.known_on <= known_on]
        return known[-1] if known else None

    def forbidding(self, answer: str) -> tuple[Fault, ...]:
        """The faults that forbid an answer of `ANSWERS`."""
        return tuple(fault for fault in self.faults if answer in fault.forbids)


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """What came of reading a folder: a site as far as one can be built, and all faults."""

    site: Site | None
    faults: tuple[Fault, ...]
