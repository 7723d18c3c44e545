"""The one folder of this user outside any site: logs of our own faults, last looks, drafts a site would not take."""

from __future__ import annotations

import os
import tempfile
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
    """The same, made if it is not there; the system's folder for temporary files where it cannot be made."""
    folder = state_root()
    try:
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    except OSError:
        return Path(tempfile.gettempdir())
    return folder


__all__ = ["state_folder", "state_root"]
