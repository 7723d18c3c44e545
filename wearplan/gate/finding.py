"""What the gate finds, and what a person made of it."""

from __future__ import annotations

from collections.abc import Container, Iterable, Sequence
from dataclasses import dataclass, replace

from wearplan.site.records import Inspection

ODD = "odd"
CONTRADICTED = "contradicted"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing of a record that is odd, or that the folder or the record itself contradicts."""

    name: str
    """Stable; what is accepted by name. One of a place ends with the place: ``serial-elsewhere:9``."""
    kind: str
    position: int | None = None
    sentence: str
    remedy: str

    @property
    def line(self) -> str:
        place = "" if self.position is None else f"place {self.position}: "
        return f"{place}{self.sentence} {self.remedy} [{self.name}]"


def contradicted(findings: Iterable[Finding], accepted: Container[str] = ()) -> tuple[Finding, ...]:
    """The contradictions nobody has accepted by name."""
    return tuple(each for each in findings if each.kind == CONTRADICTED and each.name not in accepted)


def with_acceptance(inspection: Inspection, names: Sequence[str], *, who: str, why: str) -> Inspection:
    """The record with a line in its note that says who accepted what, and why."""
    return with_words(inspection, acceptance_words(names, who=who, why=why))


def with_words(inspection: Inspection, words: str | None) -> Inspection:
    """The record with a further line in its note; as it is where there are no words."""
    return replace(inspection, note="\n".join(filter(None, (inspection.note, words)))) if words else inspection


def acceptance_words(names: Sequence[str], *, who: str, why: str) -> str:
    """The line a record keeps: who accepted what, and why."""
    return f"Accepted by {who}: {', '.join(names)}. Why: {why}"
