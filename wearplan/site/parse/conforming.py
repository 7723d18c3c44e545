"""Whether a text is what the format wants in a file of that name; asked before anything is written."""

from __future__ import annotations

from wearplan.site.records import Fault


def faults_in(name: str, text: str) -> tuple[Fault, ...]:
    """What the format finds wrong in one file by itself.

    Parameters
    ----------
    name : str
        Path within the site folder, such as ``wheel.toml`` or ``inspections/20251118T0640-k3f9.toml``. Files the
        format does not know have no faults.
    """
    from wearplan.site.forms.schema import form_of
    from wearplan.site.parse.document import open_document, parse
    from wearplan.site.parse.faults import FaultLog

    model = form_of(name)
    if model is None:
        return ()
    log = FaultLog()
    document = open_document(name, text, log, ())
    if document is not None:
        parse(document, model, lambda place: ())
    return log.faults()
