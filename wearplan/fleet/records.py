"""What the fleet says of each of its sites, in values that can be written as JSON and read back to the digit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

STATES = ("answered", "no plan", "faults", "away", "failed", "stopped")
"""``answered``; ``no plan``: none keeps the rules; ``faults``: they forbid an answer; ``away``: the folder cannot be
read; ``failed``: a fault of our own or a worker that died; ``stopped`` before it was worked out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitRates:
    """What one drive's own readings say of the rates of one kind of tool."""

    kind: str
    units: tuple[str, ...]
    names: tuple[str, ...]
    tests: tuple[Mapping[str, float], ...]
    """By unit its abrasivity tests, by key of the ground file."""
    mean: tuple[float, ...]
    """Log of mm per km by the readings alone; see `wearplan.fleet.own`."""
    precision: tuple[tuple[float, ...], ...]
    alone: tuple[tuple[float, float, float], ...]
    """5 %, 50 % and 95 % of the drive's own rate, mm per km."""
    readings: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeSeen:
    """What one drive's own readings say of a type of tool against another at the same place."""

    kind: str
    tool_type: str
    reference: str
    sizes: tuple[float | None, ...]
    """Diameter and wear limit of the type, then of the reference, mm: types of one code that differ in these are not
    one type."""
    mean: float
    """Log of wear of the type by wear of the reference, the belief before any reading taken out."""
    precision: float
    tools: int
    reference_tools: int


@dataclass(frozen=True, slots=True, kw_only=True)
class BatchSeen:
    """A batch with a label that wears unlike its fellows on one drive."""

    kind: str
    label: str
    p05: float
    p50: float
    p95: float
    tools: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One site of the fleet."""

    folder: str
    name: str
    state: str
    why: str = ""
    """What stands in the way, where the state is not ``answered``."""
    invented: bool = False
    currency: str = ""
    inputs_sha256: str = ""
    logged: str | None = None
    """The last day on record, as ISO."""
    face_chainage_m: float | None = None
    left_m: float | None = None
    pace_m_per_day: float | None = None
    """Metres a calendar day over the four weeks to the last day on record."""
    next_chainage_m: float | None = None
    next_window: str | None = None
    next_mode: str | None = None
    next_on: str | None = None
    """Expected date of the next stop, as ISO."""
    tools_due: int | None = None
    """Tools changed at the next stop."""
    past_limit: tuple[int, ...] = ()
    """Places whose tool is more likely than not past its limit now."""
    stops: int | None = None
    entries: int | None = None
    """Entries under pressure ahead, by the plan."""
    person_hours: float | None = None
    expected_cost: float | None = None
    headline: str = ""
    orders: tuple[tuple[str, str, int, str, str], ...] = ()
    """What the store is to do in the week from the day asked for: what, type, quantity, last day, and the sentence."""
    changed: str = ""
    """What came on record since the day asked for."""
    faults: int = 0
    forbidding: tuple[str, ...] = ()
    """Answers that faults forbid."""
    remarks: tuple[str, ...] = ()
    serials: tuple[str, ...] = ()
    """On the wheel now."""
    inspections: tuple[str, ...] = ()
    """Ids of its records of stops."""
    use: str = ""
    """The tools used on the draws, packed, where a store over the drives was asked for; see `wearplan.fleet.packed`."""
    types: tuple[TypeSeen, ...] = ()
    batches: tuple[BatchSeen, ...] = ()
    rates: tuple[UnitRates, ...] = ()

    def body(self) -> dict[str, Any]:
        """As JSON holds it."""
        return asdict(self)

    @classmethod
    def of(cls, body: Mapping[str, Any]) -> Line:
        """Back from JSON; `ValueError` or `TypeError` where it is not one of ours."""
        kinds = {"rates": UnitRates, "types": TypeSeen, "batches": BatchSeen}
        plain = {name: _tuples(value) for name, value in body.items() if name not in kinds}
        made: dict[str, Any] = {
            name: tuple(kind(**{key: _tuples(value) for key, value in each.items()}) for each in body[name])
            for name, kind in kinds.items()
        }
        return cls(**plain, **made)


def _tuples(value: Any) -> Any:
    return tuple(_tuples(each) for each in value) if isinstance(value, list | tuple) else value


@dataclass(frozen=True, slots=True)
class Belief:
    """What a drive may believe of one unit before its own readings count, from what others learnt."""

    kind: str
    unit: str
    mm_per_km: float
    factor: float
    """Covers about two thirds of the doubt, up and down."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What is asked of every site; with the folder's bytes it names a kept answer."""

    day: date
    since: date
    plan: bool = True
    """False: only what is learnt of rates."""
    use: bool = False
    """Whether the use of tools comes back too, for a store over the drives."""
    beliefs: tuple[Belief, ...] = ()
    """Of this one site; they take the place of its ground file's ``expected_rate`` of the same kind and unit."""
    draws: int = 400

    def __post_init__(self) -> None:
        if self.since > self.day:
            raise ValueError(f"changes since {self.since} cannot be told on {self.day}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Fleet:
    """Every site's line in the order asked for, and how they came about."""

    asked: Asked
    lines: tuple[Line, ...]
    kept: int = 0
    """Lines taken from an earlier run of the same inputs."""
    first: tuple[str, ...] = field(default=())
    """What needs a person first, the most pressing on top."""
    remarks: tuple[str, ...] = ()
