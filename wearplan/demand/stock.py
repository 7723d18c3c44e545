"""What comes in by itself, and which of the tools fitted are rebuilt ones."""

from __future__ import annotations

import numpy as np


def rebuilt_fitted(use: np.ndarray, coming: np.ndarray) -> np.ndarray:
    """(D, H) rebuilt tools among those fitted each day.

    Parameters
    ----------
    use, coming : (D, H) int
        Tools taken from the store, and rebuilt ones coming back.

    Notes
    -----
    Rebuilt tools are fitted first, since they are the cheaper ones: what is still on the shelf of them is a walk
    reflected at nothing. A tool missing is counted, not invented: its worn predecessor still goes to the works.
    """
    net = np.cumsum(coming - use, axis=1)
    left = net - np.minimum.accumulate(np.minimum(net, 0), axis=1)
    before = np.concatenate([np.zeros((len(left), 1), dtype=left.dtype), left[:, :-1]], axis=1)
    return np.asarray(before + coming - left)


def sound_cores(removed: np.ndarray, share: float, rng: np.random.Generator) -> np.ndarray:
    """(D, H) of the sound worn tools that come off each day, those a works can rebuild.

    Each worn tool of a draw has its own number, so that one more or fewer does not change what becomes of the others.
    """
    if share <= 0 or not removed.any():
        return np.zeros_like(removed)
    count = np.cumsum(removed, axis=1)
    good = rng.random((len(removed), int(count[:, -1].max()))) < share
    upto = np.concatenate([np.zeros((len(good), 1), dtype=np.int64), np.cumsum(good, axis=1)], axis=1)
    return np.diff(np.take_along_axis(upto, count, axis=1), axis=1, prepend=0)


def arrival_day(*, due_day: float, due_doubt_days: float, draws: int, rng: np.random.Generator) -> np.ndarray:
    """(D,) day on which one order comes in: due on a day, give or take a standard deviation.

    It is still on the way today, so of the doubt in its date only the part from today on is left: a normal
    distribution cut off there. One overdue may take as long again: its doubt is taken as no less than half the
    days it is overdue.
    """
    due_doubt_days = max(due_doubt_days, -0.5 * due_day)
    if due_doubt_days > 0:
        from scipy.special import ndtr, ndtri

        passed = ndtr((-0.5 - due_day) / due_doubt_days)
        late = ndtri(np.clip(passed + (1 - passed) * rng.random(draws), 1e-12, 1 - 1e-12))
        day = due_day + due_doubt_days * late
    else:
        day = np.full(draws, float(due_day))
    return np.asarray(np.clip(np.rint(day), 0, None), dtype=int)


def works_returns(
    *, in_rebuild: int, rebuild_days: float | None, draws: int, days: int, rng: np.random.Generator
) -> np.ndarray:
    """(D, H) tools now at the works coming back; each at a day of the coming turnround, which is all that is known."""
    out = np.zeros((draws, days), dtype=np.int64)
    if not in_rebuild:
        return out
    span = max(1, round(rebuild_days or 1))
    day = 1 + np.floor(rng.random((in_rebuild, draws)).T * span).astype(int)
    rows = np.repeat(np.arange(draws), in_rebuild)
    flat = day.ravel()
    inside = flat < days
    np.add.at(out, (rows[inside], flat[inside]), 1)
    return out
