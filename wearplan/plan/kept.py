"""Wishes kept in the folder: every plan that asks for nothing else follows them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from wearplan.site.records import KeptWishes
from wearplan.site.records.wishes import FILE

from .records import Wishes

if TYPE_CHECKING:
    from wearplan.site.records import Site


def followed(site: Site, wishes: Wishes) -> tuple[Wishes, tuple[str, ...]]:
    """The wishes a plan follows, and what it says of those kept in the folder.

    What a caller asks of the stops takes the place of all that is kept: two sets of wishes are never mixed.
    """
    kept = site.wishes
    if kept is None or wishes.free:
        return wishes, ()
    if wishes.asks:
        return wishes, (f"The wishes kept in {FILE} are not followed here: others were asked for.",)
    why = f" ({kept.because})" if kept.because else ""
    asked = replace(
        wishes,
        margin=kept.margin or "",
        forced_windows=kept.stop_in,
        forced_m=tuple(site.drive.driven_m(x) for x in kept.stop_at_m),
        forbidden_windows=kept.not_in,
        forbidden_m=tuple(site.drive.driven_m(x) for x in kept.not_at_m),
        max_entries=kept.max_entries,
    )
    said = f"Follows the wishes kept in {FILE}{why}; `wearplan plan FOLDER --let-go` undoes them."
    return asked, (said,) if asked.asks else ()


def to_keep(site: Site, wishes: Wishes, *, because: str = "") -> KeptWishes:
    """Wishes as they are kept."""
    return KeptWishes(
        margin=wishes.margin or None,
        stop_in=wishes.forced_windows,
        stop_at_m=tuple(round(float(site.drive.chainage_m(x)), 3) for x in wishes.forced_m),
        not_in=wishes.forbidden_windows,
        not_at_m=tuple(round(float(site.drive.chainage_m(x)), 3) for x in wishes.forbidden_m),
        max_entries=wishes.max_entries,
        because=because.strip() or None,
    )
