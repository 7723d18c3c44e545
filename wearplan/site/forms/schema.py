"""Which form a file of the folder has, and the forms as JSON Schema, so that editors complete and check."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel

from wearplan.site.forms.ground import GroundFile
from wearplan.site.forms.inspection import InspectionFile
from wearplan.site.forms.site import SiteFile
from wearplan.site.forms.stops import StopsFile, StoresFile
from wearplan.site.forms.version import FORMAT
from wearplan.site.forms.wheel import WheelFile

FORMS: dict[str, type[BaseModel]] = {
    "site.toml": SiteFile,
    "wheel.toml": WheelFile,
    "ground.toml": GroundFile,
    "stops.toml": StopsFile,
    "stores.toml": StoresFile,
    "inspection.toml": InspectionFile,
}
"""``ground.toml`` and ``inspection.toml`` stand for every file in ``ground/`` and ``inspections/``."""


def form_of(name: str) -> type[BaseModel] | None:
    """The form of a file, by its path within the folder; None where the format knows no such file."""
    room = {"ground": "ground.toml", "inspections": "inspection.toml"}.get(name.partition("/")[0])
    return FORMS.get(room or name)


def schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema (draft 2020-12) by file name."""
    return {
        name: {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$comment": f"wearplan site folder, format {FORMAT}",
            **form.model_json_schema(),
        }
        for name, form in FORMS.items()
    }
