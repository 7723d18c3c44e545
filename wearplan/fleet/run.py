"""Every site's work, shared out by joblib over processes of this machine or over a cluster the user runs.

The folder's bytes go with the work, so that workers need no shared disk. A worker that dies has its sites done again;
one site that kills every worker it meets has a line that says so, and the others go on.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from wearplan.fleet.answer import answer
from wearplan.fleet.contents import contents_of, key_of
from wearplan.fleet.kept import Kept
from wearplan.fleet.records import Asked, Belief, Line

Report = Callable[..., None]
Work = Callable[[str, Mapping[str, bytes], Asked], Line]
Sites = Mapping[int, tuple[Path, Asked]]
"""By place in the list, the folder and what is asked of it."""
MOST_TRIES = 2
"""How often a site is tried by itself after a worker died on it or beside it."""
DEATHS = ("TerminatedWorkerError", "BrokenProcessPool", "KilledWorker", "ShutdownExecutorError")
"""What joblib's backends raise when a worker goes away."""
SLOW = "TimeoutError"


class NoScheduler(Exception):
    """The cluster cannot be reached, or its library is not installed; the message says what to do."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """Where the work is done."""

    jobs: int = -1
    """Processes on this machine; -1 for as many as it has cores."""
    scheduler: str | None = None
    """Address of a dask scheduler, ``tcp://host:port``; its workers need the same version of this program."""
    wait_s: float = 10.0
    """How long a scheduler may take to answer."""
    patience_s: float = 1800.0
    """When no site has come in for so long, those under way are tried one by one, and one that takes as long again is
    given up: its line says so, and every other goes on."""


def run(
    folders: Sequence[Path],
    asked: Asked,
    *,
    means: Means | None = None,
    kept: Kept | None = None,
    beliefs: Sequence[tuple[Belief, ...]] = (),
    progress: Report | None = None,
    work: Work = answer,
) -> tuple[tuple[Line, ...], int]:
    """A line for every folder, in their order, and how many came from an earlier run.

    Parameters
    ----------
    beliefs : sequence of tuples of Belief, optional
        For each folder what it starts from; see `wearplan.fleet.rates.beliefs_of`.
    kept : Kept, optional
        Where earlier answers lie; without it everything is worked out.
    work : callable
        What is done for one site.

    Raises
    ------
    NoScheduler
        If the cluster cannot be used.

    Notes
    -----
    Lines are kept as they come in, so that a run that is interrupted loses only what was under way.
    """
    lines: dict[int, Line] = {}
    keys: dict[int, str] = {}
    own = {index: replace(asked, beliefs=each) for index, each in enumerate(beliefs)}
    for index, folder in enumerate(folders):
        try:
            keys[index] = key_of(contents_of(folder), own.get(index, asked), str(folder))
        except OSError as error:
            lines[index] = _away(folder, error)
            continue
        if kept and (line := kept.read(keys[index])) is not None:
            lines[index] = line
    known = sum(index in keys for index in lines)
    left = {index: (folder, own.get(index, asked)) for index, folder in enumerate(folders) if index not in lines}
    for index, line in _worked_out(left, means or Means(), work):
        lines[index] = line
        if kept:
            kept.write(keys[index], line)
        if progress is not None:
            progress(f"{len(lines)} of {len(folders)} sites, {line.name} last", len(lines) / len(folders))
    if kept:
        kept.forget_old()
    return tuple(lines[index] for index in range(len(folders))), known


def _away(folder: Path, error: OSError) -> Line:
    why = f"the folder cannot be read: {error.strerror or error}"
    return Line(folder=str(folder), name=folder.name or str(folder), state="away", why=why)


def _worked_out(left: Sites, means: Means, work: Work) -> Iterator[tuple[int, Line]]:
    """Lines as they come in; what was lost with a worker is done again."""
    waiting = dict(left)
    for attempt in range(1 + MOST_TRIES):
        # after a death nobody knows which site was the cause, so each of those lost gets a worker of its own
        batches = [dict(waiting)] if attempt == 0 else [{index: site} for index, site in waiting.items()]
        for batch in batches if waiting else ():
            try:
                for index, line in _parallel(batch, means, work):
                    del waiting[index]
                    yield index, line
            except Exception as error:
                slow = type(error).__name__ == SLOW
                if not slow and type(error).__name__ not in DEATHS:
                    raise
                if slow and len(batch) == 1:
                    yield _given_up(waiting, next(iter(batch)), means)
    for index, (folder, _) in waiting.items():
        why = "its process died each time it was tried; it may want more memory than there is"
        yield index, Line(folder=str(folder), name=folder.name or str(folder), state="failed", why=why)


def _given_up(waiting: dict[int, tuple[Path, Asked]], index: int, means: Means) -> tuple[int, Line]:
    folder, _ = waiting.pop(index)
    why = f"not worked out within {means.patience_s / 60:.0f} min; ask again, or for this site alone"
    return index, Line(folder=str(folder), name=folder.name or str(folder), state="stopped", why=why)


def _parallel(batch: Sites, means: Means, work: Work) -> Iterator[tuple[int, Line]]:
    import joblib

    def shipped() -> Iterator[Any]:
        # the folder's bytes are read as its work is sent off, so that few of them lie in memory at once
        for index, (folder, asked) in batch.items():
            try:
                contents: Mapping[str, bytes] | Line = contents_of(folder)
            except OSError as error:
                contents = _away(folder, error)
            yield joblib.delayed(_one)(index, str(folder), contents, asked, work)

    ways: dict[str, Any] = {"return_as": "generator_unordered", "batch_size": 1, "timeout": means.patience_s}
    if means.scheduler is not None:
        with _cluster(means.scheduler, means.wait_s):
            yield from joblib.Parallel(-1, **ways)(shipped())
        return
    count = min(means.jobs if means.jobs > 0 else joblib.cpu_count(), len(batch))
    # two processes at least: with one, joblib would work in this process, and its death would be ours
    yield from joblib.Parallel(max(count, 2), "loky", pre_dispatch=count, **ways)(shipped())


def _one(index: int, folder: str, contents: Mapping[str, bytes] | Line, asked: Asked, work: Work) -> tuple[int, Line]:
    return index, contents if isinstance(contents, Line) else work(folder, contents, asked)


@contextlib.contextmanager
def _cluster(address: str, wait_s: float) -> Iterator[None]:
    """joblib's own way to a dask scheduler."""
    from importlib import import_module

    import joblib

    try:
        distributed: Any = import_module("distributed")
    except ImportError:
        raise NoScheduler('A cluster needs the extra "fleet": pip install "wearplan[fleet]"') from None
    try:
        client = distributed.Client(address, timeout=wait_s)
    except (OSError, ValueError) as error:
        raise NoScheduler(f"no dask scheduler answers at {address}: {error}") from error
    with client, joblib.parallel_config("dask"):
        yield
