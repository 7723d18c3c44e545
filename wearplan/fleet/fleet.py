"""The picture of all drives: every line, what needs a person first, and what does not fit together."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from wearplan.fleet.kept import Kept
from wearplan.fleet.records import Asked, Belief, Fleet, Line
from wearplan.fleet.run import Means, Report, run

SOON_DAYS = 7
OLD_LOG_DAYS = 10
HURRIED = ("hurry", "borrow", "expedite")


class SameFolder(ValueError):
    """One folder was named twice."""


def fleet_of(
    folders: Sequence[Path],
    asked: Asked,
    *,
    means: Means | None = None,
    kept: Kept | None = None,
    beliefs: Sequence[tuple[Belief, ...]] = (),
    progress: Report | None = None,
) -> Fleet:
    """Every site's line and what needs a person first.

    Raises
    ------
    SameFolder
        If two of the folders are one.
    wearplan.fleet.run.NoScheduler
        If the cluster cannot be used.
    """
    count = Counter(folder.resolve() for folder in folders)
    twice = [str(folder) for folder, many in count.items() if many > 1]
    if twice:
        raise SameFolder(f"{', '.join(twice)} is named more than once; a drive counts once")
    lines, known = run(folders, asked, means=means, kept=kept, beliefs=beliefs, progress=progress)
    return Fleet(asked=asked, lines=lines, kept=known, first=first_of(lines, asked.day), remarks=remarks_of(lines))


def first_of(lines: Sequence[Line], day: date) -> tuple[str, ...]:
    """Sentences on what needs a person, the most pressing first; none says that anything else is fine."""
    found: list[tuple[int, str]] = []
    for line in lines:
        found += [(rank, f"{line.name}: {words}") for rank, words in _pressing(line, day)]
    return tuple(words for _, words in sorted(found, key=lambda pair: pair[0]))


def _pressing(line: Line, day: date) -> list[tuple[int, str]]:
    said: list[tuple[int, str]] = []
    if line.past_limit:
        places = ", ".join(map(str, line.past_limit[:6])) + (" and more" if len(line.past_limit) > 6 else "")
        said.append((0, f"more likely than not past the limit now, at place {places}"))
    if line.state == "no plan":
        said.append((1, f"{line.headline}. {line.why}".strip()))
    if line.state in ("faults", "away", "failed", "stopped"):
        said.append((2, f"no answer: {line.why}"))
    if line.next_on and (date.fromisoformat(line.next_on) - day).days <= SOON_DAYS:
        at = f"at {line.next_chainage_m:.1f} m" if line.next_chainage_m is not None else ""
        said.append((3, f"next stop {at} expected {line.next_on}, {line.tools_due} tools, {line.next_mode}"))
    hurried = [f"{what} {quantity} {kind}" for what, kind, quantity, _, _ in line.orders if what in HURRIED]
    if hurried:
        said.append((4, f"wanted before an ordinary order can come in: {', '.join(hurried)}"))
    if line.logged and (day - date.fromisoformat(line.logged)).days > OLD_LOG_DAYS and line.left_m:
        said.append((5, f"nothing on record since {line.logged}"))
    return said


def remarks_of(lines: Sequence[Line]) -> tuple[str, ...]:
    """What does not fit together between the sites, and what their logs say of their clocks."""
    said = [f"{line.name}: {remark}." for line in lines for remark in line.remarks]
    currencies = sorted({line.currency for line in lines if line.currency})
    if len(currencies) > 1:
        said.append(f"Costs are in {', '.join(currencies)}; each is shown in its own currency and none are added up.")
    serials: dict[str, list[str]] = {}
    for line in lines:
        for serial in line.serials:
            serials.setdefault(serial, []).append(line.name)
    pairs: dict[tuple[str, ...], list[str]] = {}
    for serial, names in serials.items():
        if len(names) > 1:
            pairs.setdefault(tuple(names), []).append(serial)
    for where, both in pairs.items():
        few = ", ".join(sorted(both)[:5]) + (f" and {len(both) - 5} more" if len(both) > 5 else "")
        said.append(
            f"By the records these serials stand on several wheels at once ({', '.join(where)}): {few}. One of the "
            "records is wrong, or the sites number their tools alike."
        )
    said += _twice_recorded(lines)
    if any(line.invented for line in lines):
        said.append("Invented data among these drives: those marked do not exist.")
    return tuple(said)


def _twice_recorded(lines: Sequence[Line]) -> list[str]:
    """Folders that hold the same inspections: one drive in two copies would count twice wherever drives are pooled."""
    said = []
    for number, one in enumerate(lines):
        for other in lines[number + 1 :]:
            both = set(one.inspections) & set(other.inspections)
            if both:
                said.append(
                    f"{one.name} ({one.folder}) and {other.name} ({other.folder}) hold {len(both)} of the same "
                    "inspections: two copies of one drive count twice in what is pooled; leave one out."
                )
    return said
