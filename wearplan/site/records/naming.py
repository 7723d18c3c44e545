"""Names of records that no two programs, laptops or merged copies give twice."""

from __future__ import annotations

import re
from datetime import datetime

INSPECTION_ID = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,63}\Z")
"""What may name an inspection and its file."""
_LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"
"""Nothing that is mistaken for something else when read out over a radio."""


def new_inspection_id(now: datetime) -> str:
    """A name for an inspection: the time for people, the random part so that no two are alike.

    Parameters
    ----------
    now : datetime
        The time of writing. Nothing but the name depends on it.
    """
    return f"{now:%Y%m%dT%H%M}-{random_part(6)}"


def random_part(length: int) -> str:
    """Letters and digits that no one else draws."""
    import secrets

    return "".join(secrets.choice(_LETTERS) for _ in range(length))
