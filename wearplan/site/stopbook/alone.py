"""One record read as its file would be, before there is one: the faults it would bring into the folder."""

from __future__ import annotations

from wearplan.site.parse.document import open_document
from wearplan.site.parse.faults import ALL, FaultLog
from wearplan.site.records import Fault, Inspection, Site
from wearplan.site.stopbook.inspections import read_inspection
from wearplan.site.stopbook.known import Known
from wearplan.site.write.record_toml import NotSayable, inspection_toml


def faults_of(site: Site, inspection: Inspection) -> tuple[Fault, ...]:
    """What reading the folder with this record would name, as far as the record alone brings it.

    A record that the format cannot say has none: it is refused where it is written.
    """
    file = f"inspections/{inspection.id}.toml"
    try:
        text = inspection_toml(inspection)
    except (NotSayable, UnicodeEncodeError):
        return ()
    log = FaultLog()
    doc = open_document(file, text, log, ALL)
    if doc is not None:
        read_inspection(doc, Known.of(site.drive, site.wheel, site.rings))
    return log.faults()
