"""The site folder on disk, and what it says as frozen records.

Nothing is imported before it is used: the models of the files need pydantic, which `--help` must not pay for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from wearplan.site.forms.schema import schemas as schemas
    from wearplan.site.loading import load as load
    from wearplan.site.records import *  # noqa: F403
    from wearplan.site.records.naming import new_inspection_id as new_inspection_id
    from wearplan.site.records.site import FORMAT as FORMAT
    from wearplan.site.write.appending import append_event as append_event
    from wearplan.site.write.appending import append_rings as append_rings
    from wearplan.site.write.appending import append_sensor_word as append_sensor_word
    from wearplan.site.write.drafts import Draft as Draft
    from wearplan.site.write.drafts import drop_draft as drop_draft
    from wearplan.site.write.drafts import load_drafts as load_drafts
    from wearplan.site.write.drafts import save_draft as save_draft
    from wearplan.site.write.durable import NotWritten as NotWritten
    from wearplan.site.write.edits import edit_toml as edit_toml
    from wearplan.site.write.new import new_folder as new_folder
    from wearplan.site.write.writing import correct_inspection as correct_inspection
    from wearplan.site.write.writing import undo_correction as undo_correction
    from wearplan.site.write.writing import write_ground as write_ground
    from wearplan.site.write.writing import write_inspection as write_inspection

_HOMES = {
    "load": "loading",
    "FORMAT": "records.site",
    "schemas": "forms.schema",
    "new_folder": "write.new",
    "write_inspection": "write.writing",
    "new_inspection_id": "records.naming",
    "correct_inspection": "write.writing",
    "undo_correction": "write.writing",
    "write_ground": "write.writing",
    "append_sensor_word": "write.appending",
    "append_event": "write.appending",
    "append_rings": "write.appending",
    "NotWritten": "write.durable",
    "edit_toml": "write.edits",
    "Draft": "write.drafts",
    "save_draft": "write.drafts",
    "load_drafts": "write.drafts",
    "drop_draft": "write.drafts",
}
"""Public names and the modules they live in; every record lives in `records`."""


def __getattr__(name: str) -> Any:
    if name.startswith("__"):
        raise AttributeError(name)
    if name in _HOMES:
        module = import_module(f"wearplan.site.{_HOMES[name]}")
        value = getattr(module, name)
        globals()[name] = value
        return value
    records = import_module("wearplan.site.records")
    if name in records.__all__:
        value = getattr(records, name)
        globals()[name] = value
        return value
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *_HOMES, *import_module("wearplan.site.records").__all__})
