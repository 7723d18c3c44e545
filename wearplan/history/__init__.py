"""The past of the drive: rings mended, exposure measured, tools followed through their lives."""

from wearplan.history.asof import as_of
from wearplan.history.calendar import Calendar
from wearplan.history.exposure import Exposure, measure_exposure
from wearplan.history.gauging import allowed_fall_mm, gauging_of, reading_sd_mm
from wearplan.history.lives import current_lives, fitted_layout, in_order, last_seen, lives
from wearplan.history.mended import Mended
from wearplan.history.records import Life, Reading, Stint
from wearplan.history.rings import Rings, clean_rings, face_m
from wearplan.history.tell import Account, Chapter, Line, tell_life

__all__ = [
    "Account",
    "Calendar",
    "Chapter",
    "Exposure",
    "Life",
    "Line",
    "Mended",
    "Reading",
    "Rings",
    "Stint",
    "allowed_fall_mm",
    "as_of",
    "clean_rings",
    "current_lives",
    "face_m",
    "fitted_layout",
    "gauging_of",
    "in_order",
    "last_seen",
    "lives",
    "measure_exposure",
    "reading_sd_mm",
    "tell_life",
]
