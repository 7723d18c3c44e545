"""The shelf, day by day, in every draw."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True, kw_only=True)
class Shelf:
    """Draws of one tool type's stock, all (D, H) by draw and day."""

    level: np.ndarray
    """Tools on the shelf at the end of the day if nothing more is ordered; negative is missing."""
    used_rebuilt: np.ndarray
    used_new: np.ndarray
    rebuilt: np.ndarray
    """Rebuilt tools coming back that day."""

    @property
    def missing(self) -> np.ndarray:
        """(D, H) the most tools that were missing on any day up to this one."""
        return np.maximum.accumulate(np.maximum(-self.level, 0), axis=1)


def play_shelf(
    *,
    use: np.ndarray,
    rebuildable: np.ndarray,
    on_hand: int,
    arrivals: np.ndarray,
    returns: np.ndarray,
    rebuildable_share: float,
    rebuild_days: float | None,
    rng: np.random.Generator,
) -> Shelf:
    """Play one type's stock without further orders.

    Parameters
    ----------
    use : (D, H) int
        Tools taken from the store on each day.
    rebuildable : (D, H) int
        Of the tools that came off that day, those not damaged beyond rebuilding.
    on_hand : int
    arrivals, returns : (D, H) int
        New tools from orders on the way, and rebuilt ones now at the works.
    rebuildable_share : float
        Share of the sound worn tools that come back as rebuilt.
    rebuild_days : float or None
        Days at the works; None where the type is not rebuilt.
    rng : numpy.random.Generator

    Notes
    -----
    Rebuilt tools are fitted first, since they are the cheaper ones. A tool missing is counted, not invented: it is
    taken as fitted (bought in a hurry), so its worn predecessor still goes to the works.
    """
    draws, days = use.shape
    coming = returns.astype(np.int64).copy()
    if rebuild_days is not None and rebuildable_share > 0 and rebuildable.any():
        delay = max(1, round(rebuild_days))
        back = rng.binomial(rebuildable, rebuildable_share)
        if delay < days:
            coming[:, delay:] += back[:, : days - delay]
    level = on_hand + np.cumsum(arrivals + coming - use, axis=1)
    # Rebuilt tools used up to a day are limited by those that have come; fitting them first makes the
    # number still on the shelf a reflected walk.
    net = np.cumsum(coming - use, axis=1)
    lowest = np.minimum.accumulate(np.minimum(net, 0), axis=1)
    left = net - lowest
    before = np.concatenate([np.zeros((draws, 1), dtype=left.dtype), left[:, :-1]], axis=1)
    used_rebuilt = before + coming - left
    return Shelf(level=level, used_rebuilt=used_rebuilt, used_new=use - used_rebuilt, rebuilt=coming)


def arrival_days(
    *, quantity: int, due_day: float, due_doubt_days: float, draws: int, days: int, rng: np.random.Generator
) -> np.ndarray:
    """(D, H) arrivals of one order: due on a day, give or take a standard deviation.

    It is still on the way today, so of the doubt in its date only the part from today on is left: a normal
    distribution cut off there. One due in the past without any doubt counts as coming today.
    """
    out = np.zeros((draws, days), dtype=np.int64)
    if due_doubt_days > 0:
        from scipy.special import ndtr, ndtri

        passed = ndtr((-0.5 - due_day) / due_doubt_days)
        late = ndtri(np.clip(passed + (1 - passed) * rng.random(draws), 1e-12, 1 - 1e-12))
        day = due_day + due_doubt_days * late
    else:
        day = np.full(draws, float(due_day))
    day = np.clip(np.rint(day), 0, None).astype(int)
    inside = day < days
    out[np.flatnonzero(inside), day[inside]] = quantity
    return out


def works_returns(
    *, in_rebuild: int, rebuild_days: float | None, draws: int, days: int, rng: np.random.Generator
) -> np.ndarray:
    """(D, H) tools now at the works coming back; each at a day of the coming turnround, which is all that is known."""
    out = np.zeros((draws, days), dtype=np.int64)
    if not in_rebuild:
        return out
    span = max(1, round(rebuild_days or 1))
    day = rng.integers(1, span + 1, size=(draws, in_rebuild))
    rows = np.repeat(np.arange(draws), in_rebuild)
    flat = day.ravel()
    inside = flat < days
    np.add.at(out, (rows[inside], flat[inside]), 1)
    return out
