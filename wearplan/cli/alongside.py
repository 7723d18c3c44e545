"""The backtest in a second process while this one plans: it needs nothing of the plan, and machines have two cores."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

    from wearplan.site.records import Site
    from wearplan.wear import Backtest


class Alongside:
    """A backtest under way; where a second process cannot be had or dies, it is worked out when it is asked for."""

    def __init__(self, folder: Path) -> None:
        self._process: Any = None
        self._end: Any = None
        if (os.cpu_count() or 1) < 2:
            return
        context = multiprocessing.get_context("spawn")
        with contextlib.suppress(OSError, ValueError):
            self._end, other = context.Pipe(duplex=False)
            process = context.Process(target=_work, args=(other, folder), daemon=True)
            process.start()
            other.close()
            self._process = process

    def result(self, site: Site, progress: Callable[..., None] | None = None) -> Backtest:
        """The backtest; waits for it. Read from the same folder, so it must carry the same inputs."""
        if self._process is not None:
            with contextlib.suppress(EOFError, OSError):
                sha256, found = self._end.recv()
                if sha256 == site.inputs_sha256 and found is not None:
                    return found  # type: ignore[no-any-return]
        from wearplan import wear

        return wear.backtest(site, progress=progress)

    def close(self) -> None:
        """End the second process if it still runs."""
        if self._process is not None:
            self._process.kill()
            self._process.join()
            self._process = None


def _work(end: Any, folder: Path) -> None:
    import signal

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the plan; the parent ends this process
    from wearplan import wear
    from wearplan.site import load

    site = load(folder).site
    if site is None:
        return
    end.send((site.inputs_sha256, wear.backtest(site)))
