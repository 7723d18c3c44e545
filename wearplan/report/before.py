"""What stood when the last forecast was kept, as the answers of today are held against it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wearplan.report.four import Before

if TYPE_CHECKING:
    from wearplan.site.records import Site


def kept_before(site: Site) -> Before | None:
    """The last forecast kept in the site's folder; None where there is none."""
    from wearplan.demand.memory.kept import kept_in, last_before

    kept = last_before(kept_in(site.folder)) if site.folder is not None else None
    if kept is None:
        return None
    return Before(
        when=str(kept.made_on), what="the forecast kept on", face_m=kept.face_m,
        stop_m=kept.stops[0].driven_m if kept.stops else None, same=kept.inputs_sha256 == site.inputs_sha256,
    )  # fmt: skip
