"""JSON Schema of the TOML files, from the same models that check them, so that editors complete and check."""

from __future__ import annotations

from typing import Any


def schemas() -> dict[str, dict[str, Any]]:
    """JSON Schema (draft 2020-12) by file name; ``ground.toml`` and ``inspection.toml`` stand for every file there."""
    from pydantic import BaseModel

    from wearplan.site.folder_format import FORMAT
    from wearplan.site.formats import SiteFile
    from wearplan.site.formats_ground import GroundFile
    from wearplan.site.formats_inspection import InspectionFile
    from wearplan.site.formats_stops import StopsFile, StoresFile
    from wearplan.site.formats_wheel import WheelFile

    files: dict[str, type[BaseModel]] = {
        "site.toml": SiteFile,
        "wheel.toml": WheelFile,
        "ground.toml": GroundFile,
        "stops.toml": StopsFile,
        "stores.toml": StoresFile,
        "inspection.toml": InspectionFile,
    }
    found: dict[str, dict[str, Any]] = {}
    for name, model in files.items():
        schema = model.model_json_schema()
        found[name] = {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$comment": f"wearplan site folder, format {FORMAT}",
            **schema,
        }
    return found
