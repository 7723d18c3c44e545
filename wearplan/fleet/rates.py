"""Every drive's rates with the fleet's help, the pull on each, and what a next drive may expect."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp

import numpy as np

from wearplan.fleet.classes import Key, Matched, Unit, match
from wearplan.fleet.pool import Mixture, Own, Pooled, pool
from wearplan.fleet.records import Belief, Line, UnitRates

Band = tuple[float, float, float]
"""5 %, 50 % and 95 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PooledRate:
    """One unit of one drive, mm per km of a face tool."""

    kind: str
    drive: str
    unit: str
    class_name: str
    matched: str
    """How it came to its class."""
    alone: Band
    """By the drive's own fit."""
    pooled: Band
    pull: float
    """Share of the pooled rate that comes from the other drives."""
    readings: int
    drives: int
    """Drives with readings in the class."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NextRate:
    """What a next drive may expect of a class before its first reading."""

    kind: str
    class_name: str
    mm_per_km: float
    factor: float
    """Up and down, for about two thirds of the doubt: the spread between drives with its own doubt."""
    band: Band
    drives: tuple[str, ...]
    """Those whose readings it rests on."""
    members: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """How far drives lie apart, as the sd of the log rate."""

    kind: str
    middle: float
    p05: float
    p95: float
    drives: int


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetRates:
    """The pooled answer."""

    rates: tuple[PooledRate, ...]
    following: tuple[NextRate, ...]
    spreads: tuple[Spread, ...]
    remarks: tuple[str, ...]


def fleet_rates(lines: Sequence[Line], mapping: Mapping[str, Sequence[Key]] | None = None) -> FleetRates:
    """Pool what the drives learnt, kind by kind.

    Parameters
    ----------
    lines : sequence of Line
        Those without rates are left out.
    mapping : mapping, optional
        Classes the user confirmed; see `wearplan.fleet.classes.read_mapping`.
    """
    drives = [(name, line.rates) for name, line in zip(drive_names(lines), lines, strict=True) if line.rates]
    matched = match(_units(drives), mapping)
    kinds = list(dict.fromkeys(each.kind for _, rates in drives for each in rates))
    rates: list[PooledRate] = []
    following: list[NextRate] = []
    spreads: list[Spread] = []
    for kind in kinds:
        having = [(name, each) for name, rates_ in drives for each in rates_ if each.kind == kind]
        owns = [_own(name, each, matched) for name, each in having]
        found = pool(owns, len(matched.names))
        rates += _pooled(kind, having, found, matched)
        following += _following(kind, having, found, matched)
        seen = sum(any(each.readings) for _, each in having)
        tau = found.spread
        spreads.append(
            Spread(kind=kind, middle=tau.quantile(0.5), p05=tau.quantile(0.05), p95=tau.quantile(0.95), drives=seen)
        )
    return FleetRates(rates=tuple(rates), following=tuple(following), spreads=tuple(spreads), remarks=matched.remarks)


def beliefs_of(
    lines: Sequence[Line], mapping: Mapping[str, Sequence[Key]] | None = None
) -> tuple[tuple[Belief, ...], ...]:
    """For each line what it may believe of its units before its own readings count: what the others learnt.

    A drive's own readings are left out of its belief, so that they do not count twice when it is fitted with it. A unit
    that no other drive has readings of keeps what its site says.
    """
    names = drive_names(lines)
    drives = [(name, line.rates) for name, line in zip(names, lines, strict=True) if line.rates]
    matched = match(_units(drives), mapping)
    out = []
    for name, line in zip(names, lines, strict=True):
        beliefs: list[Belief] = []
        for own in line.rates:
            having = [(other, each) for other, rates in drives for each in rates if each.kind == own.kind]
            owns = [_own(other, each, matched) for other, each in having]
            mine = next(k for k, (other, _) in enumerate(having) if other == name)
            owns[mine] = replace(owns[mine], precision=np.zeros_like(owns[mine].precision))
            found = pool(owns, len(matched.names)).by_drive[mine]
            for code, mixture in zip(own.units, found, strict=True):
                if set(_with_readings(having, matched.of[name, code], matched)) - {name}:
                    beliefs.append(Belief(own.kind, code, exp(mixture.mean), exp(mixture.sd)))
        out.append(tuple(beliefs))
    return tuple(out)


def drive_names(lines: Sequence[Line]) -> list[str]:
    """A name for each drive: the site's, or its folder's too where two sites bear one name."""
    names = [line.name for line in lines]
    return [f"{line.name} ({line.folder})" if names.count(line.name) > 1 else line.name for line in lines]


def _units(drives: Sequence[tuple[str, tuple[UnitRates, ...]]]) -> list[Unit]:
    found: dict[Key, Unit] = {}
    for name, rates in drives:
        for each in rates:
            for code, words, tests in zip(each.units, each.names, each.tests, strict=True):
                found.setdefault((name, code), Unit(name, code, words, tests))
    return list(found.values())


def _own(name: str, each: UnitRates, matched: Matched) -> Own:
    classes = tuple(matched.of[name, code] for code in each.units)
    precision = np.array(each.precision, float).reshape(len(classes), len(classes))
    return Own(drive=name, classes=classes, mean=np.array(each.mean), precision=precision)


def _band(mixture: Mixture) -> Band:
    return exp(mixture.quantile(0.05)), exp(mixture.quantile(0.5)), exp(mixture.quantile(0.95))


def _with_readings(having: Sequence[tuple[str, UnitRates]], number: int, matched: Matched) -> list[str]:
    """The drives whose own readings speak of a class."""
    return [
        name
        for name, each in having
        if any(
            count and matched.of[name, code] == number for code, count in zip(each.units, each.readings, strict=True)
        )
    ]


def _pooled(kind: str, having: Sequence[tuple[str, UnitRates]], found: Pooled, matched: Matched) -> list[PooledRate]:
    out = []
    for d, (name, each) in enumerate(having):
        for u, code in enumerate(each.units):
            number = matched.of[name, code]
            out.append(
                PooledRate(
                    kind=kind,
                    drive=name,
                    unit=code,
                    class_name=matched.names[number],
                    matched=matched.why[name, code],
                    alone=each.alone[u],
                    pooled=_band(found.by_drive[d][u]),
                    pull=found.pull[d][u],
                    readings=each.readings[u],
                    drives=len(_with_readings(having, number, matched)),
                )
            )
    return out


def _following(kind: str, having: Sequence[tuple[str, UnitRates]], found: Pooled, matched: Matched) -> list[NextRate]:
    out = []
    for number, name in enumerate(matched.names):
        drives = _with_readings(having, number, matched)
        if not drives:
            continue
        ahead = found.following[number]
        out.append(
            NextRate(
                kind=kind,
                class_name=name,
                mm_per_km=exp(ahead.quantile(0.5)),
                factor=exp(ahead.sd),
                band=_band(ahead),
                drives=tuple(drives),
                members=tuple(f"{drive}: {code}" for drive, code in matched.members(number)),
            )
        )
    return out
