"""What of a take the folder contradicts: held back and listed, the other records are written."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime

from wearplan.gate import Finding, acceptance_words, contradicted, judge, judge_rings, with_record, with_words
from wearplan.site.records import Inspection, RingRow, Site


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """What a person accepts by name, and why; each record it concerns keeps that."""

    who: str = ""
    why: Mapping[str, str] = field(default_factory=dict)
    """The reason by the name of what is accepted."""

    def words(self, findings: Sequence[Finding]) -> str | None:
        """The lines for the record these were found in, one a reason; None where nothing of it was accepted."""
        named: dict[str, list[str]] = {}
        for each in findings:
            if each.name in self.why:
                named.setdefault(self.why[each.name], []).append(each.name)
        lines = [acceptance_words(names, who=self.who, why=why) for why, names in named.items()]
        return "\n".join(lines) or None


@dataclass(slots=True)
class Gate:
    """The folder as it will stand, record after record, and what was held back."""

    site: Site
    now: datetime
    accepted: Accepted = field(default_factory=Accepted)
    held: list[Finding] = field(default_factory=list)
    found: list[Finding] = field(default_factory=list)
    """Everything found, held back or accepted."""

    def rings(self, rows: Sequence[RingRow]) -> tuple[list[RingRow], list[tuple[RingRow, str]]]:
        """The rows to write, and those of them that were accepted with the words to keep."""
        judged = judge_rings(self.site, rows, now=self.now)
        passed = [one.row for one in judged if not self._held(one.findings)]
        told = [(one.row, words) for one in judged if (words := self.accepted.words(one.findings)) is not None]
        rings = sorted((*self.site.rings, *passed), key=lambda row: row.ring)
        self.site = replace(self.site, rings=tuple(rings))
        return passed, [(row, words) for row, words in told if row in passed]

    def stop(self, inspection: Inspection, corrects: str | None = None) -> Inspection | None:
        """The record to write, with what was accepted in its note; None where it is held back."""
        record = replace(inspection, corrects=corrects) if corrects else inspection
        findings = tuple(
            replace(each, name=f"{each.name}@{record.ring}", sentence=f"stop at ring {record.ring}: {each.sentence}")
            for each in judge(self.site, record, now=self.now)
        )
        if self._held(findings):
            return None
        self.site = with_record(self.site, record)
        return with_words(inspection, self.accepted.words(findings))

    def _held(self, findings: Sequence[Finding]) -> bool:
        self.found += findings
        against = contradicted(findings, self.accepted.why)
        self.held += against
        return bool(against)
