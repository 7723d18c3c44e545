"""What was taken in, as lines: the tables found, what became of odd cells, what would be written."""

from __future__ import annotations

from wearplan.report.preview import before_writing, odd_readings
from wearplan.report.words import plain
from wearplan.site.records import Site
from wearplan.take.engine import Taken
from wearplan.take.keep.writing import Proposal

_MOST = 200


def table_lines(taken: Taken) -> list[str]:
    """Every table with its range and what it is taken to be, and its columns as understood."""
    lines = []
    for found in taken.tables:
        name = found.file if found.sheet == found.file else f"{found.file}, {found.sheet}"
        rows = f", {found.rows} rows" if found.rows and not found.what.startswith("readings, ") else ""
        lines.append(plain(f"{name} {found.range}: {found.what}{rows}"))
        for column in found.columns:
            if "meaning" in column:
                head, meaning = column["head"][:34], column["meaning"].replace("_", " ")
                cells = "; ".join(column["cells"])[:60]
                lines.append(plain(f"    {head:<34} {meaning:<22} {column['unit']:<6} {cells}"))
    return lines


def preview_lines(taken: Taken, proposal: Proposal) -> list[str]:
    """What was understood and answered, odd cells by what became of them, open questions, and what would be written."""
    lines: list[str] = []
    if taken.answers.settled:
        lines += ["", "Understood from the files:"]
        lines += [f"  {name}: {why}" for name, why in taken.answers.settled.items()]
    if taken.answers.used:
        lines += ["", "Answered:", *[f"  {name} = {answer}" for name, answer in taken.answers.used.items()]]
    for duty in ("asked", "refused", "taken", "left out"):
        lines += _finding_lines(taken, duty)
    if taken.questions:
        lines += ["", f"Open questions ({len(taken.questions)}):"]
        lines += [f"  {q.name}: {q.sentence} [{' | '.join(q.choices)}]" for q in taken.questions]
    lines += ["", "Would be written:"]
    lines += [f"  {count} {name.replace('_', ' ')}" for name, count in proposal.counts().items() if count]
    lines += [f"  ? {line}" for line in (*proposal.waits, *proposal.differs)]
    if proposal.held:
        lines += ["", f"Not written, since the folder contradicts it ({len(proposal.held)}):"]
        lines += [f"  ! {finding.line}" for finding in proposal.held]
    return [plain(line) for line in lines]


def _finding_lines(taken: Taken, duty: str) -> list[str]:
    """The cells that met one duty, the first of them one by one."""
    told = [finding for finding in taken.findings if finding.duty == duty]
    lines = ["", f"{duty} ({len(told)}):"] if told else []
    for finding in told[:_MOST]:
        where = " ".join(part for part in (finding.file, finding.sheet, finding.cell) if part)
        lines.append(f"  {where}: {finding.shown!r} {finding.what}")
    return [*lines, f"  ... and {len(told) - _MOST} more"] if len(told) > _MOST else lines


def checked_lines(site: Site | None, proposal: Proposal) -> list[str]:
    """The same checks that a typed record meets, for stops that join a folder that stands."""
    if site is None:
        return []
    from wearplan import history

    current = history.current_lives(history.lives(site))
    lines = []
    for found in [*proposal.new, *(correction.inspection for correction in proposal.corrections)]:
        told = [f"place {odd.position}: {odd.what}" for odd in odd_readings(site, found, current)]
        lines += [f"  ? ring {found.ring}: {line}" for line in (*before_writing(site, found), *told)]
    return [plain(line) for line in lines]
