"""Whether a text is what the format wants in a file of that name; asked before anything is written."""

from __future__ import annotations

from importlib import import_module

from wearplan.site.records import Fault

_MODELS = {
    "site.toml": ("formats", "SiteFile"),
    "wheel.toml": ("formats_wheel", "WheelFile"),
    "stops.toml": ("formats_stops", "StopsFile"),
    "stores.toml": ("formats_stops", "StoresFile"),
    "ground": ("formats_ground", "GroundFile"),
    "inspections": ("formats_inspection", "InspectionFile"),
}


def faults_in(name: str, text: str) -> tuple[Fault, ...]:
    """What the format finds wrong in one file by itself.

    Parameters
    ----------
    name : str
        Path within the site folder, such as ``wheel.toml`` or ``inspections/20251118T0640-k3f9.toml``. Files the
        format does not know have no faults.
    """
    from wearplan.site.document import open_document, parse
    from wearplan.site.faults import FaultLog

    found = _MODELS.get(name) or _MODELS.get(name.partition("/")[0])
    if found is None:
        return ()
    log = FaultLog()
    document = open_document(name, text, log, ())
    if document is not None:
        model = getattr(import_module(f"wearplan.site.{found[0]}"), found[1])
        parse(document, model, lambda place: ())
    return log.faults()
