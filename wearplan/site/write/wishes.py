"""wishes.toml: written whole, and taken away whole."""

from __future__ import annotations

from pathlib import Path

from wearplan.site.records import KeptWishes
from wearplan.site.records.wishes import FILE
from wearplan.site.write.durable import replace_whole, sync_folder, told, within
from wearplan.site.write.record_toml import as_said, toml_text

HEAD = "# What was decided the plan must do. `wearplan plan FOLDER --let-go` takes this file away.\n\n"


def keep_wishes(folder: Path, wishes: KeptWishes) -> Path:
    """Write the wishes, in place of those kept before.

    Raises
    ------
    NotWritten
        Where the disk refuses.
    """
    path = within(folder, FILE)
    replace_whole(path, (HEAD + toml_text(as_said(wishes), {})).encode())
    return path


def let_go(folder: Path) -> bool:
    """Take the kept wishes away; False where there are none."""
    path = within(folder, FILE)
    with told(path):
        if not path.exists():
            return False
        path.unlink()
        sync_folder(path.parent)
    return True
