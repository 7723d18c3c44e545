"""What a tool on any track has travelled, in which ground, between any two points of the drive.

Everything is kept as sums along the drive (by radius, and by unit at each section's start), so that an answer is a few
look-ups however long the stretch. Between the ends of a ring everything grows evenly.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wearplan.ground.sections import section_index, section_starts, unit_codes
from wearplan.ground.shares import path_shares, volume_shares
from wearplan.history.rings import Rings, clean_rings
from wearplan.site.records import Ground, Site
from wearplan.wheel import kinematics

Array = NDArray[np.float64]


class Exposure:
    """Path, turns and volume along a drive; made by `measure_exposure`.

    Stretches are clipped to what has been driven, ``[0, face]``; a stretch that ends before it begins is empty.
    """

    def __init__(self, *, bore_diameter_m: float, rings: Rings, ground: Ground | None, units: tuple[str, ...]) -> None:
        self.rings = rings
        self.ground = ground
        self.units = units
        self.bore_diameter_m = bore_diameter_m
        self.face_m = rings.face_m
        self._edges, self._ring_of = self._cells()
        self._starts = section_starts(ground) if ground is not None and ground.sections else np.zeros(1)
        width = np.diff(self._edges)
        ring = self._ring_of
        of_ring = width / np.maximum(rings.end_m - rings.start_m, 1e-12)[ring] if len(width) else width
        self._turns = rings.turns_boring[ring] * of_ring
        self._idle = rings.turns_idle[ring] * of_ring
        self._driven_starts = np.clip(self._starts, 0.0, self.face_m)
        if len(self._driven_starts):
            self._driven_starts[0] = 0.0
        self._volume_shares = self._by_section_volume()
        self._cum_turns = _cumulated(self._turns)
        self._cum_idle = _cumulated(self._idle)
        self._cum_imputed = _cumulated(self._turns * rings.imputed[ring])
        self._cum_doubt = _cumulated(self._turns * rings.turns_rel_sd[ring])
        self._radius_row: dict[float, int] = {}
        self._radii: list[float] = []
        self._shares = np.zeros((0, len(self._starts), len(units)))
        self._paths: dict[str, Array] = {}
        self._paths_by_unit: dict[str, Array] = {}

    def _cells(self) -> tuple[Array, NDArray[np.intp]]:
        """Edges at every ring's and every section's end; and the ring of each cell between them."""
        rings = self.rings
        if not len(rings):
            return np.zeros(1), np.zeros(0, dtype=np.intp)
        inner = section_starts(self.ground) if self.ground is not None else np.zeros(0)
        inner = inner[(inner > 0.0) & (inner < self.face_m)]
        edges = np.unique(np.concatenate([rings.start_m, rings.end_m, inner]))
        middle = (edges[1:] + edges[:-1]) / 2.0
        ring = np.minimum(np.searchsorted(rings.end_m, middle), len(rings) - 1)
        return edges, np.asarray(ring, dtype=np.intp)

    def _by_section_volume(self) -> Array:
        if self.ground is None or not self.ground.sections:
            return np.zeros((1, len(self.units)))
        half = self.bore_diameter_m / 2.0
        return np.array([volume_shares(s, bore_radius_m=half, units=self.units) for s in self.ground.sections])

    def _section(self, driven_m: Array) -> NDArray[np.intp]:
        if self.ground is None or not self.ground.sections:
            return np.zeros(driven_m.shape, dtype=np.intp)
        return section_index(self.ground, driven_m)

    # by radius

    def _rows(self, track_radius_mm: Array) -> NDArray[np.intp]:
        """Row of each radius in the tables, which grow as new radii are asked for."""
        unique, back = np.unique(track_radius_mm, return_inverse=True)
        new = [float(radius) for radius in unique if float(radius) not in self._radius_row]
        if new:
            for radius in new:
                self._radius_row[radius] = len(self._radii)
                self._radii.append(radius)
            sections = self.ground.sections if self.ground is not None else ()
            if sections:
                shares = np.stack([path_shares(s, track_radius_mm=new, units=self.units) for s in sections], axis=1)
            else:
                shares = np.zeros((len(new), 1, len(self.units)))
            self._shares = np.concatenate([self._shares, shares])
            self._paths.clear()
            self._paths_by_unit.clear()
        return np.array([self._radius_row[float(radius)] for radius in unique], dtype=np.intp)[back.ravel()]

    def _cell_weight(self, cuts: str) -> Array:
        return kinematics.cutting_share(self.rings.ccw_share, cuts)[self._ring_of]

    def _tables(self, cuts: str) -> tuple[Array, Array]:
        """Cumulated path in km by radius at every edge, and by radius and unit at every section's start."""
        if cuts not in self._paths:
            self._paths[cuts] = self._cum_path(self._cell_weight(cuts))
            self._paths_by_unit[cuts] = self._cum_by_unit(self._paths[cuts])
        return self._paths[cuts], self._paths_by_unit[cuts]

    def _cum_path(self, weight: Array) -> Array:
        penetration = self.rings.penetration_mm[self._ring_of]
        radii = np.array(self._radii)[:, None]
        path = kinematics.path_m(turns=self._turns * weight, track_radius_mm=radii, penetration_mm=penetration)
        return _cumulated(path / 1000.0)

    def _cum_by_unit(self, path: Array) -> Array:
        at_start = np.stack([np.interp(self._driven_starts, self._edges, row) for row in path])
        inside = np.diff(at_start, axis=1)[:, :, None] * self._shares[:, :-1]
        return np.concatenate([np.zeros((len(path), 1, len(self.units))), np.cumsum(inside, axis=1)], axis=1)

    def _until(self, row: NDArray[np.intp], driven_m: Array, tables: tuple[Array, Array]) -> Array:
        """Path by unit from the start of the drive, ``(R, U)``."""
        path, by_unit = tables
        section = self._section(driven_m)
        start = self._driven_starts[section]
        beyond = self._interpolate(path, row, driven_m) - self._interpolate(path, row, start)
        return np.asarray(by_unit[row, section] + beyond[:, None] * self._shares[row, section])

    def _interpolate(self, table: Array, row: NDArray[np.intp] | int, driven_m: Array) -> Array:
        if len(self._edges) < 2:
            return np.zeros(driven_m.shape)
        cell = np.clip(np.searchsorted(self._edges, driven_m, side="right") - 1, 0, len(self._edges) - 2)
        low, high = self._edges[cell], self._edges[cell + 1]
        part = (driven_m - low) / (high - low)
        return np.asarray(table[row, cell] * (1.0 - part) + table[row, cell + 1] * part)

    def _stretch(self, *arrays: ArrayLike) -> list[Array]:
        broad = np.broadcast_arrays(*[np.atleast_1d(np.asarray(array, float)) for array in arrays])
        from_m, to_m = np.clip(broad[-2], 0.0, self.face_m), np.clip(broad[-1], 0.0, self.face_m)
        return [*broad[:-2], from_m, np.maximum(from_m, to_m)]

    # answers

    def path_km(
        self, *, track_radius_mm: ArrayLike, from_m: ArrayLike = 0.0, to_m: ArrayLike = np.inf, cuts: str = "both"
    ) -> Array:
        """Path while boring, by unit.

        Parameters
        ----------
        track_radius_mm, from_m, to_m
            Numbers or arrays ``(R,)``, broadcast against one another.
        cuts
            ``cw`` or ``ccw`` for tools that cut one way only: the turns made the other way do not count.

        Returns
        -------
        ``(R, U)`` in km; nothing in sections that are not cut.
        """
        radius, start, end = self._stretch(track_radius_mm, from_m, to_m)
        row = self._rows(radius)
        tables = self._tables(cuts)
        return np.asarray(np.maximum(self._until(row, end, tables) - self._until(row, start, tables), 0.0))

    def weighted_path_km(
        self, weight: ArrayLike, *, track_radius_mm: ArrayLike, from_m: ArrayLike = 0.0, to_m: ArrayLike = np.inf,
        cuts: str = "both",
    ) -> Array:  # fmt: skip
        """As `path_km`, each ring's path multiplied by a weight of its own, ``(N,)`` over the rings.

        With a ring's thrust, penetration or the like as weight, the quotient by `path_km` is its mean over the path.
        """
        radius, start, end = self._stretch(track_radius_mm, from_m, to_m)
        row = self._rows(radius)
        path = self._cum_path(self._cell_weight(cuts) * np.asarray(weight, float)[self._ring_of])
        tables = path, self._cum_by_unit(path)
        return np.asarray(self._until(row, end, tables) - self._until(row, start, tables))

    def idle_km(self, *, track_radius_mm: ArrayLike, from_m: ArrayLike = 0.0, to_m: ArrayLike = np.inf) -> Array:
        """Path of idle turns, ``(R,)`` in km: without advance, in no unit."""
        radius, start, end = self._stretch(track_radius_mm, from_m, to_m)
        table = self._cum_idle[None]
        turns = self._interpolate(table, 0, end) - self._interpolate(table, 0, start)
        return np.asarray(kinematics.path_m(turns=turns, track_radius_mm=radius) / 1000.0)

    def turns(self, from_m: ArrayLike = 0.0, to_m: ArrayLike = np.inf, *, idle: bool = False) -> Array:
        """Turns of the wheel while boring (or idle), ``(R,)``."""
        start, end = self._stretch(from_m, to_m)
        table = (self._cum_idle if idle else self._cum_turns)[None]
        return self._interpolate(table, 0, end) - self._interpolate(table, 0, start)

    def advance_m(self, from_m: ArrayLike = 0.0, to_m: ArrayLike = np.inf) -> Array:
        """Metres driven by unit of volume cut, ``(R, U)``; rows sum to the metres driven where the face was cut."""
        start, end = self._stretch(from_m, to_m)
        return self._spread(self._edges, start, end)

    def volume_m3(self, from_m: ArrayLike = 0.0, to_m: ArrayLike = np.inf) -> Array:
        """Volume cut in the ground, by unit: ``(U,)`` for one stretch, ``(R, U)`` for arrays of stretches."""
        area = kinematics.face_area_m2(bore_diameter_m=self.bore_diameter_m)
        volume = area * self.advance_m(from_m, to_m)
        single = np.ndim(from_m) == 0 and np.ndim(to_m) == 0
        return np.asarray(volume[0] if single else volume)

    def imputed_share(self, from_m: ArrayLike = 0.0, to_m: ArrayLike = np.inf) -> Array:
        """Share of the boring turns that came from neighbouring rings, ``(R,)``; 0 for an empty stretch."""
        return self._part(self._cum_imputed, from_m, to_m)

    def path_rel_sd(self, from_m: ArrayLike = 0.0, to_m: ArrayLike = np.inf) -> Array:
        """Relative doubt (sd) of the path from imputed rings, ``(R,)``; their errors are taken to go together."""
        return self._part(self._cum_doubt, from_m, to_m)

    def _part(self, table: Array, from_m: ArrayLike, to_m: ArrayLike) -> Array:
        start, end = self._stretch(from_m, to_m)
        part = self._interpolate(table[None], 0, end) - self._interpolate(table[None], 0, start)
        turns = self._interpolate(self._cum_turns[None], 0, end) - self._interpolate(self._cum_turns[None], 0, start)
        return np.divide(part, turns, out=np.zeros_like(turns), where=turns > 1e-9)

    def _spread(self, table: Array, start: Array, end: Array) -> Array:
        """Growth of a table between two points, by unit of volume."""
        at_start = np.interp(self._driven_starts, self._edges, table)
        inside = np.diff(at_start)[:, None] * self._volume_shares[:-1]
        by_unit = np.concatenate([np.zeros((1, len(self.units))), np.cumsum(inside, axis=0)])

        def until(driven_m: Array) -> Array:
            section = self._section(driven_m)
            beyond = np.interp(driven_m, self._edges, table) - at_start[section]
            return np.asarray(by_unit[section] + beyond[:, None] * self._volume_shares[section])

        return np.asarray(np.maximum(until(end) - until(start), 0.0))


def _cumulated(values: Array) -> Array:
    """Running sums along the last axis, with 0 in front."""
    sums = np.zeros((*values.shape[:-1], values.shape[-1] + 1))
    np.cumsum(values, axis=-1, out=sums[..., 1:])
    return sums


def measure_exposure(
    site: Site, rings: Rings | None = None, ground: Ground | None = None, *, units: Sequence[str] | None = None
) -> Exposure:
    """Add up what was cut along the drive.

    Parameters
    ----------
    site
        For the wheel and the units.
    rings
        Mended rings; by default those of the site.
    ground
        The ground to reckon with; the newest by default. Without any, paths and volumes by unit are 0.
    units
        The U axis; all units of the site by default. To compare with another state of knowledge, give that one's.
    """
    ground = ground if ground is not None else site.ground()
    return Exposure(
        bore_diameter_m=site.wheel.bore_diameter_m,
        rings=rings if rings is not None else clean_rings(site, ground),
        ground=ground,
        units=tuple(units) if units is not None else unit_codes(site),
    )
