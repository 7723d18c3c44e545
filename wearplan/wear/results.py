"""What the regression tells: rates, factors, damage, flags, and the fit they come from."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from .quantiles import Quantiles

if TYPE_CHECKING:
    from wearplan.history import Life
    from wearplan.site.records import Site
    from wearplan.wear.evidence.damage import Damage
    from wearplan.wear.regression.ground_effect import GroundEffect
    from wearplan.wear.regression.kind import KindFit


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """What a unit costs a face tool of one kind.

    ``mm_per_1000_m3`` holds at the fit's reference radius and penetration; ``m3_per_tool`` and ``tools_per_1000_m3``
    for all tools of the kind on the wheel together, abrasion alone, each used to its limit.
    """

    kind: str
    unit: str
    mm_per_km: Quantiles
    mm_per_1000_m3: Quantiles
    m3_per_tool: Quantiles
    tools_per_1000_m3: Quantiles
    path_km: float
    """Path that lives with a reading travelled in the unit, up to their last sound one."""
    volume_m3: float
    readings: int
    """Sound readings of lives that had met the unit."""
    basis: str
    """What the rate rests on: readings, the relation between units of this drive, expectation, a published relation."""
    confounded_with: tuple[str, ...] = ()
    """Units so often met together with this one that the readings hardly tell them apart."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ZoneFactor:
    """Wear per km against a face tool of the kind."""

    kind: str
    zone: str
    factor: Quantiles
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FurtherFactor:
    """A ring column that was tried: log rate changes by ``coefficient`` for one step of it."""

    kind: str
    column: str
    entered: bool
    gain_per_reading: float
    """Out-of-sample gain in log score for each reading; it enters above a threshold."""
    coefficient: Quantiles | None
    step: str
    """What one step is, in words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaceByLevel:
    """Whether the wear of a kind slows or quickens as it nears its limit."""

    kind: str
    entered: bool
    pace_at_limit: Quantiles | None
    """Pace at the limit by that of a new tool; None where wear is taken to go at one pace."""
    pace_at_half: Quantiles | None
    """The same at half the limit."""
    gain: float
    """Log score of lives left out, against one pace; 0 where nothing spoke for a curve."""
    evidence: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DamageRate:
    """Chipped, lost, seized and the like: events per 1,000 km of path."""

    kind: str
    unit: str
    zone: str
    per_1000_km: Quantiles
    events: float
    """May be a fraction: an event found after a stretch in two units is shared between them."""
    exposure_km: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LayeredDamage:
    """Damage of tools that strike from one layer into another, by a million such turns, beside what the units cost."""

    kind: str
    zone: str
    per_million_turns: Quantiles
    events: float
    exposure_turns: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """A reading that was given less weight, and why."""

    inspection_id: str
    position: int
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeComparison:
    """One type of tool against the type of its kind with most readings."""

    kind: str
    tool_type: str
    reference: str
    wear_times: Quantiles | None
    """Wear of the type by wear of the reference at the same place; None where they never shared a zone."""
    cost_times: Quantiles | None
    """Cost of a metre, price less core by life; None where a price is missing."""
    tools: int
    """Lives with a reading."""
    reference_tools: int
    gain: float
    """Log evidence against no difference."""
    named: bool
    more_tools: int | None
    """Tools more to know the ratio within a tenth (nine times in ten)."""
    trial: tuple[int, ...]
    """Places for a fair trial: the type there, the reference beside it, zone and ground shared."""
    only_in: str
    """Zones in which alone it stood, where the reference never did; else empty."""
    makes: tuple[str, str] | None = None
    """Makers of the type and of the reference as the wheel's record says, where it says both."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchFound:
    """Tools of one kind that were made or fitted together, and how they wear against their fellows."""

    kind: str
    label: str | None
    """As the records say; None: found without a label."""
    since_m: float
    """Driven metres at which the first of them was fitted."""
    since_id: str | None
    wear_times: Quantiles
    tools: int
    """Lives of it, or likelier of it than not."""
    share: float
    """Of the tools of the kind fitted since."""
    gain: float
    named: bool
    in_place: tuple[tuple[int, str | None, float], ...]
    """(place, serial, chance of being one) of the tools on the wheel."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """What a stretch of the drive wears tools by against its units' rates, all kinds together."""

    from_m: float
    to_m: float
    """Driven metres."""
    from_chainage_m: float
    to_chainage_m: float
    times: Quantiles
    odds: float
    """Standard deviations from the mean of the units."""
    named: bool
    """Whether it is so far from its units, and known so well, that it is spoken of."""


@dataclass(frozen=True, kw_only=True)
class Fit:
    """Everything learnt from a site; `wearplan.wear.look_ahead` draws from it."""

    site: Site = field(repr=False)
    units: tuple[str, ...]
    kinds: tuple[str, ...]
    rates: tuple[Rate, ...]
    zones: tuple[ZoneFactor, ...]
    damage: tuple[DamageRate, ...]
    flagged: tuple[Flag, ...]
    remarks: tuple[str, ...]
    """Where the drive departs from the model, and other words of caution."""
    factors: tuple[FurtherFactor, ...] = ()
    pace: tuple[PaceByLevel, ...] = ()
    """By kind whose wear by its level was looked into."""
    stretches: tuple[Stretch, ...] = ()
    """In the order of the drive; empty where too little is driven to tell stretches apart."""
    types: tuple[TypeComparison, ...] = ()
    batches: tuple[BatchFound, ...] = ()
    layered_damage: tuple[LayeredDamage, ...] = ()
    """Where the drive has layered faces."""
    reference_radius_mm: float
    reference_penetration_mm: float
    lives: tuple[Life, ...] = field(repr=False)
    by_kind: dict[str, KindFit] = field(repr=False)
    damage_by_kind: dict[str, Damage] = field(repr=False)
    exposure: Any = field(repr=False)
    face_m: float
    ground: GroundEffect | None = field(default=None, repr=False)
    """What stretches of the drive wear tools by against their units; None where too little is driven to tell."""

    def rate(self, kind: str, unit: str) -> Rate:
        """The rate of a kind in a unit; `KeyError` where there is none."""
        for rate in self.rates:
            if (rate.kind, rate.unit) == (kind, unit):
                return rate
        raise KeyError((kind, unit))
