"""The one folder of this user outside any site: logs of our own faults, last looks, drafts a site would not take."""

from __future__ import annotations

import os
import sys
import tempfile
from datetime import datetime
from functools import cache
from pathlib import Path


def state_root() -> Path:
    """Where the user's state lies; nothing is made.

    ``WEARPLAN_STATE_DIR`` names the folder itself, ``XDG_STATE_HOME`` the one it lies in (on any system); without them
    it is where this system keeps such things.
    """
    if given := os.environ.get("WEARPLAN_STATE_DIR"):
        return Path(given)
    if home := os.environ.get("XDG_STATE_HOME"):
        return Path(home) / "wearplan"
    import platformdirs

    return platformdirs.user_state_path("wearplan", appauthor=False)


def state_folder() -> Path:
    """The same, made if it is not there; where it cannot be made, a folder that only this user can write."""
    folder = state_root()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        return _of_this_run()
    return folder


@cache
def _of_this_run() -> Path:
    """Not the temporary folder itself: others could put a link there under a name they guess."""
    return Path(tempfile.mkdtemp(prefix="wearplan-"))


def settings_folder() -> Path:
    """Where the user's own settings lie, by ``XDG_CONFIG_HOME`` or the system's habit; nothing is made."""
    if home := os.environ.get("XDG_CONFIG_HOME"):
        return Path(home) / "wearplan"
    import platformdirs

    return platformdirs.user_config_path("wearplan", appauthor=False)


def write_fault_log(trace: str, *, what: str) -> Path | None:
    """Write the trace of a fault of our own to a log file; None where that fails.

    Parameters
    ----------
    what : str
        What was being done, on one line.
    """
    now = datetime.now().astimezone()
    path = state_folder() / f"fault-{now:%Y%m%dT%H%M%S}.log"
    text = f"{now.isoformat()}\n{what}\nPython {sys.version}\n\n{trace}"
    try:
        path.write_text(text, encoding="utf-8", errors="backslashreplace")
    except OSError:
        return None
    return path


__all__ = ["settings_folder", "state_folder", "state_root", "write_fault_log"]
