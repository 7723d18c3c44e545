"""Which record a file of the folder holds, and the files as JSON Schema, so that editors complete and check."""

from __future__ import annotations

from typing import Any

from wearplan.site.forms.model import Strict, model_of
from wearplan.site.records import Ground, Inspection, Stops, Stores, Wheel
from wearplan.site.records.site import FORMAT, SiteHead
from wearplan.site.records.wishes import KeptWishes

FILES: dict[str, type] = {
    "site.toml": SiteHead,
    "wheel.toml": Wheel,
    "ground.toml": Ground,
    "stops.toml": Stops,
    "stores.toml": Stores,
    "wishes.toml": KeptWishes,
    "inspection.toml": Inspection,
}
"""``ground.toml`` and ``inspection.toml`` stand for every file in ``ground/`` and ``inspections/``."""


def form_of(name: str) -> type[Strict] | None:
    """The model of a file, by its path within the folder; None where the format knows no such file."""
    room = {"ground": "ground.toml", "inspections": "inspection.toml"}.get(name.partition("/")[0])
    record = FILES.get(room or name)
    return model_of(record) if record is not None else None


def schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema (draft 2020-12) by file name."""
    return {
        name: {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$comment": f"wearplan site folder, format {FORMAT}",
            **model_of(record).model_json_schema(),
        }
        for name, record in FILES.items()
    }
