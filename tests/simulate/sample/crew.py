"""The crew of the sample: the plain crew with more than one gauge, papers in order, and no stop below the railway."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tests.simulate.crew import Crew
from tests.simulate.run import Run
from wearplan.site.records import Measurement, StructureReading

from .ahead import KEEP_OUTS, WINDOWS
from .machine import STRUCTURE

NOTES = {
    "chipped": "shoulder of the ring broken out",
    "flat": "did not turn by hand",
    "ring lost": "hub bare, housing sound",
    "tool lost": "bolts sheared",
    "seized": "bearing blocked",
}


class SampleCrew(Crew):
    """See the module's words."""

    def __init__(self, run: Run, rng: np.random.Generator):
        super().__init__(run, rng, closest_m=54.0, widest_m=126.0)

    def wants_to_stop(self) -> bool:
        below = any(a - 3.0 <= self.run.face_m <= b + 3.0 for a, b, _ in KEEP_OUTS)
        return super().wants_to_stop() and not below

    def _one(self, i: int, shared: float, step: float) -> Measurement:
        plain = super()._one(i, shared, step)
        kind = self.run.process.kinds[i]
        if self.inspections == 0:
            # the serials of the tools the drive began with are read at the first stop
            plain = replace(plain, serial=self.run.tools[i].serial)
        if plain.condition in NOTES and self.rng.random() < 0.6:
            plain = replace(plain, note=NOTES[plain.condition])
        if plain.wear_mm is None or plain.condition != "even":
            return plain
        if kind == "disc" and plain.wear_mm > 1.0 and self.rng.random() < 0.08:
            off = float(self.rng.choice([0.5, 1.0, 1.5]))
            mean = plain.wear_mm
            return replace(plain, wear_mm=None, points_mm=(max(0.0, mean - off), mean, mean + off))
        if kind != "disc" and self.inspections % 4 == 3:
            rough = float(self.run.state.wear_mm[i]) + float(self.rng.normal(0.0, 2.5))
            return replace(plain, wear_mm=max(0.0, round(rough / 5.0) * 5.0), method="by eye")
        return plain

    def air(self) -> tuple[str, float | None]:
        """Free air in shafts, blocks and mudstone, compressed air elsewhere."""
        here = self.run.face_m
        if any(a <= here <= b and mode == "free air" for _, _, a, b, mode, *_ in WINDOWS):
            return "free air", None
        if 1013.0 < here < 1236.0:
            return "free air", None
        return "compressed air", round(0.9 + 0.5 * min(here, 1500.0) / 1500.0, 1)

    def sample_stop(self, *, reach: float | None = None, retypes: dict[int, str] | None = None) -> None:
        """One stop with all its papers."""
        mode, bar = self.air()
        if reach is None and mode == "free air":
            reach = 1.0
        shift = ("day shift", "night shift")[self.inspections % 2]
        self.stop_here(
            reach=reach, mode=mode, pressure_bar=bar, retypes=retypes, measured_by=shift,
            entered_by="maintenance lead", checked_by="superintendent" if self.inspections % 3 else None,
        )  # fmt: skip
        last = self.run.inspections[-1]
        self.run.inspections[-1] = replace(
            last, parking_angle_deg=float(round(self.parked_deg, -1)) % 360.0, structure=self._structure()
        )

    def _structure(self) -> tuple[StructureReading, ...]:
        if self.inspections % 4 != 1:
            return ()
        here = self.run.face_m
        readings = []
        for point in STRUCTURE:
            lost = here * point.track_radius_mm / 4420.0 * (0.006 if point.code.startswith(("rim", "lip")) else 0.0025)
            value = point.thickness_new_mm - lost + float(self.rng.normal(0.0, 0.4))
            readings.append(StructureReading(point=point.code, thickness_mm=round(value * 2.0) / 2.0))
        return tuple(readings)

    def drive_sample(self, to_ring: int, *, last_stop_ring: int, retype_at: int, retypes: dict[int, str]) -> None:
        """Drive to the face; the last stop sees most of the wheel.

        From ring ``retype_at`` on the places in ``retypes`` get their other tool type when next changed.
        """
        left = dict(retypes)
        while self.run.ring < to_ring:
            self.run.drive_to(self.run.ring + 1)
            last = self.run.ring == last_stop_ring
            if last or (self.wants_to_stop() and self.run.ring < last_stop_ring - 30):
                self.sample_stop(reach=0.93 if last else None, retypes=left if self.run.ring >= retype_at else None)
                for fitting in self.run.inspections[-1].fittings:
                    if fitting.new_tool_type:
                        left.pop(fitting.position)
