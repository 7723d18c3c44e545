"""Gathers the faults of a folder, all at once and bounded."""

from __future__ import annotations

from collections.abc import Iterable

from wearplan.site.parse.text import clean
from wearplan.site.records import ANSWERS, Fault

ALL: tuple[str, ...] = ANSWERS
PLAN_ON = ("plan", "demand")
"""What rests on stops.toml."""
NOTHING: tuple[str, ...] = ()

ALIKE = 100
"""So many faults of one code in one file are listed one by one; the rest are counted."""
MOST = 1000
"""So many faults are listed at most."""


class FaultLog:
    """The faults found so far. Alike ones beyond `ALIKE` in a file are counted, not kept."""

    def __init__(self) -> None:
        self.count = 0
        """How many faults were found, listed or not."""
        self._by_answer: dict[str, int] = {}
        self._kept: list[Fault] = []
        self._counts: dict[tuple[str, str], int] = {}
        self._rest: dict[tuple[str, str], tuple[int, set[str]]] = {}

    def add(self, file: str, line: int, place: str, what: str, *, code: str, forbids: Iterable[str] = NOTHING) -> None:
        """Note a fault. Text from the folder is cleaned here once more, so that no caller can forget it."""
        forbids = tuple(forbids)
        self.count += 1
        for answer in forbids:
            self._by_answer[answer] = self._by_answer.get(answer, 0) + 1
        key = (file, code)
        self._counts[key] = count = self._counts.get(key, 0) + 1
        if count > ALIKE or len(self._kept) >= MOST:
            _line_of_first, answers = self._rest.setdefault(key, (line, set()))
            answers.update(forbids)
            return
        self._kept.append(
            Fault(
                file=clean(file),
                line=max(line, 1),
                place=clean(place)[:200],
                what=clean(what)[:1000],
                code=code,
                forbids=forbids,
            )
        )

    def settle(self, file: str) -> None:
        """Take back what was noted of a file, but for what concerns its name and its standing among the others."""
        file = clean(file)
        for fault in self._kept:
            if fault.file == file and not fault.code.startswith(("id-", "corrects-")):
                for answer in fault.forbids:
                    self._by_answer[answer] -= 1
                self.count -= 1
        self._kept = [f for f in self._kept if f.file != file or f.code.startswith(("id-", "corrects-"))]
        for key in [key for key in self._rest if clean(key[0]) == file]:
            del self._rest[key]

    def faults(self) -> tuple[Fault, ...]:
        """All faults, by file and line; what was only counted stands at the end of its file."""
        faults = sorted(self._kept, key=lambda fault: (fault.file, fault.line))
        listed: dict[tuple[str, str], int] = {}
        for fault in self._kept:
            listed[fault.file, fault.code] = listed.get((fault.file, fault.code), 0) + 1
        summaries = []
        for (file, code), (line, answers) in self._rest.items():
            more = self._counts[file, code] - listed.get((clean(file), code), 0)
            what = (
                f"and {more} more faults of this kind ({code}), first at line {line}: mend those above and check again"
            )
            summaries.append((file, line, what, code, tuple(a for a in ANSWERS if a in answers)))
        if len(summaries) > MOST:
            rest = summaries[MOST:]
            answers_of_rest = {a for summary in rest for a in summary[4]}
            what = f"and {len(rest)} more files with faults: mend those above and check again"
            summaries = [*summaries[:MOST], ("", 1, what, "more", tuple(a for a in ANSWERS if a in answers_of_rest))]
        for file, line, what, code, forbids in summaries:
            faults.append(Fault(file=clean(file), line=line, place="", what=what, code=code, forbids=forbids))
        return tuple(faults)

    def forbidding(self, answer: str) -> int:
        """How many of them forbid an answer."""
        return self._by_answer.get(answer, 0)
