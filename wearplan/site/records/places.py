"""Where a record stands, and what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Origin:
    """Where a record was written; an empty file means it was made in memory."""

    file: str = ""
    line: int = 0


NOWHERE = Origin()


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """Something wrong in the folder, with its place and the way out."""

    file: str
    line: int
    place: str
    """As ``[table] key``; for a CSV the column; empty for a whole file."""
    what: str
    """What is wrong and what to do about it, one sentence or two."""
    code: str
    """A stable word for programs, such as ``unknown-key`` or ``ring-doubled``."""
    forbids: tuple[str, ...] = ()
    """The answers (of `ANSWERS`) this fault makes impossible; empty when it is only named."""

    def __str__(self) -> str:
        where = f" {self.place}:" if self.place else ""
        return f"{self.file}:{self.line}:{where} {self.what}"
