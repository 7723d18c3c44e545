"""Draws of the wear ahead: of the tools in place, and of tools to be fitted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .chance import known_over_probability
from .tools import Ahead

Floats = NDArray[np.float64]


def wear_draws(ahead: Ahead, edge: int, *, from_m: float | None, to_m: float, seed: int) -> Floats:
    """(D,) wear of one edge at ``to_m``, of the tool in place (``from_m`` None) or a new one fitted at ``from_m``."""
    out, read = ahead.outlook, ahead.as_read
    if from_m is None and hasattr(read, "wear_at"):
        if to_m not in ahead.worn_mm:
            ahead.worn_mm[to_m] = read.wear_at(to_m)
        return np.asarray(ahead.worn_mm[to_m][:, edge], float)
    rng = np.random.default_rng([seed, edge, int(10 * to_m)])
    step = np.maximum(np.asarray(out.step_mm[:, edge], float), 1e-4)
    potential = np.asarray(out.potential_mm[:, edge], float)
    start = ahead.face_m if from_m is None else from_m
    reached = ahead.at(potential, np.array([start, to_m]))
    mean = np.maximum(reached[:, 1] - reached[:, 0], 0.0)
    if from_m is None:
        factor = np.asarray(out.life_factor[:, edge], float)
        now = np.asarray(out.wear_now_mm[:, edge], float)
    else:
        shape = 1.0 / np.maximum(np.asarray(out.life_sd[:, edge], float), 1e-3) ** 2
        factor, now = rng.gamma(shape) / shape, np.zeros(len(mean))
    return ahead.worn(edge, np.asarray(now + step * rng.gamma(np.maximum(mean * factor / step, 1e-9))))


def in_place_over(ahead: Ahead, driven_m: float, *, damage: bool) -> Floats:
    """(D, places) chance in each draw that the tool in place, if left, is past its limit (or damage limit) there."""
    out = ahead.outlook
    mean = ahead.at(np.asarray(out.potential_mm), np.array([driven_m]))[..., 0].astype(float)
    limit = ahead.damage_limit_mm if damage else ahead.limit_mm
    edge = known_over_probability(
        wear_mm=np.asarray(out.wear_now_mm, float),
        mean_mm=mean,
        life_factor=np.asarray(out.life_factor, float),
        step_mm=np.asarray(out.step_mm, float),
        limit_mm=limit,
    )
    sound = np.stack([np.prod(1.0 - edge[:, list(t.edges)], axis=1) for t in ahead.tools], axis=1)
    return 1.0 - sound


def any_over(by_draw: Floats, picks: NDArray[np.bool_] | None = None) -> float:
    """Chance that at least one of the places is over, from (D, places); within a draw the places are independent."""
    chosen = by_draw if picks is None else by_draw[:, picks]
    return float((1.0 - np.prod(1.0 - chosen, axis=1)).mean()) if chosen.shape[1] else 0.0
