"""The water head of the ground file beside the pressures of the windows: only ever a question, never a pressure."""

from __future__ import annotations

from dataclasses import dataclass

from wearplan.site.records import Section, Site, Window

from .sections import section_at

BAR_PER_M = 0.0981
"""Fresh water at rest, plain hydrostatics (1000 kg/m3, 9.81 m/s2)."""
APART_BAR = 0.3
"""What is taken for a little: a head is seldom known better than to 3 m. Our own choice, no published source."""


def head_bar(section: Section) -> float | None:
    """Gauge pressure at the axis of a column of fresh water as high as the head; None where no head is given."""
    return None if section.water_head_m is None else BAR_PER_M * section.water_head_m


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """A window whose recorded pressure and the head there do not go together."""

    window: Window
    head_m: float
    head_bar: float

    @property
    def sentence(self) -> str:
        return (
            f"{self.window.name}: its pressure of {self.window.pressure_bar:.1f} bar gauge "
            f"({self.window.pressure_source}) and the water head of {self.head_m:g} m in the ground file, which stands "
            f"for about {self.head_bar:.1f} bar at the axis, are far apart. Ask whoever approved the pressure whether "
            "both still hold; this program chooses neither."
        )


def doubt(site: Site, window: Window) -> Doubt | None:
    """What has to be asked about a window of compressed air whose pressure has a source; None where nothing has.

    The head is the one in the middle of the window, of the newest ground.
    """
    ground = site.ground()
    if window.mode != "compressed air" or not window.pressure_source or ground is None or not ground.sections:
        return None
    section = section_at(ground, 0.5 * (window.from_m + window.to_m))
    bar = head_bar(section)
    if bar is None or section.water_head_m is None or abs(bar - window.pressure_bar) <= APART_BAR:
        return None
    return Doubt(window=window, head_m=section.water_head_m, head_bar=bar)


def doubts(site: Site) -> tuple[Doubt, ...]:
    """Of all windows, in the order of the drive."""
    found = [doubt(site, window) for window in (site.stops.windows if site.stops else ())]
    return tuple(each for each in found if each is not None)
