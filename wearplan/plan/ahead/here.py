"""The stop where the drive stands: what to change before it goes on."""

from __future__ import annotations

from dataclasses import replace

from wearplan.site.records import Site, Stops, Window

from .terms import Terms, missing_row

HERE = "where it stands"
NOT_PLANNED = "What to change where the drive stands is not planned: "
"""How each reason for that begins."""


def going_on(terms: Terms) -> Terms:
    """The terms of a stop where the machine stands: only the way out is still to be paid; going on means a new stop."""
    return replace(terms, before=(), window=replace(terms.window, fixed_cost=0.0), look_hours=0.0)


def window_here(site: Site, stops: Stops, face_m: float) -> Window | str:
    """The stop where the drive stands outside all usable windows, as its record tells it, or why it cannot be planned.

    A late tool stops the drive anywhere, in a keep-out too; what else to change there is still to be chosen. That a
    pressure is on record approves nothing: it goes without a source.
    """
    near = [i for i in site.inspections if abs(i.driven_m - face_m) <= 0.5 * site.drive.ring_length_m]
    if not near:
        return f"{NOT_PLANNED}no stop is on record at the face. Log it with its readings first."
    record = max(near, key=lambda i: i.driven_m)
    pressed = record.mode == "compressed air"
    if pressed and record.pressure_bar is None:
        return f"{NOT_PLANNED}the record of the stop at the face gives no pressure. Put it in with a correction."
    window = Window(
        name=HERE, kind="stop on record", from_m=face_m, to_m=face_m, from_chainage_m=record.chainage_m,
        to_chainage_m=record.chainage_m, mode=record.mode, setup_hours=0.0,
        pressure_bar=record.pressure_bar or 0.0,
    )  # fmt: skip
    why = missing_row(stops.entry_rows, window)
    return window if why is None else f"{NOT_PLANNED}the stop {why}."
