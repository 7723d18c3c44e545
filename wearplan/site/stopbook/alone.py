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
        read_inspection(doc, _known(site))
    return log.faults()


def _known(site: Site) -> Known:
    rings = {row.ring: row for row in reversed(site.rings)}
    return Known(
        drive=site.drive,
        wheel=site.wheel,
        rings=rings,
        positions=frozenset(position.number for position in site.wheel.positions),
        types={tool_type.code: tool_type for tool_type in site.wheel.tool_types},
        methods=frozenset(gauging.method for gauging in site.wheel.gauging),
        points=frozenset(point.code for point in site.wheel.structure_points),
    )
