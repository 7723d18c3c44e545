"""The site's own clock: times that are written without an offset are of it, wherever the program runs."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone, tzinfo

_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})\Z")


def zone_of(text: str) -> tzinfo:
    """The time zone of ``+01:00``, ``UTC`` or a name of the IANA time zone database.

    Raises
    ------
    ValueError
        For anything else, with what to write.
    """
    found = _OFFSET.match(text.strip())
    if found and int(found[2]) <= 14 and int(found[3]) < 60:
        away = timedelta(hours=int(found[2]), minutes=int(found[3]))
        return timezone(away if found[1] == "+" else -away)
    if text.strip() in ("UTC", "Z"):
        return UTC
    from zoneinfo import ZoneInfo

    try:
        return ZoneInfo(text.strip())
    except (ValueError, OSError) as error:  # ZoneInfoNotFoundError is a KeyError of its own
        raise ValueError(_NO_ZONE) from error
    except KeyError as error:
        raise ValueError(_NO_ZONE) from error


_NO_ZONE = "is no time zone known here: write an offset from UTC such as +01:00, or a name of the IANA database"


def placed(told: datetime, zone: tzinfo | None) -> datetime:
    """A time with its offset: that of the site's zone, without one this computer's, where none is told.

    Raises
    ------
    ValueError
        For a time the clocks of the zone skipped, and for one that no clock can show.
    """
    if told.tzinfo is not None:
        return told
    try:
        there = told.astimezone() if zone is None else told.replace(tzinfo=zone)
        back = there.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    except (OverflowError, OSError, ValueError):
        return told.replace(tzinfo=UTC)
    if back != told:
        raise ValueError(f"{told:%Y-%m-%d %H:%M} was skipped by the clocks when they were put forward; write it again")
    # a fixed offset is written to the file; the name of the zone is the folder's
    return there.replace(tzinfo=timezone(there.utcoffset() or timedelta(0)))


def now_in(zone: tzinfo | None) -> datetime:
    """The time now by the site's clock; by this computer's where the site's is not known."""
    return placed(datetime.now(zone).replace(tzinfo=None), zone) if zone is not None else datetime.now().astimezone()
