"""The cutterhead: what stands where, how far it travels, what is changed together, what the gauge leaves."""

from wearplan.wheel import kinematics
from wearplan.wheel.gauge import overcut_left_mm, reach_lost_mm
from wearplan.wheel.layout import Layout, layout_at, type_in_force
from wearplan.wheel.places import Place, neighbours, place_of, places

__all__ = [
    "Layout",
    "Place",
    "kinematics",
    "layout_at",
    "neighbours",
    "overcut_left_mm",
    "place_of",
    "places",
    "reach_lost_mm",
    "type_in_force",
]
