"""Tools as they are followed from record to record, before their lives are closed."""

from __future__ import annotations

from dataclasses import dataclass, field

from wearplan.site.records import NOWHERE, TROUBLE, Measurement, Origin


@dataclass(slots=True)
class Sighting:
    """A tool seen at a place: measured or not, or a word of its sensor."""

    driven_m: float
    position: int
    ring: int | None
    inspection_id: str | None = None
    wear_mm: float | None = None
    worst_mm: float | None = None
    below_mm: float | None = None
    above_mm: float | None = None
    points: int = 1
    method: str | None = None
    condition: str | None = None
    source: str = "inspection"
    origin: Origin = NOWHERE

    @property
    def read(self) -> bool:
        return self.wear_mm is not None or self.below_mm is not None or self.above_mm is not None

    @classmethod
    def of(cls, measurement: Measurement, *, driven_m: float, ring: int, inspection_id: str) -> Sighting:
        return cls(
            driven_m=driven_m, position=measurement.position, ring=ring, inspection_id=inspection_id,
            wear_mm=measurement.mean_mm, worst_mm=measurement.worst_mm, below_mm=measurement.wear_below_mm,
            above_mm=measurement.wear_above_mm, points=max(1, len(measurement.points_mm)),
            method=measurement.method, condition=measurement.condition, origin=measurement.origin,
        )  # fmt: skip


@dataclass(slots=True, eq=False)
class Tool:
    """A life being written."""

    id: str
    tool_type: str
    serial: str | None = None
    start_wear_mm: float = 0.0
    start_sd_mm: float = 0.0
    rebuilds: int = 0
    stints: list[tuple[int, float, float | None]] = field(default_factory=list)
    sightings: list[Sighting] = field(default_factory=list)
    reported_mm: float = 0.0
    """The highest wear its sensor has reported."""
    ended: str | None = None
    ended_m: float | None = None
    old_to: str | None = None
    unknown_from_m: float | None = None
    identity_lost: bool = False
    """A record of what was fitted is damaged: it may not be this tool any more."""
    hub_before: Tool | None = None
    """The earlier ring on the same hub."""
    other_edge: Tool | None = None
    """The edge worn before the tool was turned."""
    fitted_by: Origin | None = None
    damage_m: float | None = None
    damage: str | None = None
    """Taken off for damage without a trouble condition on record."""
    notes: list[str] = field(default_factory=list)

    def put(self, position: int, driven_m: float) -> None:
        self.stints.append((position, driven_m, None))
        self.ended = self.ended_m = self.old_to = None

    def take(self, driven_m: float) -> None:
        position, from_m, _ = self.stints[-1]
        self.stints[-1] = (position, from_m, driven_m)

    def end(self, driven_m: float, why: str, old_to: str | None = None) -> None:
        if self.stints[-1][2] is None:
            self.take(driven_m)
        self.ended, self.ended_m, self.old_to = why, driven_m, old_to

    def cut_short(self, why: str) -> None:
        """End it where its state was last known: nothing after that is surely its own."""
        at = self.unknown_from_m
        if at is None:
            at = self.last_seen_m
        position, from_m, _ = self.stints[-1]
        self.end(max(at, from_m), why)
        self.stints[-1] = (position, from_m, max(at, from_m))

    @property
    def last_seen_m(self) -> float:
        return max((s.driven_m for s in self.sightings), default=self.stints[0][1])

    @property
    def worst_read_mm(self) -> float:
        """The most wear its records speak of."""
        said = (w for s in self.sightings for w in (s.worst_mm, s.wear_mm, s.above_mm) if w is not None)
        return max(said, default=self.start_wear_mm)

    @property
    def in_trouble(self) -> bool:
        return any(sighting.condition in TROUBLE for sighting in self.sightings)
